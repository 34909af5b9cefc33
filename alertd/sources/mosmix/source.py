"""MOSMIX forecasts of one station as a source."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from alertd.core import as_utc
from alertd.sources.position import great_circle_distance
from alertd.sources.reference_time import refuse_future
from alertd.sources.request import Request
from alertd.weather import Forecast, at_elevation, minima_at_elevation

from .archive import refuse
from .explain import explain_failure
from .parse import StationForecast, parse_station_forecast

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.site import Site
    from alertd.sources.fetch import Fetcher
    from alertd.weather import Finding

#: Where the files of single stations are: the server *seen* in a description of MOSMIX, the folder *from memory*.
DEFAULT_BASE_URL = "https://opendata.dwd.de/weather/local_forecasts/mos/MOSMIX_L/single_stations"

#: [m] A station further from the site is refused. Assumed.
LARGEST_DISTANCE = 50_000.0

#: Attribution for data that were changed; the time of retrieval stands beside it wherever it is shown.
CREDITS = (
    "Datenbasis: Deutscher Wetterdienst (https://www.dwd.de/), eigene Bearbeitung; "
    "CC BY 4.0 (https://creativecommons.org/licenses/by/4.0/)."
)

_STATION = re.compile(r"[A-Za-z0-9_]{1,16}", flags=re.ASCII)


class MosmixSource:
    """MOSMIX_L forecasts of one station of the German weather service, brought to the elevation of a site.

    Parameters
    ----------
    name : str
        Name of the source, as in the configuration.
    site : Site
        The station must be near it.
    fetcher : Fetcher
        Asks, politely.
    station : str
        Id of the station, like ``10384`` or ``P0489``. No list of stations is asked for.
    base_url : str, optional
        Folder with one folder for each station; the file asked for is ``STATION/kml/MOSMIX_L_LATEST_STATION.kmz``
        in it (*from memory*).
    credits : str, optional
        Attribution that must be shown; the German weather service's own if not given.
    largest_distance : float
        [m] A station further from the site is refused.
    weight : float
        How much this source counts beside the others, above 0.

    Raises
    ------
    ValueError
        If the station is no id.
    """

    def __init__(
        self,
        name: str,
        site: Site,
        fetcher: Fetcher,
        *,
        station: str,
        base_url: str | None = None,
        credits: str | None = None,  # noqa: A002 - the name that forecasts have for it
        largest_distance: float = LARGEST_DISTANCE,
        weight: float = 1.0,
    ) -> None:
        if not _STATION.fullmatch(station):
            message = f"{station!r} is no id of a station; give letters and digits, like 10384"
            raise ValueError(message)
        self.name = name
        self.credits = CREDITS if credits is None else credits
        self.weight = weight
        self._site = site
        self._fetcher = fetcher
        self._station = station
        self._largest_distance = largest_distance
        self._request = Request(
            key=f"{name} {station}",
            url=f"{(base_url or DEFAULT_BASE_URL).rstrip('/')}/{station}/kml/MOSMIX_L_LATEST_{station}.kmz",
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
            The forecast at the site's elevation without values that cannot be true, and what quality control found.
            If the service fails, the stored last good one, with the reason as its `problem`.

        Raises
        ------
        SourceUnavailable
            If the service gave nothing and there is no earlier answer.
        SourceMalformed
            If its answer cannot be trusted, or the station is too far away, and there is no earlier one.
        ValueError
            If `now` is naive.
        """
        asked = as_utc(now)

        def parse(body: bytes) -> StationForecast:
            parsed = parse_station_forecast(body, self._station)
            self._refuse_distant(parsed)
            refuse_future(parsed.issued, asked)
            return parsed

        parsed, answer = self._fetcher.fetch_and_parse(self._request, asked, parse, lambda parsed: parsed.issued)
        forecast = Forecast(
            self.name,
            min(parsed.issued, answer.retrieved),
            answer.retrieved,
            at_elevation(parsed.series, parsed.elevation, self._site.elevation),
            self.credits,
            answer.problem,
            minima_at_elevation(parsed.minima, parsed.elevation, self._site.elevation),
            parsed.error,
            self.weight,
        )
        return forecast, parsed.findings

    def _refuse_distant(self, parsed: StationForecast) -> None:
        """Refuse a station that is too far from the site."""
        distance = great_circle_distance(self._site.latitude, self._site.longitude, parsed.latitude, parsed.longitude)
        if distance > self._largest_distance:
            refuse(
                f"station {parsed.station} is {distance / 1000.0:.0f} km from the site, more than "
                f"{self._largest_distance / 1000.0:.0f} km",
                "choose a nearer station",
            )
