"""Positions in GeoJSON geometries, and whether they are the ones asked for."""

from __future__ import annotations

import math

from alertd.core import SourceMalformed

from .reading import as_list, as_number, as_object, quoted

#: How far [degrees of latitude or longitude] an answer may lie from the position asked. Assumed: the service
#: repeats the position asked, rounded, and a grid cell is 2.5 km wide.
FARTHEST_ANSWER = 0.5


def point_coordinates(geometry: object, where: str) -> tuple[float, float]:
    """Return latitude and longitude [degrees] of a GeoJSON point.

    Parameters
    ----------
    geometry : object
        ``{"type": "Point", "coordinates": [longitude, latitude]}``.
    where : str
        Name of it, for messages.

    Returns
    -------
    tuple of float
        Latitude, longitude.

    Raises
    ------
    SourceMalformed
        If it is no point on Earth.
    """
    members = as_object(geometry, where)
    if members.get("type") != "Point":
        message = f"{where} is {quoted(members.get('type'))} and not a point"
        raise SourceMalformed(message)
    return _position(members.get("coordinates"), where)


def any_position(geometry: object) -> tuple[float, float]:
    """Return latitude and longitude [degrees] of one position of a GeoJSON geometry.

    Parameters
    ----------
    geometry : object
        A point, a polygon, or a collection of those (seen in answers of 2019).

    Returns
    -------
    tuple of float
        Of the point, the first corner, or the first member of the collection.

    Raises
    ------
    SourceMalformed
        If it is no geometry on Earth.
    """
    members = as_object(geometry, "geometry")
    if members.get("type") == "GeometryCollection":
        return point_coordinates(_first(members.get("geometries")), "geometry")
    if members.get("type") == "Polygon":
        return _position(_first(_first(members.get("coordinates"))), "geometry")
    return point_coordinates(members, "geometry")


def _first(values: object) -> object:
    """Return the first of a list in a geometry."""
    members = as_list(values, "geometry")
    if not members:
        message = "geometry has no position"
        raise SourceMalformed(message)
    return members[0]


def _position(coordinates: object, where: str) -> tuple[float, float]:
    """Return latitude and longitude [degrees] of a GeoJSON position; `SourceMalformed` if it is none on Earth."""
    numbers = [as_number(value, where) for value in as_list(coordinates, where)[:2]]
    if len(numbers) != 2 or not (-90.0 <= numbers[1] <= 90.0 and -360.0 <= numbers[0] <= 360.0):  # noqa: PLR2004
        message = f"{where} is no position on Earth"
        raise SourceMalformed(message)
    return numbers[1], numbers[0]


def is_near(position: tuple[float, float], latitude: float, longitude: float) -> bool:
    """Return whether a position is at most half a degree from another one in both directions [degrees]."""
    north = abs(position[0] - latitude)
    east = abs(math.remainder(position[1] - longitude, 360.0))
    return north <= FARTHEST_ANSWER and east <= FARTHEST_ANSWER


def require_near(position: tuple[float, float], latitude: float, longitude: float) -> None:
    """Refuse an answer for another place than the one asked.

    Parameters
    ----------
    position : tuple of float
        Latitude and longitude of the answer [degrees].
    latitude, longitude : float
        The position asked [degrees]; longitudes are compared across the date line.

    Raises
    ------
    SourceMalformed
        If they are more than half a degree apart in either direction.
    """
    if not is_near(position, latitude, longitude):
        message = (
            f"the answer is for {position[0]:.4f}, {position[1]:.4f} and not for the position asked, "
            f"{latitude:.4f}, {longitude:.4f}"
        )
        raise SourceMalformed(message)
