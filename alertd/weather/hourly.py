"""Series on whole hours."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .series import Series

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: [s]
_HOUR = 3600

#: [s] Values are interpolated between times at most this far apart. Assumed: three-hourly forecasts are
#: common; across more, the minimum of a night could hide.
LARGEST_INTERPOLATED_STEP = 3 * _HOUR


def hourly_axis(series: Series) -> NDArray[np.datetime64]:
    """Return the whole hours from the first to the last time of a series.

    Parameters
    ----------
    series : Series
        Any.

    Returns
    -------
    numpy.ndarray
        shape (n_hours,), ``datetime64[s]``; without any hour if none lies between the first and the last time.
    """
    if not series.n_times:
        return series.times
    seconds = series.times[[0, -1]].astype(np.int64)
    hours = np.arange(-(-seconds[0] // _HOUR) * _HOUR, seconds[1] + 1, _HOUR)
    return hours.astype("datetime64[s]")


def at_hours(series: Series, hours: NDArray[np.datetime64]) -> Series:
    """Return a series on a given hourly axis.

    Parameters
    ----------
    series : Series
        At any times.
    hours : numpy.ndarray
        shape (n_hours,), ``datetime64[s]``, increasing.

    Returns
    -------
    Series
        Linear between neighbouring values at most 3 h apart, missing across larger gaps and outside.
        Precipitation amounts are taken as fallen evenly since the value before (assumed), so that
        their sum is kept.
    """
    if np.array_equal(series.times, hours):
        return series
    seconds, targets = series.times.astype(np.int64), hours.astype(np.int64)
    variables = {
        name: _interpolated(seconds, values, targets, is_amount=name == "precipitation_amount")
        for name, values in series.variables.items()
    }
    return Series(hours, variables)


def _interpolated(
    seconds: NDArray[np.int64], values: NDArray[np.float64], targets: NDArray[np.int64], *, is_amount: bool
) -> NDArray[np.float64]:
    """Return values of all realizations at other times; those that miss the same values go together."""
    result = np.full((values.shape[0], targets.size), np.nan)
    patterns, members = np.unique(~np.isnan(values), axis=0, return_inverse=True)
    for place, present in enumerate(patterns):
        if present.any():
            rows = np.flatnonzero(members.ravel() == place)
            part = values[np.ix_(rows, present)]
            result[rows] = _interpolated_complete(seconds[present], part, targets, is_amount=is_amount)
    return result


def _interpolated_complete(
    seconds: NDArray[np.int64], values: NDArray[np.float64], targets: NDArray[np.int64], *, is_amount: bool
) -> NDArray[np.float64]:
    """Return values without gaps, shape (n_realizations, n_times > 0), at other times."""
    right = np.searchsorted(seconds, targets, side="left").clip(max=seconds.size - 1)
    left = np.maximum(right - 1, 0)
    step = seconds[right] - seconds[left]
    is_exact = seconds[right] == targets
    is_between = (seconds[left] < targets) & (targets < seconds[right]) & (step <= LARGEST_INTERPOLATED_STEP)
    if is_amount:
        has_step = (step > 0) & (step <= LARGEST_INTERPOLATED_STEP)
        share = np.where(has_step, _HOUR / np.maximum(step, 1), 1.0)
        return np.where(is_exact | is_between, values[:, right] * share, np.nan)
    weight = np.where(is_exact, 1.0, (targets - seconds[left]) / np.maximum(step, 1))
    inner = values[:, left] + weight * (values[:, right] - values[:, left])
    return np.where(is_exact, values[:, right], np.where(is_between, inner, np.nan))
