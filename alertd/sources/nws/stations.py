"""Stations near a grid cell."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from alertd.core import SourceMalformed

from .geometry import point_coordinates
from .reading import (
    as_list,
    as_object,
    as_text,
    elevation_in_metres,
    objects,
    optional_text,
    quoted,
    read_object,
)

_IDENTIFIER = re.compile(r"[A-Za-z0-9_-]{1,20}", flags=re.ASCII)


@dataclass(frozen=True, slots=True)
class Station:
    """A place where weather is measured.

    Parameters
    ----------
    identifier : str
        Of the service.
    name : str
        ``""`` if it has none.
    latitude, longitude : float
        [degrees].
    elevation : float or None
        [m].
    """

    identifier: str
    name: str
    latitude: float
    longitude: float
    elevation: float | None


def parse_stations(body: bytes) -> tuple[Station, ...]:
    """Return the stations in an answer of ``/gridpoints/…/stations``.

    Parameters
    ----------
    body : bytes
        Of an answer with status 200, as ``application/geo+json``.

    Returns
    -------
    tuple of Station
        In the order of the answer.

    Raises
    ------
    SourceMalformed
        If the body is no such answer.
    """
    document = read_object(body)
    features = objects(as_list(document.get("features"), "features"), "features")
    return tuple(_station(feature) for feature in features)


def _station(feature: dict[str, Any]) -> Station:
    """Return the station of one feature."""
    latitude, longitude = point_coordinates(feature.get("geometry"), "a station's geometry")
    properties = as_object(feature.get("properties"), "a station's properties")
    identifier = as_text(properties.get("stationIdentifier"), "stationIdentifier")
    if not _IDENTIFIER.fullmatch(identifier):
        message = f"stationIdentifier is {quoted(identifier)} and no identifier"
        raise SourceMalformed(message)
    return Station(
        identifier,
        optional_text(properties.get("name"), "a station's name"),
        latitude,
        longitude,
        elevation_in_metres(properties.get("elevation"), "a station's elevation"),
    )
