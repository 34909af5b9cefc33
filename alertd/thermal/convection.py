"""How strongly air takes heat from a surface: film coefficients.

Nusselt numbers of textbooks for wind and for still air, joined by the cubic rule. All functions take numbers or arrays
and broadcast. The wind is that at the surface; forecasts state it at ten metres, so whoever calls applies the share
that is left down there. Properties are those at the temperature of the air, not of the film: less than 1 % for 10 K.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .air import GRAVITY, ZERO_CELSIUS, air_properties

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import AirProperties, Numbers


def nusselt_cylinder_in_wind(reynolds: Numbers, prandtl: Numbers) -> NDArray[np.float64]:
    """Return the mean Nusselt number of a cylinder across the wind.

    Parameters
    ----------
    reynolds, prandtl : float or numpy.ndarray
        [1] With the diameter as length; for Re Pr above 0.2.

    Returns
    -------
    numpy.ndarray
        [1]

    References
    ----------
    Churchill & Bernstein 1977, J. Heat Transfer 99:300, equation 10; seen in the source of the package ht 1.2.
    """
    re = np.asarray(reynolds, dtype=np.float64)
    pr = np.asarray(prandtl, dtype=np.float64)
    laminar = 0.62 * np.sqrt(re) * np.cbrt(pr) / (1.0 + (0.4 / pr) ** (2.0 / 3.0)) ** 0.25
    return 0.3 + laminar * (1.0 + (re / 282000.0) ** 0.625) ** 0.8


def nusselt_plate_in_wind(reynolds: Numbers, prandtl: Numbers) -> NDArray[np.float64]:
    """Return the mean Nusselt number of a flat plate along the wind.

    Parameters
    ----------
    reynolds, prandtl : float or numpy.ndarray
        [1] With the length of the plate; for Re from 10 to 1e7 and Pr around 0.7.

    Returns
    -------
    numpy.ndarray
        [1]

    Notes
    -----
    The root of the sum of the squares of the laminar and of the turbulent number: outdoor wind is never quite laminar.

    References
    ----------
    VDI Heat Atlas 2010, chapter G4 (from memory): laminar 0.664 Re^(1/2) Pr^(1/3), turbulent after Schlichting, seen in
    the source of the package ht 1.2.
    """
    re = np.asarray(reynolds, dtype=np.float64)
    pr = np.asarray(prandtl, dtype=np.float64)
    laminar = 0.664 * np.sqrt(re) * np.cbrt(pr)
    # The quotient of Schlichting's equation, multiplied by Re^0.1 so that it holds at rest too.
    turbulent = 0.037 * re**0.9 * pr / (re**0.1 + 2.443 * (np.cbrt(pr) ** 2 - 1.0))
    return np.hypot(laminar, turbulent)


def nusselt_horizontal_cylinder(rayleigh: Numbers, prandtl: Numbers) -> NDArray[np.float64]:
    """Return the mean Nusselt number of a horizontal cylinder in still air.

    Parameters
    ----------
    rayleigh, prandtl : float or numpy.ndarray
        [1] With the diameter as length; for Ra up to 1e12.

    Returns
    -------
    numpy.ndarray
        [1]

    References
    ----------
    Churchill & Chu 1975, Int. J. Heat Mass Transfer 18:1049; seen in the source of the package ht 1.2.
    """
    ra = np.asarray(rayleigh, dtype=np.float64)
    pr = np.asarray(prandtl, dtype=np.float64)
    return (0.6 + 0.387 * ra ** (1.0 / 6.0) / (1.0 + (0.559 / pr) ** (9.0 / 16.0)) ** (8.0 / 27.0)) ** 2


def nusselt_vertical_plate(rayleigh: Numbers, prandtl: Numbers) -> NDArray[np.float64]:
    """Return the mean Nusselt number of a vertical plate in still air.

    Parameters
    ----------
    rayleigh, prandtl : float or numpy.ndarray
        [1] With the height as length; for Ra from 0.1 to 1e12. Holds for vertical cylinders too, unless they are thin.

    Returns
    -------
    numpy.ndarray
        [1]

    References
    ----------
    Churchill & Chu 1975, Int. J. Heat Mass Transfer 18:1323, equation 9; seen in the source of the package ht 1.2.
    """
    ra = np.asarray(rayleigh, dtype=np.float64)
    pr = np.asarray(prandtl, dtype=np.float64)
    return (0.825 + 0.387 * ra ** (1.0 / 6.0) / (1.0 + (0.492 / pr) ** (9.0 / 16.0)) ** (8.0 / 27.0)) ** 2


def nusselt_horizontal_plate(rayleigh: Numbers, *, is_warmer: bool | NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return the mean Nusselt number of a plate that faces up, in still air.

    Parameters
    ----------
    rayleigh : float or numpy.ndarray
        [1] With a quarter of the diameter (area by perimeter) as length; up to 1e10.
    is_warmer : bool or numpy.ndarray
        Whether the plate is warmer than the air. Then air rises from it, else a cold pool lies on it.

    Returns
    -------
    numpy.ndarray
        [1]

    References
    ----------
    McAdams 1954, Heat Transmission; seen in the source of the package ht 1.2.
    """
    ra = np.asarray(rayleigh, dtype=np.float64)
    laminar = np.sqrt(np.sqrt(ra))
    warm = np.where(ra <= 1e7, 0.54 * laminar, 0.15 * np.cbrt(ra))  # noqa: PLR2004
    return np.where(is_warmer, warm, 0.27 * laminar)


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
    air = air_properties(air_temperature)
    reynolds = np.asarray(wind_speed, dtype=np.float64) * diameter / air.kinematic_viscosity
    rayleigh = rayleigh_number(air, air_temperature, diameter, temperature_difference)
    nusselt = joined(
        nusselt_cylinder_in_wind(reynolds, air.prandtl), nusselt_horizontal_cylinder(rayleigh, air.prandtl)
    )
    return nusselt * air.conductivity / diameter


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
        nusselt_cylinder_in_wind(reynolds, air.prandtl) * air.conductivity / diameter,
        nusselt_vertical_plate(rayleigh, air.prandtl) * air.conductivity / height,
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
        nusselt_plate_in_wind(reynolds, air.prandtl) * air.conductivity / diameter,
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
    return buoyancy * cubed * air.prandtl / (air.kinematic_viscosity * air.kinematic_viscosity)
