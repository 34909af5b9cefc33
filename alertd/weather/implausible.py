"""Which values cannot be true; every function marks them, none changes them.

Written for forecasts of many realizations at every evaluation: whatever is clean leaves by whole-array
comparisons, and only realizations with a jump are looked at one by one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .quality_settings import QualitySettings

#: [s] Equal values further apart than this do not make one stuck run. Assumed: six-hourly values are the
#: coarsest in use.
_STUCK_STEP = 6 * 3600


def is_out_of_range(values: NDArray[np.float64], lowest: float, highest: float) -> NDArray[np.bool_]:
    """Return where values are outside a range; missing ones are not.

    Parameters
    ----------
    values : numpy.ndarray
        shape (n_realizations, n_times).
    lowest, highest : float
        [unit of `values`] Both still inside.

    Returns
    -------
    numpy.ndarray
        Same shape.
    """
    return (values < lowest) | (values > highest)


def is_above_air(
    dew_point: NDArray[np.float64], air_temperature: NDArray[np.float64], excess: float
) -> NDArray[np.bool_]:
    """Return where the dew point stands above the air temperature by more than an excess.

    Parameters
    ----------
    dew_point, air_temperature : numpy.ndarray
        [°C] shape (n_realizations, n_times); nothing is said where either is missing.
    excess : float
        [°C].

    Returns
    -------
    numpy.ndarray
        Same shape.
    """
    return dew_point > air_temperature + excess


def has_implausible_rate(
    seconds: NDArray[np.int64], values: NDArray[np.float64], settings: QualitySettings
) -> NDArray[np.bool_]:
    """Return which values lie between a jump and a jump back, or beyond a jump at either end.

    Parameters
    ----------
    seconds : numpy.ndarray
        [s] shape (n_times,), increasing.
    values : numpy.ndarray
        [°C] shape (n_realizations, n_times); neighbours are the nearest values that are not missing.
    settings : QualitySettings
        Limits.

    Returns
    -------
    numpy.ndarray
        Same shape as `values`.
    """
    fails = np.zeros(values.shape, dtype=bool)
    present = ~np.isnan(values)
    columns = present.all(axis=0)
    if np.array_equal(columns, present.any(axis=0)):
        rows = np.flatnonzero(_is_jump(seconds[columns], values[:, columns], settings).any(axis=1))
    else:
        rows = np.arange(values.shape[0])
    for row in rows:
        places = np.flatnonzero(present[row])
        fails[row, places] = _spikes(seconds[places], values[row, places], settings)
    return fails


def _is_jump(seconds: NDArray[np.int64], values: NDArray[np.float64], settings: QualitySettings) -> NDArray[np.bool_]:
    """Return which steps between neighbours are too large for the time that they take."""
    is_near = np.diff(seconds) <= settings.step_time.total_seconds()
    return (np.abs(np.diff(values)) > settings.largest_step) & is_near


def _spikes(seconds: NDArray[np.int64], values: NDArray[np.float64], settings: QualitySettings) -> NDArray[np.bool_]:
    """Return which values of one realization, none of them missing, a jump and a jump back enclose."""
    fails = np.zeros(values.size, dtype=bool)
    jumps = np.flatnonzero(_is_jump(seconds, values, settings)).tolist()
    rises = [bool(values[jump + 1] > values[jump]) for jump in jumps]
    place = 0
    while place < len(jumps):
        jump, after = jumps[place], place + 1
        if after < len(jumps) and rises[after] != rises[place] and jumps[after] - jump <= settings.spike_values:
            fails[jump + 1 : jumps[after] + 1] = True
            place += 2
            continue
        if jump == 0:
            fails[0] = True
        if jump == values.size - 2:
            fails[-1] = True
        place += 1
    return fails


def is_stuck(seconds: NDArray[np.int64], values: NDArray[np.float64], settings: QualitySettings) -> NDArray[np.bool_]:
    """Return which values belong to a run of equal ones that is too long.

    Parameters
    ----------
    seconds : numpy.ndarray
        [s] shape (n_times,), increasing.
    values : numpy.ndarray
        shape (n_realizations, n_times); a missing value ends a run.
    settings : QualitySettings
        Limits.

    Returns
    -------
    numpy.ndarray
        Same shape as `values`.
    """
    fails = np.zeros(values.shape, dtype=bool)
    is_equal = np.zeros((values.shape[0], values.shape[1] + 1), dtype=np.int8)
    is_equal[:, 1:-1] = (values[:, 1:] == values[:, :-1]) & (np.diff(seconds) <= _STUCK_STEP)
    edges = np.diff(is_equal, axis=1)
    rows, firsts = np.nonzero(edges == 1)
    lasts = np.nonzero(edges == -1)[1]
    is_long = seconds[lasts] - seconds[firsts] > settings.stuck_time.total_seconds()
    for run in np.flatnonzero(is_long & (lasts - firsts + 1 >= settings.stuck_values)):
        fails[rows[run], firsts[run] : lasts[run] + 1] = True
    return fails
