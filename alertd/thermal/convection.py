"""How strongly air takes heat from a surface: film coefficients.

Nusselt numbers of textbooks for wind and for still air, joined by the cubic rule. All functions take numbers or arrays
and broadcast. The wind is that at the surface; forecasts state it at ten metres, so whoever calls applies the share
that is left down there. Properties are those at the temperature of the air, not of the film: less than 1 % for 10 K.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .air import GRAVITY, PRANDTL, ZERO_CELSIUS, air_properties
from .nusselt import (
    nusselt_cylinder_in_wind,
    nusselt_horizontal_cylinder,
    nusselt_horizontal_plate,
    nusselt_plate_in_wind,
    nusselt_vertical_plate,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import AirProperties, Numbers


def joined(forced: Numbers, free: Numbers) -> NDArray[np.float64]:
    """Return the coefficient, or Nusselt number, of wind and buoyancy together.

    Parameters
    ----------
    forced, free : float or numpy.ndarray
        Of wind alone and of still air alone, same unit; not below 0.

    Returns
    -------
    numpy.ndarray
        The cube root of the sum of the cubes, in the same unit.

    References
    ----------
    Churchill 1977, AIChE J. 23:10, from memory; exponent 3 as textbooks recommend.
    """
    forced, free = np.asarray(forced, dtype=np.float64), np.asarray(free, dtype=np.float64)
    return np.cbrt(forced * forced * forced + free * free * free)


@dataclass(frozen=True, slots=True)
class TwigFilm:
    """What is known of the film of a twig before its temperature is: so that a search for it need not repeat it.

    Parameters
    ----------
    forced : numpy.ndarray
        [1] Cube of the Nusselt number of wind alone.
    rayleigh_per_kelvin : numpy.ndarray
        [1/K] Rayleigh number by the difference of surface and air.
    scale : numpy.ndarray
        [W/(m2 K)] Conductivity of the air by the diameter.
    """

    forced: NDArray[np.float64]
    rayleigh_per_kelvin: NDArray[np.float64]
    scale: NDArray[np.float64]

    def coefficient(self, temperature_difference: Numbers) -> NDArray[np.float64]:
        """Return the film coefficient [W/(m2 K)] for a difference of surface and air [K] of either sign."""
        free = nusselt_horizontal_cylinder(self.rayleigh_per_kelvin * np.abs(temperature_difference))
        return self.scale * np.cbrt(self.forced + free * free * free)


def twig_film(diameter: Numbers, wind_speed: Numbers, air_temperature: Numbers) -> TwigFilm:
    """Return the film of a horizontal twig or branch for any temperature of it.

    Parameters
    ----------
    diameter : float or numpy.ndarray
        [m]
    wind_speed : float or numpy.ndarray
        [m/s] At the twig.
    air_temperature : float or numpy.ndarray
        [°C]

    Returns
    -------
    TwigFilm
        Joined by the cubic rule, as in `joined`.
    """
    air = air_properties(air_temperature)
    forced = nusselt_cylinder_in_wind(wind_speed * diameter / air.kinematic_viscosity)
    per_kelvin = rayleigh_number(air, air_temperature, diameter, 1.0)
    return TwigFilm(forced * forced * forced, per_kelvin, air.conductivity / diameter)


def twig_film_coefficient(
    diameter: Numbers, wind_speed: Numbers, temperature_difference: Numbers, *, air_temperature: Numbers = 0.0
) -> NDArray[np.float64]:
    """Return the film coefficient of a horizontal twig or branch.

    Parameters
    ----------
    diameter : float or numpy.ndarray
        [m]
    wind_speed : float or numpy.ndarray
        [m/s] At the twig.
    temperature_difference : float or numpy.ndarray
        [K] Surface minus air; its sign does not matter.
    air_temperature : float or numpy.ndarray
        [°C]

    Returns
    -------
    numpy.ndarray
        [W/(m2 K)] Convection only.
    """
    return twig_film(diameter, wind_speed, air_temperature).coefficient(temperature_difference)


def wall_film_coefficient(
    diameter: Numbers,
    wind_speed: Numbers,
    temperature_difference: Numbers,
    *,
    height: Numbers = 0.35,
    air_temperature: Numbers = 0.0,
) -> NDArray[np.float64]:
    """Return the mean film coefficient of the wall of a standing cylinder.

    Parameters
    ----------
    diameter : float or numpy.ndarray
        [m] Along the wind.
    wind_speed : float or numpy.ndarray
        [m/s] At the wall.
    temperature_difference : float or numpy.ndarray
        [K] Surface minus air; its sign does not matter.
    height : float or numpy.ndarray
        [m] Along which air rises or sinks.
    air_temperature : float or numpy.ndarray
        [°C]

    Returns
    -------
    numpy.ndarray
        [W/(m2 K)] Convection only.
    """
    air = air_properties(air_temperature)
    reynolds = np.asarray(wind_speed, dtype=np.float64) * diameter / air.kinematic_viscosity
    rayleigh = rayleigh_number(air, air_temperature, height, temperature_difference)
    return joined(
        nusselt_cylinder_in_wind(reynolds) * air.conductivity / diameter,
        nusselt_vertical_plate(rayleigh) * air.conductivity / height,
    )


def top_film_coefficient(
    diameter: Numbers, wind_speed: Numbers, temperature_difference: Numbers, *, air_temperature: Numbers = 0.0
) -> NDArray[np.float64]:
    """Return the mean film coefficient of a flat round top.

    Parameters
    ----------
    diameter : float or numpy.ndarray
        [m] Its length along the wind; the quarter of it is the length for still air.
    wind_speed : float or numpy.ndarray
        [m/s] Along the top.
    temperature_difference : float or numpy.ndarray
        [K] Surface minus air: air rises from a warmer top, and lies on a colder one.
    air_temperature : float or numpy.ndarray
        [°C]

    Returns
    -------
    numpy.ndarray
        [W/(m2 K)] Convection only. 0 where there is neither wind nor a difference.
    """
    air = air_properties(air_temperature)
    reynolds = np.asarray(wind_speed, dtype=np.float64) * diameter / air.kinematic_viscosity
    length = np.asarray(diameter, dtype=np.float64) / 4.0
    rayleigh = rayleigh_number(air, air_temperature, length, temperature_difference)
    is_warmer = np.asarray(temperature_difference, dtype=np.float64) > 0.0
    return joined(
        nusselt_plate_in_wind(reynolds) * air.conductivity / diameter,
        nusselt_horizontal_plate(rayleigh, is_warmer=is_warmer) * air.conductivity / length,
    )


def rayleigh_number(
    air: AirProperties, air_temperature: Numbers, length: Numbers, temperature_difference: Numbers
) -> NDArray[np.float64]:
    """Return the Rayleigh number of a surface in still air.

    Parameters
    ----------
    air : AirProperties
        At the temperature of the air.
    air_temperature : float or numpy.ndarray
        [°C]
    length : float or numpy.ndarray
        [m]
    temperature_difference : float or numpy.ndarray
        [K] Its sign does not matter.

    Returns
    -------
    numpy.ndarray
        [1] With the expansion of an ideal gas.
    """
    expansion = 1.0 / (np.asarray(air_temperature, dtype=np.float64) + ZERO_CELSIUS)
    buoyancy = GRAVITY * expansion * np.abs(temperature_difference)
    cubed = np.asarray(length, dtype=np.float64) ** 3
    return buoyancy * cubed * PRANDTL / (air.kinematic_viscosity * air.kinematic_viscosity)
