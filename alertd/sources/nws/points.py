"""From a position to the service's grid: the answer of ``/points``."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from alertd.core import SourceMalformed
from alertd.sources.position import coordinate_text
from alertd.sources.request import Request

from .geometry import point_coordinates, require_near
from .problems import explain
from .reading import as_object, as_text, as_whole_number, quoted, read_object
from .service import BASE_URL, HEADERS

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.site import Site
    from alertd.sources.fetch import Fetcher

#: How long an answer is good, whatever its ``Expires``: that is minutes or hours ahead, but the mapping seldom changes,
#: as the service says itself, and should be kept for long (seen); a week is assumed. A cell that turns out to be gone
#: or of another place is looked for at once.
PAUSE = timedelta(days=7)

#: How long a renewed answer is good: once a day, a cell that is gone may be looked for. Assumed.
PAUSE_OF_RENEWAL = timedelta(days=1)

_PATH = re.compile(r"(?:/[A-Za-z0-9_,-]+)+", flags=re.ASCII)


@dataclass(frozen=True, slots=True)
class GridCell:
    """One cell of an office's grid.

    Parameters
    ----------
    office : str
        Identifier of the grid, three letters.
    x, y : int
        Column and row.
    """

    office: str
    x: int
    y: int

    def __str__(self) -> str:
        """Return the cell as the service writes it, like ``ZZQ/12,34``."""
        return f"{self.office}/{self.x},{self.y}"


@dataclass(frozen=True, slots=True)
class Mapping:
    """What the service says about a position.

    Parameters
    ----------
    cell : GridCell
        The cell that holds it.
    grid_path, hourly_path, stations_path : str
        Paths of the raw layers, the hourly forecast and the stations nearby, below the host of the service.
    """

    cell: GridCell
    grid_path: str
    hourly_path: str
    stations_path: str


def parse_points(body: bytes, latitude: float, longitude: float) -> Mapping:
    """Return what an answer of ``/points`` says about a position.

    Parameters
    ----------
    body : bytes
        Of an answer with status 200, as ``application/geo+json``.
    latitude, longitude : float
        The position asked [degrees].

    Returns
    -------
    Mapping
        The cell and where its data are.

    Raises
    ------
    SourceMalformed
        If the body is no such answer, or one for a position more than half a degree away.
    """
    document = read_object(body)
    require_near(point_coordinates(document.get("geometry"), "geometry"), latitude, longitude)
    properties = as_object(document.get("properties"), "properties")
    cell = read_cell(properties)
    if cell is None:
        message = "the position has no grid cell (gridId is missing)"
        raise SourceMalformed(message)
    return Mapping(
        cell,
        _path(properties, "forecastGridData"),
        _path(properties, "forecastHourly"),
        _path(properties, "observationStations"),
    )


def read_cell(properties: dict[str, Any]) -> GridCell | None:
    """Return the cell that an answer names, ``None`` if it names none; `SourceMalformed` if it cannot be read."""
    if properties.get("gridId") is None:
        return None
    office = as_text(properties["gridId"], "gridId")
    x = as_whole_number(properties.get("gridX"), "gridX")
    y = as_whole_number(properties.get("gridY"), "gridY")
    return GridCell(office, x, y)


def _path(properties: dict[str, Any], name: str) -> str:
    """Return the path of an address in an answer; hosts in answers are never followed."""
    address = as_text(properties.get(name), name)
    try:
        path = urlsplit(address).path
    except ValueError:
        path = ""
    if not _PATH.fullmatch(path):
        message = f"{name} is {quoted(address)} and not an address of the service"
        raise SourceMalformed(message)
    return path


def address(base_url: str, path: str) -> str:
    """Return the address of a path from an answer, on the host that was asked.

    Parameters
    ----------
    base_url : str
        Where the service was asked, possibly with a path of its own (a mirror).
    path : str
        From an answer; with or without the path of the base.

    Returns
    -------
    str
        Absolute.
    """
    base = base_url.rstrip("/")
    own = urlsplit(base).path
    return base + (path[len(own) :] if own and path.startswith(own + "/") else path)


class PointSource:
    """Asks the service where it keeps what it knows of a site, and remembers it.

    Parameters
    ----------
    name : str
        Name of the source, as in the configuration.
    site : Site
        Whose position is asked.
    fetcher : Fetcher
        Asks politely.
    base_url : str or None
        Of the service.
    """

    def __init__(self, name: str, site: Site, fetcher: Fetcher, *, base_url: str | None = None) -> None:
        latitude, longitude = coordinate_text(site.latitude), coordinate_text(site.longitude)
        self._fetcher = fetcher
        self._parse = partial(parse_points, latitude=float(latitude), longitude=float(longitude))
        self._is_renewed = False
        first = Request(
            key=f"{name}/points/{latitude},{longitude}",
            url=f"{(base_url or BASE_URL).rstrip('/')}/points/{latitude},{longitude}",
            headers=HEADERS,
            pause=PAUSE,
            shortest_pause=PAUSE,
            explain=explain,
        )
        renewal = replace(first, key=f"{first.key}/renewed", pause=PAUSE_OF_RENEWAL, shortest_pause=PAUSE_OF_RENEWAL)
        self._requests = (first, renewal)

    def get(self, now: datetime) -> Mapping:
        """Return where the data of the site are.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        Mapping
            Up to a week old, older if the service fails; it seldom changes.

        Raises
        ------
        SourceUnavailable
            If the service gave nothing and nothing is stored.
        SourceMalformed
            If its answer cannot be trusted and nothing is stored.
        """
        mapping, _answer = self._fetcher.fetch_and_parse(self._requests[self._is_renewed], now, self._parse)
        return mapping

    def renewed(self, now: datetime) -> Mapping:
        """Return where the data of the site are now that they are not where they were.

        It is asked again whatever is stored, but not more than once a day: the answer has a place of its own in the
        store, and counts from then on.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        Mapping
            Possibly the same as before.

        Raises
        ------
        SourceUnavailable, SourceMalformed
            As `get`; then the former answer goes on to count.
        """
        mapping, _answer = self._fetcher.fetch_and_parse(self._requests[True], now, self._parse)
        self._is_renewed = True
        return mapping
