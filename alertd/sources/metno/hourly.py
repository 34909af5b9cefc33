"""Hourly and then six-hourly values on whole hours, so that nights are seen."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

#: [s]
_HOUR = 3600

#: [s] Values are filled in between instants at most this far apart: the step of the later part of a forecast. What
#: falls between two of them is bound by the six-hourly minima, which are stated beside the instants.
LARGEST_FILLED_STEP = 6 * _HOUR

Seconds = NDArray[np.int64]
Values = NDArray[np.float64]


def filled_axis(seconds: Seconds) -> Seconds:
    """Return the instants and the whole hours between those of them that are at most 6 h apart.

    Parameters
    ----------
    seconds : numpy.ndarray
        shape (n_instants,): strictly increasing [s since 1970].

    Returns
    -------
    numpy.ndarray
        shape (n_times >= n_instants,): strictly increasing [s since 1970].
    """
    pieces = [seconds]
    for start, end in pairwise(seconds):
        if _HOUR < end - start <= LARGEST_FILLED_STEP:
            pieces.append(np.arange(start // _HOUR * _HOUR + _HOUR, end, _HOUR, dtype=np.int64))
    return np.unique(np.concatenate(pieces))


def filled(seconds: Seconds, values: Values, axis: Seconds) -> Values:
    """Return values on a filled axis.

    Parameters
    ----------
    seconds : numpy.ndarray
        shape (n_instants,): strictly increasing [s since 1970].
    values : numpy.ndarray
        shape (n_instants,): of a state, NaN where missing.
    axis : numpy.ndarray
        shape (n_times,): [s since 1970].

    Returns
    -------
    numpy.ndarray
        shape (n_times,): linear between neighbouring values at most 6 h apart, NaN across more and outside.
    """
    is_present = ~np.isnan(values)
    if not is_present.any():
        return np.full(axis.shape, np.nan)
    known, states = seconds[is_present], values[is_present]
    right = np.searchsorted(known, axis, side="left").clip(max=known.size - 1)
    left = np.maximum(right - 1, 0)
    is_exact = known[right] == axis
    is_between = (known[left] < axis) & (axis < known[right]) & (known[right] - known[left] <= LARGEST_FILLED_STEP)
    inner = np.where(is_between, np.interp(axis, known, states), np.nan)
    return np.where(is_exact, states[right], inner)


def spread_amounts(seconds: Seconds, amounts: Values, lengths: Seconds, axis: Seconds) -> Values:
    """Return how much falls since the time before, from amounts for the hours after each instant.

    Parameters
    ----------
    seconds : numpy.ndarray
        shape (n_instants,): strictly increasing [s since 1970].
    amounts : numpy.ndarray
        shape (n_instants,): what falls over the `lengths` after each instant, NaN where missing.
    lengths : numpy.ndarray
        shape (n_instants,): [s], above 0.
    axis : numpy.ndarray
        shape (n_times,): [s since 1970], with all instants.

    Returns
    -------
    numpy.ndarray
        shape (n_times,): taken as fallen evenly (assumed), so that the sum is kept; NaN at the first time and
        where no amount covers the whole step.
    """
    result = np.full(axis.shape, np.nan)
    place = np.searchsorted(seconds, axis[:-1], side="right") - 1
    steps = np.diff(axis)
    is_covered = axis[1:] <= seconds[place] + lengths[place]
    result[1:] = np.where(is_covered, amounts[place] * steps / lengths[place], np.nan)
    return result
