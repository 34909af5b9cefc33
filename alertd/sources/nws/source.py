"""The US National Weather Service as a source of forecasts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from http import HTTPStatus
from typing import TYPE_CHECKING

from alertd.core import SourceError, SourceMalformed, SourceUnavailable, as_utc
from alertd.sources.minima import believable_minima
from alertd.sources.position import coordinate_text
from alertd.sources.reference_time import refuse_future
from alertd.sources.request import Request
from alertd.weather import Forecast, at_elevation, check_quality, minima_at_elevation

from .ahead import minima_ahead, without_past
from .gridpoint import GridForecast, is_of_another_place, parse_gridpoint
from .hourly import parse_hourly
from .points import GridCell, Mapping, PointSource, address
from .problems import explain
from .service import BASE_URL, CREDITS, HEADERS

if TYPE_CHECKING:
    from collections.abc import Callable
    from collections.abc import Mapping as Headers

    from alertd.site import Site
    from alertd.sources.answer import Answer
    from alertd.sources.fetch import Fetcher
    from alertd.weather import Finding

    Parse = Callable[[bytes, float, float], GridForecast]

#: Without ``Expires``, a forecast is not asked again before this. Source: hourly was the service's own advice (seen).
PAUSE = timedelta(hours=1)

#: Raw layers older than this give way to a newer hourly forecast, if new ones cannot be had. Younger ones are kept,
#: because they alone have the nights' minima. Assumed.
RAW_LAYERS_KEPT = timedelta(hours=3)

#: Hours further back are over, and dropped if no minimum binds them. Assumed: the running hour is still of use.
PAST_HOURS_KEPT = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class _Checked:
    """A forecast without values that cannot be true, and what was found."""

    grid: GridForecast
    findings: tuple[Finding, ...]


class NwsSource:
    """Forecasts of the US National Weather Service for the place and elevation of a site.

    The raw layers of the grid cell are used, with the nights' own minima; the hourly forecast stands in for them
    where they fail.

    Parameters
    ----------
    name : str
        Name of the source, as in the configuration.
    site : Site
        In the United States.
    fetcher : Fetcher
        Asks politely.
    base_url : str or None
        Of the service, ``https://api.weather.gov`` by default. Addresses in answers are asked on the same host.
    credits : str or None
        Attribution that must be shown; by default what the service asks for.
    weight : float
        How much this source counts beside the others, above 0.
    """

    def __init__(
        self,
        name: str,
        site: Site,
        fetcher: Fetcher,
        *,
        base_url: str | None = None,
        credits: str | None = None,  # noqa: A002 - the name that forecasts have for it
        weight: float = 1.0,
    ) -> None:
        self.name = name
        self.credits = CREDITS if credits is None else credits
        self.weight = weight
        self._site = site
        self._fetcher = fetcher
        self._base_url = (base_url or BASE_URL).rstrip("/")
        self.points = PointSource(name, site, fetcher, base_url=base_url)

    def get(self, now: datetime) -> tuple[Forecast, tuple[Finding, ...]]:
        """Return the latest forecast.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        tuple of (Forecast, tuple of Finding)
            The forecast from an hour before `now` on, or from the beginning of a night that is running, without
            values that cannot be true, and what quality control found. If the raw layers fail, the last good ones or
            the hourly forecast, with the reason as its `problem`.

        Raises
        ------
        SourceUnavailable
            If the service gave nothing that is still of use and there is no earlier answer.
        SourceMalformed
            If its answer cannot be trusted and there is no earlier one.
        ValueError
            If `now` is naive.
        """
        asked = as_utc(now)
        mapping = self.points.get(asked)
        raw: tuple[Forecast, tuple[Finding, ...]] | None = None
        failure: SourceError | None = None
        try:
            raw = self._raw_layers(mapping, asked)
        except SourceError as error:
            failure = error
        if raw is not None and (not raw[0].problem or asked - raw[0].retrieved <= RAW_LAYERS_KEPT):
            return raw
        try:
            hourly, findings = self._hourly(asked)
        except SourceError as error:
            if raw is not None:
                return raw
            message = f"{failure}; the hourly forecast: {error}"
            raise (SourceMalformed if isinstance(failure, SourceMalformed) else SourceUnavailable)(message) from error
        if raw is not None and raw[0].forecast_reference_time >= hourly.forecast_reference_time:
            return raw
        reason = failure if raw is None else raw[0].problem
        problem = f"the raw layers: {reason}; so this is the hourly forecast, without the nights' own minima"
        if hourly.problem:
            problem = f"{problem}, and not a new one: {hourly.problem}"
        return replace(hourly, problem=problem), findings

    def _raw_layers(self, mapping: Mapping, now: datetime) -> tuple[Forecast, tuple[Finding, ...]]:
        """Return the forecast of the raw layers; if their cell is gone or elsewhere, look once for another one."""
        doubt = _Doubt()
        try:
            forecast = self._ask(mapping.cell, mapping.grid_path, parse_gridpoint, now, doubt)
        except SourceError:
            if not doubt.is_raised:
                raise
            return self._of_renewed_cell(now)
        if not doubt.is_raised:
            return forecast
        try:
            return self._of_renewed_cell(now)
        except SourceError:
            return forecast

    def _of_renewed_cell(self, now: datetime) -> tuple[Forecast, tuple[Finding, ...]]:
        """Return the forecast of the raw layers for the cell that the service now names."""
        renewed = self.points.renewed(now)
        return self._ask(renewed.cell, renewed.grid_path, parse_gridpoint, now, _Doubt())

    def _hourly(self, now: datetime) -> tuple[Forecast, tuple[Finding, ...]]:
        """Return the hourly forecast."""
        mapping = self.points.get(now)
        return self._ask(mapping.cell, mapping.hourly_path, parse_hourly, now, _Doubt())

    def _ask(
        self, cell: GridCell, path: str, parse: Parse, now: datetime, doubt: _Doubt
    ) -> tuple[Forecast, tuple[Finding, ...]]:
        """Return what a path of the service forecasts, from an hour before `now` on, at the site's elevation."""
        request = Request(
            key=f"{self.name}{path}",
            url=address(self._base_url, path),
            headers=HEADERS,
            pause=PAUSE,
            explain=doubt.explain,
        )
        latitude = float(coordinate_text(self._site.latitude))
        longitude = float(coordinate_text(self._site.longitude))

        def read(body: bytes) -> _Checked:
            try:
                return _checked(parse(body, latitude, longitude), cell, now)
            except SourceMalformed:
                doubt.is_raised |= is_of_another_place(body, cell, latitude, longitude)
                raise

        checked, answer = self._fetcher.fetch_and_parse(
            request, now, read, lambda checked: checked.grid.forecast_reference_time
        )
        return self._forecast(checked.grid, answer, now), checked.findings

    def _forecast(self, grid: GridForecast, answer: Answer, now: datetime) -> Forecast:
        """Return a forecast for the site, without what is over."""
        minima = minima_ahead(grid.minima, grid.series, now)
        series = without_past(grid.series, now - PAST_HOURS_KEPT, minima)
        if grid.elevation is not None:
            series = at_elevation(series, grid.elevation, self._site.elevation)
            minima = minima_at_elevation(minima, grid.elevation, self._site.elevation)
        return Forecast(
            source=self.name,
            forecast_reference_time=min(grid.forecast_reference_time, answer.retrieved),
            retrieved=answer.retrieved,
            series=series,
            credits=self.credits,
            problem=answer.problem,
            minima=minima,
            weight=self.weight,
        )


class _Doubt:
    """Whether an answer to one request says that a cell is not where it was: gone, or another place's."""

    def __init__(self) -> None:
        self.is_raised = False

    def explain(self, status: int, headers: Headers[str, str], body: bytes) -> str:
        """Return what a failing answer means."""
        self.is_raised |= status == HTTPStatus.NOT_FOUND
        return explain(status, headers, body)


def _checked(grid: GridForecast, cell: GridCell, now: datetime) -> _Checked:
    """Return a forecast without values that cannot be true; `SourceMalformed` if it must not be used."""
    if grid.cell not in {None, cell}:
        message = f"the answer is for the grid cell {grid.cell} and not for {cell}"
        raise SourceMalformed(message)
    refuse_future(grid.forecast_reference_time, now)
    report = check_quality(grid.series)
    if not report.is_usable:
        raise SourceMalformed(report.reason)
    minima, findings = believable_minima(grid.minima, report.series)
    return _Checked(replace(grid, series=report.series, minima=minima), (*report.findings, *findings))
