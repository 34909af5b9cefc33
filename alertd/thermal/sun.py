"""Where the sun stands, and what of it reaches a pot."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from alertd.site.daylight import solar_declination_and_equation_of_time

from .parameters import Parameter
from .sky import cloud_cover

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import Numbers

#: Irradiance of the sun outside the atmosphere at its mean distance [W/m2]. Source: Spencer 1971 as in
#: pvlib 0.16, seen.
SOLAR_CONSTANT = 1366.1

#: Sine of the elevation below which the beam is not told from the diffuse light [1]: 3°, as pvlib does, seen.
_LOWEST_SINE = float(np.sin(np.radians(3.0)))

#: What the sun on a pot depends on.
SUN_PARAMETERS = (
    Parameter(
        "ground_albedo",
        0.2,
        0.1,
        0.4,
        "1",
        "share of the sunlight that the ground around reflects",
        "assumed: grass and soil 0.15 to 0.25, old snow 0.5 (from memory)",
    ),
)

_DAY = np.timedelta64(1, "D")


@dataclass(frozen=True, slots=True)
class SolarPosition:
    """Where the sun stands.

    Parameters
    ----------
    elevation : numpy.ndarray
        [degrees] Of its centre above the horizon, without refraction.
    azimuth : numpy.ndarray
        [degrees] From north through east, 0 to 360.
    """

    elevation: NDArray[np.float64]
    azimuth: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SolarLoad:
    """Sunlight that falls on a standing cylinder, hour by hour; how much of it is absorbed is up to the surface.

    Parameters
    ----------
    top : numpy.ndarray
        [W/m2] On its flat top.
    wall : numpy.ndarray
        [W/m2] On its wall, mean over all of it, sunlit and shaded.
    """

    top: NDArray[np.float64]
    wall: NDArray[np.float64]


def solar_position(times: NDArray[np.datetime64], latitude: float, longitude: float) -> SolarPosition:
    """Return the position of the sun at instants.

    Parameters
    ----------
    times : numpy.ndarray
        shape (n_times,), ``datetime64[s]``, UTC, in any order.
    latitude, longitude : float
        [degrees north, degrees east]

    Returns
    -------
    SolarPosition
        Each shape (n_times,).

    Notes
    -----
    Declination and equation of time are those of `alertd.site.daylight` at 00 UTC of each day, and between them
    linear: that costs less than 0.001°.
    """
    moments = times.astype("datetime64[s]")
    declination, equation_of_time = _seasons(moments)
    minutes = (moments - moments.astype("datetime64[D]")) / np.timedelta64(60, "s")
    hour_angle = np.radians((minutes + equation_of_time) / 4.0 + longitude - 180.0)
    phi, delta = np.radians(latitude), np.radians(declination)
    sine = np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.cos(hour_angle)
    south_to_west = np.arctan2(
        np.cos(delta) * np.sin(hour_angle),
        np.cos(hour_angle) * np.cos(delta) * np.sin(phi) - np.sin(delta) * np.cos(phi),
    )
    return SolarPosition(np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0))), (np.degrees(south_to_west) + 180.0) % 360.0)


def _seasons(moments: NDArray[np.datetime64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return declination [degrees] and equation of time [min] at instants."""
    if moments.size == 0:
        return np.zeros(0), np.zeros(0)
    days = np.arange(moments.min().astype("datetime64[D]"), moments.max().astype("datetime64[D]") + 2 * _DAY, _DAY)
    midnights = [datetime.fromtimestamp(int(day), UTC) for day in days.astype("datetime64[s]").astype(np.int64)]
    knots = np.array([solar_declination_and_equation_of_time(midnight) for midnight in midnights])
    position = (moments - days[0]) / _DAY
    axis = np.arange(days.size, dtype=np.float64)
    return np.interp(position, axis, knots[:, 0]), np.interp(position, axis, knots[:, 1])


def _half_an_hour_after(times: NDArray[np.datetime64]) -> NDArray[np.datetime64]:
    """Return the middles of the hours that begin at the times."""
    seconds = times.astype("datetime64[s]").astype(np.int64) + 1800
    return seconds.astype("datetime64[s]")


def extraterrestrial_irradiance(times: NDArray[np.datetime64]) -> NDArray[np.float64]:
    """Return the irradiance of the sun outside the atmosphere.

    Parameters
    ----------
    times : numpy.ndarray
        shape (n_times,), ``datetime64``, UTC.

    Returns
    -------
    numpy.ndarray
        [W/m2] On a surface that faces the sun.

    References
    ----------
    Duffie & Beckman, Solar Engineering of Thermal Processes, equation 1.4.1a, from memory.
    """
    days = times.astype("datetime64[D]")
    day_of_year: NDArray[np.float64] = (days - days.astype("datetime64[Y]").astype("datetime64[D]")) / _DAY + 1.0
    return SOLAR_CONSTANT * (1.0 + 0.033 * np.cos(2.0 * np.pi * day_of_year / 365.0))


def clear_irradiance(elevation: Numbers) -> NDArray[np.float64]:
    """Return the global irradiance of a clear sky.

    Parameters
    ----------
    elevation : float or numpy.ndarray
        [degrees] Of the sun.

    Returns
    -------
    numpy.ndarray
        [W/m2] On the horizontal; 0 while the sun is down.

    References
    ----------
    Haurwitz 1945, J. Meteorology 2:154, with the constants 1098 W/m2 and 0.059 that Reno, Hansen & Stein 2012
    (SAND2012-2389) give and pvlib uses; seen in the source of pvlib 0.16.
    """
    sine = np.sin(np.radians(np.asarray(elevation, dtype=np.float64)))
    above = np.maximum(sine, 1e-3)  # below it the exponential is 0 anyway
    return np.where(sine > 0.0, 1098.0 * above * np.exp(-0.059 / above), 0.0)


def global_irradiance(elevation: Numbers, cloud: Numbers) -> NDArray[np.float64]:
    """Return the global irradiance under clouds.

    Parameters
    ----------
    elevation : float or numpy.ndarray
        [degrees] Of the sun.
    cloud : float or numpy.ndarray
        [1] Cloud cover, 0 to 1.

    Returns
    -------
    numpy.ndarray
        [W/m2] On the horizontal.

    Raises
    ------
    ValueError
        If a cloud cover lies outside 0 to 1.

    References
    ----------
    Kasten & Czeplak 1980, Solar Energy 24:177: a share 1 - 0.75 N^3.4 is left; from memory.
    """
    return clear_irradiance(elevation) * (1.0 - 0.75 * cloud_cover(cloud) ** 3.4)


def diffuse_share(clearness: Numbers) -> NDArray[np.float64]:
    """Return the share of the global irradiance that comes from all over the sky.

    Parameters
    ----------
    clearness : float or numpy.ndarray
        [1] Global irradiance by the extraterrestrial one on the horizontal, 0 to 1.

    Returns
    -------
    numpy.ndarray
        [1]

    References
    ----------
    Erbs, Klein & Duffie 1982, Solar Energy 28:293, equation 1; seen in the source of pvlib 0.16.
    """
    kt = np.asarray(clearness, dtype=np.float64)
    middle = 0.9511 + kt * (-0.1604 + kt * (4.388 + kt * (-16.638 + kt * 12.336)))
    return np.where(kt <= 0.22, 1.0 - 0.09 * kt, np.where(kt <= 0.8, middle, 0.165))  # noqa: PLR2004


def solar_load(
    times: NDArray[np.datetime64], latitude: float, longitude: float, cloud: Numbers, *, ground_albedo: float = 0.2
) -> SolarLoad:
    """Return the sunlight on a standing cylinder without shade, for the hours that begin at the times.

    Parameters
    ----------
    times : numpy.ndarray
        shape (n_times,), ``datetime64[s]``, UTC: the sun is taken at the middle of the hour that begins then.
    latitude, longitude : float
        [degrees north, degrees east]
    cloud : float or numpy.ndarray
        [1] Cloud cover, 0 to 1, that broadcasts with shape (n_times,).
    ground_albedo : float
        [1] Share that the ground around reflects.

    Returns
    -------
    SolarLoad
        Of the shape of the cloud cover broadcast with (n_times,).

    Raises
    ------
    ValueError
        If a cloud cover lies outside 0 to 1.

    Notes
    -----
    The beam falls on a wall with its shadow, 1/pi of the wall, times the cosine of the elevation; half of the wall's
    view is sky, as bright all over, and half ground.
    """
    middle = _half_an_hour_after(times)
    elevation = solar_position(middle, latitude, longitude).elevation
    sine = np.sin(np.radians(elevation))
    irradiance = global_irradiance(elevation, cloud)
    beyond = extraterrestrial_irradiance(middle) * np.maximum(sine, _LOWEST_SINE)
    diffuse = irradiance * diffuse_share(np.minimum(irradiance / beyond, 1.0))
    is_beam = sine > _LOWEST_SINE
    beam = np.where(is_beam, (irradiance - diffuse) / np.where(is_beam, sine, 1.0), 0.0)
    wall = beam * np.cos(np.radians(elevation)) / np.pi + 0.5 * (diffuse + ground_albedo * irradiance)
    return SolarLoad(irradiance, wall)
