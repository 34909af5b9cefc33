"""The ground: what it is of, and how warm the days before have left it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .column import HOUR
from .medium import Medium
from .parameters import Parameter

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import Numbers

#: Moist garden loam. Source: assumed, in the range of tables for moist loam (from memory); 0.18 m3/m3 of its water
#: freezes.
GARDEN_LOAM = Medium(1.2, 1.8, 2.4e6, 2.0e6, 6.0e7)

#: Depth at which the ground is taken as of one temperature all week [m]. Source: the wave of a year is damped to a
#: third in 2.2 m of moist loam, that of a week in 0.3 m.
DEEP = 2.0

#: Time in which the surface of the ground follows the air [s]. Assumed: 3 days.
SURFACE_LAG = 72.0 * HOUR

#: Hours of the air by which a column starts [1]; from then on it is solved. Assumed: 3 days.
FIRST_HOURS = 72

#: Hours before the forecast that are solved [1]: a wave of a week is damped to a third in 0.3 m. Assumed.
SOLVED_HOURS = 168

GROUND_PARAMETERS = (
    Parameter(
        name="soil_conductivity_factor",
        value=1.0,
        low=0.6,
        high=1.4,
        unit="1",
        meaning="how well the soil lets heat through, by moist garden loam",
        provenance="assumed",
    ),
    Parameter(
        name="deep_ground_temperature",
        value=10.0,
        low=8.0,
        high=12.0,
        unit="Cel",
        meaning="temperature of the ground two metres down in winter",
        provenance="assumed",
    ),
)


def first_solved(past: int) -> int:
    """Return from which hour on a column is solved, of hours that have passed: what lies before is where it starts."""
    return max(past - SOLVED_HOURS, 0)


def first_days(air_temperature: NDArray[np.float64], past: int) -> NDArray[np.float64]:
    """Return the air by which a column starts [°C], of shape (n_members, n_times) with `past` hours in front."""
    return air_temperature[:, : max(min(past, FIRST_HOURS), first_solved(past))]


def lagged(series: NDArray[np.float64], lag: float = SURFACE_LAG, step: float = HOUR) -> NDArray[np.float64]:
    """Return the temperature of what has followed the air.

    Parameters
    ----------
    series : numpy.ndarray
        [°C] The air, oldest first, shape (n_members, n_times), at least one time.
    lag : float
        [s] In which it follows to about two thirds.
    step : float
        [s] Between two values.

    Returns
    -------
    numpy.ndarray
        [°C] At the end, shape (n_members,). Before the first value it had their mean.
    """
    weights = np.exp(-step / lag * np.arange(series.shape[1])[::-1]) * -np.expm1(-step / lag)
    return np.asarray(series @ weights + series.mean(axis=1) * (1.0 - weights.sum()))


def start_profile(
    past: NDArray[np.float64],
    depths: NDArray[np.float64],
    *,
    deep_ground_temperature: Numbers = 10.0,
    coldest_surface: float = 0.0,
) -> NDArray[np.float64]:
    """Return how warm the ground is after the weather of some days.

    Parameters
    ----------
    past : numpy.ndarray
        [°C] Air of the days before, hour by hour, shape (n_members, n_times).
    depths : numpy.ndarray
        [m] Below the surface of the soil, shape (n_depths,); at and above it the surface.
    deep_ground_temperature : float or numpy.ndarray
        [°C] At 2 m.
    coldest_surface : float
        [°C] No colder the surface starts. Assumed: 0 °C; frost of the days before has to come out of the solved
        days, which know of freezing.

    Returns
    -------
    numpy.ndarray
        [°C] shape (n_depths, n_members), a straight line from the surface to 2 m (assumed).
    """
    surface = np.maximum(lagged(past), coldest_surface)
    share = np.clip(depths / DEEP, 0.0, 1.0)[:, None]
    return np.asarray(surface * (1.0 - share) + deep_ground_temperature * share)
