"""Sunrise and sunset.

Low-precision solar position after Meeus as the US National Oceanic and Atmospheric Administration
publishes it in its solar calculation sheets; within two minutes of reference libraries up to 65° of
latitude (tested), less exact where the sun grazes the horizon.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from math import acos, cos, degrees, radians, sin, tan

#: Zenith of the sun's centre at sunrise and sunset [degrees]: 90° plus 34' of refraction and 16' of
#: radius. Source: NOAA solar calculation details (from memory).
SUNRISE_ZENITH = 90.833

_DAYS_PER_CENTURY = 36525.0
_J2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)


class Sun(StrEnum):
    """How the sun moves on one day."""

    RISES = "rises"
    ALWAYS_UP = "always up"
    ALWAYS_DOWN = "always down"


@dataclass(frozen=True, slots=True)
class Daylight:
    """The light of one local date.

    Parameters
    ----------
    sun : Sun
        Whether it rises and sets at all.
    sunrise, sunset : datetime or None
        Aware UTC; ``None`` unless the sun rises and sets.
    """

    sun: Sun
    sunrise: datetime | None = None
    sunset: datetime | None = None


def solar_declination_and_equation_of_time(instant: datetime) -> tuple[float, float]:
    """Return where the sun stands among the seasons.

    Parameters
    ----------
    instant : datetime
        Aware.

    Returns
    -------
    declination : float
        [degrees]
    equation_of_time : float
        [min] Apparent minus mean solar time.

    References
    ----------
    Meeus, Astronomical Algorithms, 2nd edition 1998, chapters 25 and 28, in NOAA's short form, from memory.
    """
    century = (instant - _J2000) / timedelta(days=_DAYS_PER_CENTURY)
    mean_longitude = (280.46646 + century * (36000.76983 + century * 0.0003032)) % 360.0
    mean_anomaly = radians(357.52911 + century * (35999.05029 - 0.0001537 * century))
    eccentricity = 0.016708634 - century * (0.000042037 + 0.0000001267 * century)
    centre = (
        sin(mean_anomaly) * (1.914602 - century * (0.004817 + 0.000014 * century))
        + sin(2.0 * mean_anomaly) * (0.019993 - 0.000101 * century)
        + sin(3.0 * mean_anomaly) * 0.000289
    )
    node = radians(125.04 - 1934.136 * century)
    apparent_longitude = radians(mean_longitude + centre - 0.00569 - 0.00478 * sin(node))
    obliquity = radians(23.0 + (26.0 + 21.448 / 60.0) / 60.0 - 0.0130042 * century + 0.00256 * cos(node))
    sine_of_declination = sin(obliquity) * sin(apparent_longitude)
    declination = 90.0 - degrees(acos(sine_of_declination))
    y = tan(obliquity / 2.0) ** 2
    longitude = radians(mean_longitude)
    equation_of_time = 4.0 * degrees(
        y * sin(2.0 * longitude)
        - 2.0 * eccentricity * sin(mean_anomaly)
        + 4.0 * eccentricity * y * sin(mean_anomaly) * cos(2.0 * longitude)
        - 0.5 * y * y * sin(4.0 * longitude)
        - 1.25 * eccentricity * eccentricity * sin(2.0 * mean_anomaly)
    )
    return declination, equation_of_time


def daylight(latitude: float, longitude: float, day: date) -> Daylight:
    """Return sunrise and sunset around the solar noon of a date.

    Parameters
    ----------
    latitude, longitude : float
        [degrees north, degrees east]
    day : datetime.date
        The date of the solar noon in local mean solar time.

    Returns
    -------
    Daylight
        Times in UTC, or that the sun does not rise or set.
    """
    noon = datetime.combine(day, time(12), tzinfo=UTC) - timedelta(minutes=4.0 * longitude)
    declination, equation_of_time = solar_declination_and_equation_of_time(noon)
    half_day = _half_day(latitude, declination)
    if isinstance(half_day, Sun):
        return Daylight(half_day)
    events = []
    for sign in (-1.0, 1.0):
        moment = noon - timedelta(minutes=equation_of_time) + sign * half_day
        declination_then, equation_then = solar_declination_and_equation_of_time(moment)
        half_day_then = _half_day(latitude, declination_then)
        refined = half_day if isinstance(half_day_then, Sun) else half_day_then
        events.append(noon - timedelta(minutes=equation_then) + sign * refined)
    return Daylight(Sun.RISES, events[0], events[1])


def _half_day(latitude: float, declination: float) -> timedelta | Sun:
    """Return the time from sunrise to noon, or that there is no sunrise."""
    phi, delta = radians(latitude), radians(declination)
    divisor = cos(phi) * cos(delta)
    excess = cos(radians(SUNRISE_ZENITH)) - sin(phi) * sin(delta)
    if excess >= divisor:
        return Sun.ALWAYS_DOWN
    if excess <= -divisor:
        return Sun.ALWAYS_UP
    return timedelta(minutes=4.0 * degrees(acos(excess / divisor)))
