"""Past weather, and what was forecast of it, from the service."""

from __future__ import annotations

from typing import TYPE_CHECKING

from alertd.core import SourceMalformed, as_utc
from alertd.weather import check_quality

from .access import ARCHIVE, PREVIOUS_RUNS, Access
from .document import Asked
from .models import ARCHIVE_MODELS, FORECAST_MODELS, model_of
from .parse import LEAD_DAYS, parse_forecast, parse_previous_runs
from .request import history_request
from .source import DEFAULT_MODEL, credits_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime

    from alertd.site import Site
    from alertd.sources.fetch import Fetcher
    from alertd.weather import Finding, Series

    #: Lead time [days] and values of each, and findings of all.
    PreviousRuns = tuple[tuple[tuple[int, Series], ...], tuple[Finding, ...]]


class OpenMeteoArchive:
    """Past weather by a reanalysis: one record of a span.

    Parameters
    ----------
    name : str
        Name of the source, as in the configuration.
    site : Site
        Where.
    fetcher : Fetcher
        Asks politely and keeps answers.
    base_url : str, optional
        Address in front of ``/v1/…``.
    model : str
        Which reanalysis.
    api_key : str, optional
        Secret key of a customer.
    non_commercial : bool
        Somebody's declaration that the use is non-commercial; the free address asks for it.

    Raises
    ------
    ValueError
        If the model's name is none.
    """

    def __init__(
        self,
        name: str,
        site: Site,
        fetcher: Fetcher,
        *,
        base_url: str | None = None,
        model: str = "best_match",
        api_key: str | None = None,
        non_commercial: bool = False,
    ) -> None:
        self.name = name
        self._site = site
        self._fetcher = fetcher
        self._model = model_of(model, ARCHIVE_MODELS)
        self._access = Access(base_url, api_key, non_commercial=non_commercial)
        self._asked = Asked(site.latitude, site.longitude, site.elevation, self._model.reach)

    @property
    def credits(self) -> str:
        """Attribution that must be shown beside the record."""
        return credits_of(self._model)

    def record(self, first: date, last: date, now: datetime) -> tuple[Series, tuple[Finding, ...]]:
        """Return past weather.

        Parameters
        ----------
        first, last : date
            Days in UTC, both included. Reanalyses end some days ago; the record ends where they do.
        now : datetime
            Aware.

        Returns
        -------
        tuple of (Series, tuple of Finding)
            shape (1, n_times), and what quality control found.

        Raises
        ------
        SourceUnavailable
            If the service cannot be reached, refuses, or its terms forbid to ask, and no answer is stored.
        SourceMalformed
            If the answer cannot be trusted and none that could be is stored.
        ValueError
            If the span ends before it begins or `now` is naive.
        """
        self._access.require_permission(ARCHIVE)
        request = history_request(self.name, self._site, self._access, ARCHIVE, self._model, (first, last))
        return self._fetcher.fetch_and_parse(request, as_utc(now), self._parse)[0]

    def _parse(self, body: bytes) -> tuple[Series, tuple[Finding, ...]]:
        """Return the record that an answer holds."""
        return _checked(parse_forecast(body, self._asked, self._model).series)


class OpenMeteoPreviousRuns:
    """What a model forecast a day, two days and so on before each time.

    Parameters
    ----------
    name : str
        Name of the source, as in the configuration.
    site : Site
        Where.
    fetcher : Fetcher
        Asks politely and keeps answers.
    base_url : str, optional
        Address in front of ``/v1/…``.
    model : str
        Which one.
    api_key : str, optional
        Secret key of a customer.
    non_commercial : bool
        Somebody's declaration that the use is non-commercial; the free address asks for it.

    Raises
    ------
    ValueError
        If the model's name is none.
    """

    def __init__(
        self,
        name: str,
        site: Site,
        fetcher: Fetcher,
        *,
        base_url: str | None = None,
        model: str = DEFAULT_MODEL,
        api_key: str | None = None,
        non_commercial: bool = False,
    ) -> None:
        self.name = name
        self._site = site
        self._fetcher = fetcher
        self._model = model_of(model, FORECAST_MODELS)
        self._access = Access(base_url, api_key, non_commercial=non_commercial)
        self._asked = Asked(site.latitude, site.longitude, site.elevation, self._model.reach)

    @property
    def credits(self) -> str:
        """Attribution that must be shown beside the forecasts."""
        return credits_of(self._model)

    def forecasts(self, first: date, last: date, now: datetime, lead_days: Sequence[int] = LEAD_DAYS) -> PreviousRuns:
        """Return old forecasts of air temperature by lead time.

        Parameters
        ----------
        first, last : date
            Days in UTC, both included, that the forecasts are about.
        now : datetime
            Aware.
        lead_days : sequence of int
            Lead times [days], from 1 to 7.

        Returns
        -------
        tuple of (tuple of (int, Series), tuple of Finding)
            Each lead time with its values, shape (1, n_times), shortest first; lead times of which the service
            has nothing are not there. And what quality control found.

        Raises
        ------
        SourceUnavailable
            If the service cannot be reached, refuses, or its terms forbid to ask, and no answer is stored.
        SourceMalformed
            If the answer cannot be trusted and none that could be is stored.
        ValueError
            If the span ends before it begins, a lead time is not offered, or `now` is naive.
        """
        self._access.require_permission(PREVIOUS_RUNS)
        span = (first, last)
        request = history_request(self.name, self._site, self._access, PREVIOUS_RUNS, self._model, span, lead_days)
        return self._fetcher.fetch_and_parse(request, as_utc(now), self._parse)[0]

    def _parse(self, body: bytes) -> PreviousRuns:
        """Return the forecasts that an answer holds."""
        forecasts: list[tuple[int, Series]] = []
        findings: list[Finding] = []
        for lead_days, series in parse_previous_runs(body, self._asked, self._model):
            checked, found = _checked(series)
            forecasts.append((lead_days, checked))
            findings.extend(found)
        return tuple(forecasts), tuple(findings)


def _checked(series: Series) -> tuple[Series, tuple[Finding, ...]]:
    """Return what quality control leaves of a series, and what it found."""
    report = check_quality(series)
    if not report.is_usable:
        raise SourceMalformed(report.reason)
    return report.series, report.findings
