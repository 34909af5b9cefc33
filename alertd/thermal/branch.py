"""Thick branches, which lag behind the weather."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .convection import twig_film_coefficient
from .parameters import Parameter
from .sky import radiative_coefficient

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import Numbers

#: Resistance to heat inside a cylinder that cools, by radius and conductivity [1]: 2 by the square of the first zero of
#: J0, exact for a cold surface and some 4 % of the whole too high at a Biot number of 1 (tested).
_INNER_RESISTANCE = 0.346

#: Of thick branches.
BRANCH_PARAMETERS = (
    Parameter(
        "wood_conductivity",
        0.3,
        0.15,
        0.45,
        "W/(m.K)",
        "conductivity of fresh wood across the grain",
        "assumed: dry wood 0.15, wet wood 0.45 (from memory)",
    ),
    Parameter(
        "wood_heat_capacity",
        2.5e6,
        1.8e6,
        3.2e6,
        "J/(m3.K)",
        "heat capacity of fresh wood, without its freezing",
        "assumed: 900 kg/m3 with 2800 J/(kg K) (from memory)",
    ),
)


def branch_temperature(
    balanced: NDArray[np.float64],
    air_temperature: NDArray[np.float64],
    wind_speed: NDArray[np.float64],
    *,
    diameter: float,
    wind_share: Numbers = 0.5,
    emissivity: float = 0.95,
    wood_conductivity: float = 0.3,
    wood_heat_capacity: float = 2.5e6,
    step: float = 3600.0,
) -> NDArray[np.float64]:
    """Return the surface of a branch, whose cambium lags behind the balance because the wood stores heat.

    Parameters
    ----------
    balanced : numpy.ndarray
        [°C] shape (..., n_times): what `wood_temperature` returns for this diameter; it holds from each time on.
    air_temperature, wind_speed : numpy.ndarray
        [°C, m/s] Same shape; the wind at ten metres.
    diameter : float
        [m] Below 0.02 m nothing changes, for such wood follows within ten minutes.
    wind_share : float or numpy.ndarray
        [1] Wind at the branch by that at ten metres.
    emissivity : float
        [1] Of bark.
    wood_conductivity, wood_heat_capacity : float
        [W/(m K), J/(m3 K)] Of the wood across the grain.
    step : float
        [s] Between the times.

    Returns
    -------
    numpy.ndarray
        [°C] Same shape: at the end of each step; before the first the branch is in balance with it.

    Notes
    -----
    A long cylinder whose mean follows with one time constant, R c / 2 (1/h + 0.346 R/k), exactly for piecewise constant
    weather; of its surface that constant is the first term of the exact series. Left out: heat of freezing, which holds
    a thick branch near 0 °C for longer.
    """
    radius = diameter / 2.0
    difference = balanced - air_temperature
    film = twig_film_coefficient(diameter, wind_share * wind_speed, difference, air_temperature=air_temperature)
    outer = 1.0 / (film + radiative_coefficient(balanced, balanced, emissivity))
    whole = outer + _INNER_RESISTANCE * radius / wood_conductivity
    remaining = np.exp(-step / (0.5 * wood_heat_capacity * radius * whole))
    at_surface = outer / whole
    mean = balanced[..., 0]
    surface = np.empty_like(balanced)
    for index in range(balanced.shape[-1]):
        goal = balanced[..., index]
        mean = goal + (mean - goal) * remaining[..., index]
        surface[..., index] = goal + (mean - goal) * at_surface[..., index]
    return surface
