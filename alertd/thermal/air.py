"""Properties of air at which surfaces exchange heat with it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from typing import TypeAlias

    from numpy.typing import NDArray

    Numbers: TypeAlias = float | NDArray[np.float64]

#: 0 °C [K]. Source: definition of the degree Celsius.
ZERO_CELSIUS = 273.15

#: Pressure of the standard atmosphere at sea level [Pa]. Source: ISO 2533.
STANDARD_PRESSURE = 101325.0

#: Specific gas constant of dry air [J/(kg K)]. Source: U.S. Standard Atmosphere 1976, from memory.
DRY_AIR_GAS_CONSTANT = 287.05

#: Specific heat of dry air at constant pressure around 0 °C [J/(kg K)]. Source: from memory; CoolProp 8.0:
#: 1005.8 (seen).
DRY_AIR_HEAT_CAPACITY = 1006.0

#: Prandtl number of air [1]. Source: CoolProp 8.0 at 0 °C, seen; from -50 to 50 °C within 2 % of it (tested), which
#: moves a film by less than 1 %.
PRANDTL = 0.711

#: Standard acceleration of gravity [m/s2]. Source: CGPM 1901.
GRAVITY = 9.80665


@dataclass(frozen=True, slots=True)
class AirProperties:
    """What convection needs to know of air.

    Parameters
    ----------
    density : numpy.ndarray
        [kg/m3]
    conductivity : numpy.ndarray
        [W/(m K)]
    kinematic_viscosity : numpy.ndarray
        [m2/s]
    """

    density: NDArray[np.float64]
    conductivity: NDArray[np.float64]
    kinematic_viscosity: NDArray[np.float64]


def air_properties(temperature: Numbers, pressure: float = STANDARD_PRESSURE) -> AirProperties:
    """Return the properties of dry air.

    Parameters
    ----------
    temperature : float or numpy.ndarray
        [°C] Valid from -50 to 50 °C: within 1.5 % of CoolProp there (tested).
    pressure : float
        [Pa] At 1000 m above the sea it is 11 % lower and films are some 6 % weaker; the films here leave that out.

    Returns
    -------
    AirProperties
        Of the shape of the temperature.

    References
    ----------
    Sutherland's law with the constants of White, Viscous Fluid Flow (110.4 K for viscosity, 194 K for conductivity),
    from memory; conductivity at 0 °C 0.02436 W/(m K) from CoolProp 8.0, seen.
    """
    kelvin = np.asarray(temperature, dtype=np.float64) + ZERO_CELSIUS
    ratio = kelvin / ZERO_CELSIUS
    growth = ratio * np.sqrt(ratio)
    viscosity = 1.716e-5 * growth * (ZERO_CELSIUS + 110.4) / (kelvin + 110.4)
    conductivity = 0.02436 * growth * (ZERO_CELSIUS + 194.0) / (kelvin + 194.0)
    density = pressure / (DRY_AIR_GAS_CONSTANT * kelvin)
    return AirProperties(density, conductivity, viscosity / density)
