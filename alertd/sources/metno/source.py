"""MET Norway as a source of forecasts."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from alertd.core import as_utc
from alertd.sources.position import coordinate_text
from alertd.sources.reference_time import refuse_future
from alertd.sources.request import Request
from alertd.weather import Forecast

from .explain import explain_failure
from .parse import LocationForecast, parse_locationforecast

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.site import Site
    from alertd.sources.fetch import Fetcher
    from alertd.weather import Finding

#: Where Locationforecast 2.0 is, without the product. *Seen* in its documentation.
DEFAULT_BASE_URL = "https://api.met.no/weatherapi/locationforecast/2.0"

#: Attribution that its terms ask for; the time of retrieval stands beside it wherever it is shown.
CREDITS = (
    "Based on data from MET Norway (https://api.met.no/), "
    "CC BY 4.0 (https://creativecommons.org/licenses/by/4.0/), modified."
)


class MetNorwaySource:
    """Forecasts of MET Norway's Locationforecast 2.0 `complete` for the place and elevation of a site.

    Parameters
    ----------
    name : str
        Name of the source, as in the configuration.
    site : Site
        Position is asked with at most four decimals, elevation in whole metres.
    fetcher : Fetcher
        Asks, politely.
    base_url : str, optional
        Where the product `complete` is; MET Norway's own address if not given.
    credits : str, optional
        Attribution that must be shown; MET Norway's own if not given.
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
        self._fetcher = fetcher
        latitude, longitude = coordinate_text(site.latitude), coordinate_text(site.longitude)
        altitude = round(site.elevation)
        self._parse = partial(
            parse_locationforecast, latitude=float(latitude), longitude=float(longitude), altitude=float(altitude)
        )
        self._request = Request(
            key=f"{name} {latitude} {longitude} {altitude}",
            url=f"{(base_url or DEFAULT_BASE_URL).rstrip('/')}/complete",
            parameters=(("lat", latitude), ("lon", longitude), ("altitude", str(altitude))),
            headers=(("Accept", "application/json"),),
            explain=explain_failure,
        )

    def get(self, now: datetime) -> tuple[Forecast, tuple[Finding, ...]]:
        """Return the latest forecast.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        tuple of (Forecast, tuple of Finding)
            The forecast without values that cannot be true, and what quality control found. If the service fails,
            the stored last good one, with the reason as its `problem`.

        Raises
        ------
        SourceUnavailable
            If the service gave nothing and there is no earlier answer.
        SourceMalformed
            If its answer cannot be trusted and there is no earlier one.
        ValueError
            If `now` is naive.
        """
        asked = as_utc(now)

        def parse(body: bytes) -> LocationForecast:
            parsed = self._parse(body)
            refuse_future(parsed.updated, asked)
            return parsed

        parsed, answer = self._fetcher.fetch_and_parse(self._request, asked, parse, lambda parsed: parsed.updated)
        forecast = Forecast(
            self.name,
            min(parsed.updated, answer.retrieved),
            answer.retrieved,
            parsed.series,
            self.credits,
            answer.problem,
            parsed.minima,
            parsed.error,
            self.weight,
        )
        return forecast, parsed.findings
