"""Positions as forecast services write them, and how far apart two of them are."""

from __future__ import annotations

import math
from decimal import ROUND_DOWN, Decimal

#: [m] Mean radius of the Earth, 6371.0088 km: International Union of Geodesy and Geophysics (from memory).
EARTH_RADIUS = 6_371_008.8

_FOUR_DECIMALS = Decimal("0.0001")


def coordinate_text(coordinate: float) -> str:
    """Return a latitude or longitude as it is asked for: at most four decimals, cut and not rounded.

    Services refuse or redirect more decimals, and trailing zeros; four are 11 m.

    Parameters
    ----------
    coordinate : float
        [degrees]

    Returns
    -------
    str
        Without exponent, without trailing zeros and without a minus before zero.

    Examples
    --------
    >>> coordinate_text(-71.987654), coordinate_text(59.9), coordinate_text(-0.00004)
    ('-71.9876', '59.9', '0')
    """
    cut = Decimal(repr(float(coordinate))).quantize(_FOUR_DECIMALS, rounding=ROUND_DOWN)
    text = f"{cut:f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def great_circle_distance(latitude: float, longitude: float, other_latitude: float, other_longitude: float) -> float:
    """Return how far apart two places are on a sphere.

    Parameters
    ----------
    latitude, longitude : float
        [degrees north, degrees east] of one place; any longitude, so that the date line is no border.
    other_latitude, other_longitude : float
        [degrees north, degrees east] of the other one.

    Returns
    -------
    float
        [m]

    Notes
    -----
    The haversine formula, ``2 R asin(sqrt(sin²(Δφ/2) + cos φ1 cos φ2 sin²(Δλ/2)))`` (from memory). The Earth's
    flattening is left out: an error of at most 0.6 %.

    Examples
    --------
    >>> round(great_circle_distance(0.0, 179.5, 0.0, -179.5) / 1000.0)
    111
    """
    first, second = math.radians(latitude), math.radians(other_latitude)
    half_north = math.sin((second - first) / 2.0)
    half_east = math.sin(math.radians(other_longitude - longitude) / 2.0)
    square = half_north**2 + math.cos(first) * math.cos(second) * half_east**2
    return 2.0 * EARTH_RADIUS * math.asin(math.sqrt(min(square, 1.0)))
