"""Air temperature at another elevation of the same place."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from .series import Series

if TYPE_CHECKING:
    from collections.abc import Iterable

    from .series import PeriodMinimum

#: Fall of air temperature with elevation [K/m]: 6.5 K/km in the ICAO standard atmosphere (from memory). A mean:
#: under a night's inversion the truth may have the other sign, so that a model point should be near the garden.
STANDARD_LAPSE_RATE = 0.0065

_DEW_POINT = "dew_point_temperature"


def at_elevation(series: Series, from_elevation: float, to_elevation: float) -> Series:
    """Return weather of one elevation as it would be at another one.

    Air temperature changes by the standard lapse rate. The dew point is brought down to the new air temperature
    where it would lie above it, and otherwise kept, as everything else is.

    Parameters
    ----------
    series : Series
        Any.
    from_elevation, to_elevation : float
        Elevation of the series and the one wanted [m].

    Returns
    -------
    Series
        A new one.
    """
    air_temperature = series.air_temperature + _change(from_elevation, to_elevation)
    variables = {**series.variables, "air_temperature": air_temperature}
    if _DEW_POINT in variables:
        dew_point = variables[_DEW_POINT]
        variables[_DEW_POINT] = np.where(dew_point > air_temperature, air_temperature, dew_point)
    return Series(series.times, variables)


def minima_at_elevation(
    minima: Iterable[PeriodMinimum], from_elevation: float, to_elevation: float
) -> tuple[PeriodMinimum, ...]:
    """Return lowest air temperatures of periods as they would be at another elevation.

    Parameters
    ----------
    minima : iterable of PeriodMinimum
        Any.
    from_elevation, to_elevation : float
        Elevation of the minima and the one wanted [m].

    Returns
    -------
    tuple of PeriodMinimum
        In the same order.
    """
    change = _change(from_elevation, to_elevation)
    return tuple(replace(minimum, air_temperature=minimum.air_temperature + change) for minimum in minima)


def _change(from_elevation: float, to_elevation: float) -> float:
    """Return by how much it is warmer at the elevation wanted [K]."""
    return (from_elevation - to_elevation) * STANDARD_LAPSE_RATE
