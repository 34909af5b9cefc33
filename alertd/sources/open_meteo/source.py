"""Forecasts of one weather model from the service."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from alertd.core import SourceError, SourceMalformed, as_utc, instant_text
from alertd.sources.reference_time import LARGEST_LEAD, tells_of_older
from alertd.weather import Check, Finding, Forecast, check_quality

from .access import ENSEMBLE, FORECAST, Access
from .document import Asked
from .models import ENSEMBLE_MODELS, FORECAST_MODELS, model_of
from .parse import ParsedForecast, parse_forecast
from .request import (
    LARGEST_ENSEMBLE_DAYS,
    LARGEST_FORECAST_DAYS,
    forecast_request,
    history_request,
    status_request,
)
from .run_status import day_asked, latest_possible_run, parse_status, run_of

if TYPE_CHECKING:
    from datetime import date, datetime

    from alertd.core import Answer
    from alertd.site import Site
    from alertd.sources.fetch import Fetcher
    from alertd.weather import Series

    from .access import Endpoint
    from .models import Model

#: What the licence asks to show beside the data. Source: the service's licence page, seen.
CREDITS = (
    "Weather data by Open-Meteo.com (https://open-meteo.com/), licence CC BY 4.0 "
    "(https://creativecommons.org/licenses/by/4.0/), modified by this software"
)

#: The model if none is named: it covers the whole Earth, is run every six hours and is available some four hours
#: later, so that it is never older than about ten hours (from memory). Those of ECMWF and GFS come later.
DEFAULT_MODEL = "icon_seamless"

#: [days] If no length is named: longer than any rule looks ahead, and one call of the quota. Assumed.
DEFAULT_DAYS = 7


def credits_of(model: Model) -> str:
    """Return the lines that must stand beside data of a model.

    Parameters
    ----------
    model : Model
        Any.

    Returns
    -------
    str
        On one line; the time of retrieval stands in the forecast itself.
    """
    return f"{CREDITS}. Model: {model.name}{f' of {model.provider}' if model.provider else ''}."


class OpenMeteoSource:
    """Forecasts of one model: one realization.

    Parameters
    ----------
    name : str
        Name of the source, as in the configuration.
    site : Site
        Where; the service brings temperatures to the site's elevation.
    fetcher : Fetcher
        Asks politely and keeps the last good answers.
    base_url : str, optional
        Address in front of ``/v1/…`` and, unless `status_url` is given, of ``/data/…``.
    status_url : str, optional
        Address in front of ``/data/…``, where the service tells when models were run.
    model : str
        Which one; one and no more, since an answer does not say of which it is.
    days : int
        How far ahead, today included.
    api_key : str, optional
        Secret key of a customer.
    non_commercial : bool
        Somebody's declaration that the use is non-commercial; the free address asks for it.
    credits : str, optional
        Attribution instead of the usual one.
    weight : float
        How much this source counts beside the others.

    Raises
    ------
    ValueError
        If the model's name is none, or the days are fewer than 1 or more than the service has.
    """

    _ENDPOINT: ClassVar[Endpoint] = FORECAST
    _MODELS: ClassVar[dict[str, Model]] = FORECAST_MODELS
    _LARGEST_DAYS: ClassVar[int] = LARGEST_FORECAST_DAYS

    def __init__(
        self,
        name: str,
        site: Site,
        fetcher: Fetcher,
        *,
        base_url: str | None = None,
        status_url: str | None = None,
        model: str = DEFAULT_MODEL,
        days: int = DEFAULT_DAYS,
        api_key: str | None = None,
        non_commercial: bool = False,
        credits: str | None = None,  # noqa: A002
        weight: float = 1.0,
    ) -> None:
        if not 1 <= days <= self._LARGEST_DAYS:
            message = f"{name}: days must be from 1 to {self._LARGEST_DAYS}, not {days}"
            raise ValueError(message)
        self._name = name
        self._site = site
        self._fetcher = fetcher
        self._model = model_of(model, self._MODELS)
        self._access = Access(base_url, api_key, non_commercial=non_commercial)
        self._credits = credits_of(self._model) if credits is None else credits
        self._weight = weight
        self._asked = Asked(site.latitude, site.longitude, site.elevation, self._model.reach)
        self._request = forecast_request(name, site, self._access, self._ENDPOINT, self._model, days)
        status_access = Access(base_url if status_url is None else status_url, api_key, non_commercial=non_commercial)
        self._status_request = status_request(name, status_access, self._model) if self._model.status else None

    @property
    def name(self) -> str:
        """Name of the source, as in the configuration."""
        return self._name

    def get(self, now: datetime) -> tuple[Forecast, tuple[Finding, ...]]:
        """Return the latest forecast.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        tuple of (Forecast, tuple of Finding)
            The forecast without values that cannot be true, and what was found.

        Raises
        ------
        SourceUnavailable
            If the service cannot be reached, refuses, or its terms forbid to ask, and no answer is stored.
        SourceMalformed
            If the answer cannot be trusted and none that could be is stored.
        ValueError
            If `now` is naive.
        """
        now = as_utc(now)
        self._access.require_permission(self._ENDPOINT)
        (parsed, series, findings), answer = self._fetcher.fetch_and_parse(
            self._request, now, self._parse, lambda read: day_asked(read[1])
        )
        reference_time, note = self._reference_time(series, answer, now)
        notes = (*parsed.notes, *([note] if note else []))
        forecast = Forecast(
            self._name,
            reference_time,
            answer.retrieved,
            series,
            self._credits,
            answer.problem,
            weight=self._weight,
            soil=parsed.soil,
        )
        return forecast, (*findings, *(_finding(text, answer.retrieved) for text in notes))

    def days_before(self, first: date, now: datetime) -> Series:
        """Return what the model's last runs make of the days before and of today.

        Parameters
        ----------
        first : date
            Day in UTC, at most some three months ago.
        now : datetime
            Aware.

        Returns
        -------
        Series
            shape (1, n_times), hourly.

        Raises
        ------
        SourceUnavailable
            If the service cannot be reached, refuses, or its terms forbid to ask, and no answer is stored.
        SourceMalformed
            If the answer cannot be trusted and none that could be is stored.
        ValueError
            If `first` is yet to come or `now` is naive.
        """
        now = as_utc(now)
        self._access.require_permission(FORECAST)
        span = (first, now.date())
        request = history_request(f"{self._name}:before", self._site, self._access, FORECAST, self._past_model, span)
        asked = replace(self._asked, reach=self._past_model.reach)
        return self._fetcher.fetch_and_parse(request, now, lambda body: _checked(body, asked, self._past_model)[1])[0]

    @property
    def _past_model(self) -> Model:
        """By which model the days before are told."""
        return self._model

    def _parse(self, body: bytes) -> tuple[ParsedForecast, Series, tuple[Finding, ...]]:
        """Return what an answer holds, and what quality control leaves of it and finds."""
        return _checked(body, self._asked, self._model)

    def _reference_time(self, series: Series, answer: Answer, now: datetime) -> tuple[datetime, str]:
        """Return when the forecast was made, and what a person should know about that."""
        latest = latest_possible_run(series, answer.retrieved)
        if self._status_request is None:
            return latest, f"the service does not say when {self._model.name} was run; its age is that of the answer"
        try:
            status, told = self._fetcher.fetch_and_parse(
                self._status_request, now, parse_status, lambda status: status.initialisation
            )
        except SourceError as error:
            return latest, f"when {self._model.name} was run is unknown ({error}); its age is that of the answer"
        if tells_of_older(told.problem):  # runs do not go back, so there is none after the last that was told
            note = f"{told.problem}; {self._model.name} counts as last run at {instant_text(status.initialisation)}"
            return min(latest, run_of(status, answer.retrieved)), note
        if told.problem and answer.retrieved > told.retrieved + status.update_interval:
            return latest, (
                f"when {self._model.name} was run was last told at {instant_text(told.retrieved)} ({told.problem}); "
                "its age is that of the answer"
            )
        if status.initialisation > told.retrieved + LARGEST_LEAD:
            return latest, (
                f"the service says that {self._model.name} was run at {instant_text(status.initialisation)}, in the "
                "future; its age is that of the answer"
            )
        return min(latest, run_of(status, answer.retrieved)), ""


class OpenMeteoEnsembleSource(OpenMeteoSource):
    """Forecasts of one model's ensemble: as many realizations as it has.

    Parameters are those of :class:`OpenMeteoSource`; models are those of the ensemble endpoint.
    """

    _ENDPOINT: ClassVar[Endpoint] = ENSEMBLE
    _MODELS: ClassVar[dict[str, Model]] = ENSEMBLE_MODELS
    _LARGEST_DAYS: ClassVar[int] = LARGEST_ENSEMBLE_DAYS

    @property
    def _past_model(self) -> Model:
        """By which model the days before are told: they happened once, so by none of the ensemble's."""
        return model_of(DEFAULT_MODEL, FORECAST_MODELS)


def _checked(body: bytes, asked: Asked, model: Model) -> tuple[ParsedForecast, Series, tuple[Finding, ...]]:
    """Return what an answer holds, and what quality control leaves of it and finds."""
    parsed = parse_forecast(body, asked, model)
    report = check_quality(parsed.series)
    if not report.is_usable:
        raise SourceMalformed(report.reason)
    return parsed, report.series, report.findings


def _finding(text: str, instant: datetime) -> Finding:
    """Return what concerns an answer as a whole."""
    return Finding(Check.NOT_TOLD, "time", instant, instant, 1, text)
