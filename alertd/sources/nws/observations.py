"""What stations near a site measured last."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING, Any

from alertd.core import SourceError, SourceMalformed, SourceUnavailable, as_utc, instant_text
from alertd.sources.position import great_circle_distance
from alertd.sources.request import Request
from alertd.weather import PHYSICAL_RANGE

from .points import address
from .problems import explain
from .reading import as_instant, as_object, as_text, quantity, quoted, read_object
from .service import BASE_URL, HEADERS
from .stations import Station, parse_stations

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.site import Site
    from alertd.sources.fetch import Fetcher

    from .points import PointSource

#: How many stations are asked. Source: weather.gov itself tries the three nearest (seen).
STATIONS_ASKED = 3

#: [m] A station further away says nothing about a garden. Assumed.
FARTHEST_STATION = 100_000.0

#: Reports come 20 min late as a rule, and up to 4 h (seen); an older one is of another time of day. Assumed.
OLDEST_OBSERVATION = timedelta(hours=3)

#: How far a station's clock may be ahead of this one. Assumed.
LARGEST_LEAD = timedelta(minutes=15)

#: Codes of values that failed the quality control of MADIS: X failed, Q questioned. From memory.
FAILED_CODES = frozenset({"X", "Q"})

#: How long a list of stations is good, whatever its ``Expires``. Stations seldom change; but nothing tells whether one
#: that is silent has closed and another has opened, so the list is asked anew each day. Assumed.
_PAUSE_OF_STATIONS = timedelta(days=1)

#: Source: 15 min was the service's own advice for observations (seen).
_PAUSE_OF_OBSERVATIONS = timedelta(minutes=15)


@dataclass(frozen=True, slots=True)
class Measured:
    """Values of one report.

    Parameters
    ----------
    time : datetime
        Aware UTC.
    air_temperature, dew_point_temperature : float or None
        [°C], ``None`` if missing or failed.
    wind_speed : float or None
        [m/s], ``None`` if missing or failed.
    """

    time: datetime
    air_temperature: float | None
    dew_point_temperature: float | None
    wind_speed: float | None


@dataclass(frozen=True, slots=True)
class StationReport:
    """A usable report of a station near a site.

    Parameters
    ----------
    station : Station
        Where; its temperature is that of its own elevation.
    distance : float
        From the site [m].
    measured : Measured
        With an air temperature.
    retrieved : datetime
        Aware UTC.
    problem : str
        Why this is the stored last good answer and not a new one; ``""`` if it is new.
    """

    station: Station
    distance: float
    measured: Measured
    retrieved: datetime
    problem: str = ""


class NwsObservationSource:
    """Asks the stations nearest to a site what they measured last.

    Parameters
    ----------
    name : str
        As in the configuration.
    site : Site
        Whose surroundings are asked.
    fetcher : Fetcher
        Asks politely.
    points : PointSource
        Knows where the service keeps the stations near the site.
    base_url : str or None
        Of the service.
    """

    def __init__(
        self, name: str, site: Site, fetcher: Fetcher, points: PointSource, *, base_url: str | None = None
    ) -> None:
        self.name = name
        self._site = site
        self._fetcher = fetcher
        self._points = points
        self._base_url = (base_url or BASE_URL).rstrip("/")

    def get(self, now: datetime) -> tuple[StationReport, ...]:
        """Return the last usable reports, the nearest station first.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        tuple of StationReport
            Of up to three stations, at least one.

        Raises
        ------
        SourceUnavailable
            If none of the three nearest stations has a usable report; the text says why for each.
        SourceMalformed
            If position or stations cannot be found out.
        """
        instant = as_utc(now)
        nearest = self._nearest(instant)
        observations, reasons = [], []
        for distance, station in nearest:
            try:
                observations.append(self._observation(station, distance, instant))
            except SourceError as error:
                reasons.append(f"{station.identifier}: {error}")
        if not observations:
            message = "; ".join(reasons) or f"no station is within {FARTHEST_STATION / 1000.0:g} km"
            raise SourceUnavailable(message)
        return tuple(observations)

    def _nearest(self, now: datetime) -> list[tuple[float, Station]]:
        """Return distance [m] and station of the nearest ones."""
        mapping = self._points.get(now)
        request = Request(
            key=f"{self.name}/stations/{mapping.cell}",
            url=address(self._base_url, mapping.stations_path),
            headers=HEADERS,
            pause=_PAUSE_OF_STATIONS,
            shortest_pause=_PAUSE_OF_STATIONS,
            explain=explain,
        )
        stations, _answer = self._fetcher.fetch_and_parse(request, now, parse_stations)
        place = (self._site.latitude, self._site.longitude)
        known = [(great_circle_distance(*place, station.latitude, station.longitude), station) for station in stations]
        near = [(distance, station) for distance, station in known if distance <= FARTHEST_STATION]
        return sorted(near, key=lambda entry: (entry[0], entry[1].identifier))[:STATIONS_ASKED]

    def _observation(self, station: Station, distance: float, now: datetime) -> StationReport:
        """Return the last report of a station, if it is usable."""
        request = Request(
            key=f"{self.name}/observations/{station.identifier}",
            url=f"{self._base_url}/stations/{station.identifier}/observations/latest",
            headers=HEADERS,
            pause=_PAUSE_OF_OBSERVATIONS,
            explain=explain,
        )
        parse = partial(parse_observation, identifier=station.identifier)
        measured, answer = self._fetcher.fetch_and_parse(request, now, parse)
        if measured.air_temperature is None:
            message = "the last report has no air temperature"
            raise SourceUnavailable(message)
        if not now - OLDEST_OBSERVATION <= measured.time <= now + LARGEST_LEAD:
            message = f"the last report is of {instant_text(measured.time)}"
            raise SourceUnavailable(message)
        return StationReport(station, distance, measured, answer.retrieved, answer.problem)


def parse_observation(body: bytes, identifier: str) -> Measured:
    """Return the values in an answer of ``/stations/{identifier}/observations/latest``.

    Parameters
    ----------
    body : bytes
        Of an answer with status 200, as ``application/geo+json``.
    identifier : str
        Of the station asked.

    Returns
    -------
    Measured
        Values that are null, failed quality control or cannot be true are ``None``.

    Raises
    ------
    SourceMalformed
        If the body is no such answer, is of another station, or has a value with an unknown unit.
    """
    properties = as_object(read_object(body).get("properties"), "properties")
    station = as_text(properties.get("station"), "station").rstrip("/").rsplit("/", maxsplit=1)[-1]
    if station != identifier:
        message = f"the report is of the station {quoted(station)} and not of {identifier}"
        raise SourceMalformed(message)
    return Measured(
        as_instant(properties.get("timestamp"), "timestamp"),
        _passed(properties, "temperature", "air_temperature"),
        _passed(properties, "dewpoint", "dew_point_temperature"),
        _passed(properties, "windSpeed", "wind_speed"),
    )


def _passed(properties: dict[str, Any], name: str, variable: str) -> float | None:
    """Return a value [canonical unit] that passed quality control."""
    value = quantity(properties.get(name), variable, name)
    if value is None or properties[name].get("qualityControl") in list(FAILED_CODES):
        return None
    lowest, highest = PHYSICAL_RANGE[variable]
    return value if lowest <= value <= highest else None
