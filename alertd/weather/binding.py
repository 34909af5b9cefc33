"""Hourly values brought down to the minima of periods that a source states beside them.

Hourly and coarser values miss what happens between them: the minimum of a night that a source states is often
colder than the coldest of its hourly values (by up to 2.2 °C in forecasts of the US National Weather Service, seen).
No minimum is invented between the values; but one that the source states binds them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from alertd.core import to_datetime64

from .coverage import usable_times
from .series import Series

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from .series import PeriodMinimum

#: [s]
_HOUR = 3600

#: Of a period's hours at least this share must have a value, or the period is left alone: its minimum may belong
#: to hours that the series does not show. Assumed.
SMALLEST_COVERED_SHARE = 0.5

_DEW_POINT = "dew_point_temperature"


def bind_minima(series: Series, minima: Iterable[PeriodMinimum]) -> Series:
    """Return a series that is nowhere warmer over a period than the period's minimum allows.

    Where the lowest value v_min of a realization over start < t <= end is above the minimum m, the period's values
    become ``v - (v_min - m) (v_max - v) / (v_max - v_min)``: the coldest gets the whole deficit, the warmest none,
    the order of the hours is kept. Where all are equal, all become m. No value is ever raised, and binding twice
    changes nothing more.

    Parameters
    ----------
    series : Series
        With all whole hours, see `with_hours`; any number of realizations.
    minima : iterable of PeriodMinimum
        Any; they are applied in order of their ends.

    Returns
    -------
    Series
        The same if nothing had to be lowered. Periods of which fewer than half of the hours have a usable value
        are left alone, see `unbound_minima`. Dew points are lowered where they would lie above a lowered air
        temperature.
    """
    usable = usable_times(series)
    bound = series.air_temperature
    for minimum in sorted(minima, key=lambda each: (each.end, each.start)):
        place = _place(series, minimum)
        if _is_covered(series, usable, minimum, place):
            lowered = _lowered(bound[:, place], minimum.air_temperature)
            if lowered is not None:
                bound = bound.copy() if bound is series.air_temperature else bound
                bound[:, place] = lowered
    if bound is series.air_temperature:
        return series
    variables = {**series.variables, "air_temperature": bound}
    if _DEW_POINT in variables:
        dew_point = variables[_DEW_POINT]
        is_above = (bound < series.air_temperature) & (dew_point > bound)
        variables[_DEW_POINT] = np.where(is_above, bound, dew_point)
    return Series(series.times, variables)


def unbound_minima(series: Series, minima: Iterable[PeriodMinimum]) -> tuple[PeriodMinimum, ...]:
    """Return the minima that `bind_minima` leaves alone because the series shows too little of their periods.

    Parameters
    ----------
    series : Series
        As for `bind_minima`; it does not matter whether before or after.
    minima : iterable of PeriodMinimum
        Any.

    Returns
    -------
    tuple of PeriodMinimum
        In the order given.
    """
    usable = usable_times(series)
    return tuple(each for each in minima if not _is_covered(series, usable, each, _place(series, each)))


def _place(series: Series, minimum: PeriodMinimum) -> slice:
    """Return where start < t <= end."""
    edges = np.array([to_datetime64(minimum.start), to_datetime64(minimum.end)])
    first, last = np.searchsorted(series.times, edges, side="right")
    return slice(int(first), int(last))


def _is_covered(series: Series, usable: NDArray[np.bool_], minimum: PeriodMinimum, place: slice) -> bool:
    """Return whether enough hours of a period have a usable value; one within an hour counts for it."""
    seconds = series.times[place][usable[place]].astype(np.int64)
    start = int(to_datetime64(minimum.start).astype(np.int64))
    present = np.unique((seconds - start - 1) // _HOUR).size
    hours = (minimum.end - minimum.start).total_seconds() / _HOUR
    return bool(present > 0 and present >= SMALLEST_COVERED_SHARE * hours)


def _lowered(values: NDArray[np.float64], minimum: float) -> NDArray[np.float64] | None:
    """Return the values of a period, shape (n_realizations, n_times), brought down to a minimum, or None."""
    lowest, highest = np.fmin.reduce(values, axis=1, keepdims=True), np.fmax.reduce(values, axis=1, keepdims=True)
    deficit = lowest - minimum
    is_above = deficit > 0.0
    if not is_above.any():
        return None
    spread = highest - lowest
    share = np.where(spread > 0.0, (highest - values) / np.where(spread > 0.0, spread, 1.0), 1.0)
    lowered = np.maximum(values - deficit * share, minimum)
    lowered = np.where(values == lowest, minimum, lowered)
    return np.where(is_above, lowered, values)
