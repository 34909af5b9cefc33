"""How much of a stretch of time a series says anything about."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import to_datetime64

if TYPE_CHECKING:
    from datetime import datetime

    from numpy.typing import NDArray

    from .series import Series


def usable_times(series: Series) -> NDArray[np.bool_]:
    """Return at which times at least half of the realizations have an air temperature.

    Parameters
    ----------
    series : Series
        Any.

    Returns
    -------
    numpy.ndarray
        shape (n_times,).
    """
    present = np.count_nonzero(~np.isnan(series.air_temperature), axis=0)
    return np.asarray((present > 0) & (2 * present >= series.n_realizations), dtype=np.bool_)


def longest_gap(series: Series, start: datetime, end: datetime) -> timedelta:
    """Return the longest stretch of a window in which a series has no usable air temperature.

    The stretch before the first usable time and the one after the last count too.

    Parameters
    ----------
    series : Series
        Any.
    start, end : datetime
        Aware; the window, both edges included.

    Returns
    -------
    timedelta
        The whole window if nothing in it is usable; one step of the series if nothing is missing.

    Raises
    ------
    ValueError
        If the window ends before it starts or an instant is naive.
    """
    edges = np.array([to_datetime64(start), to_datetime64(end)])
    if edges[1] < edges[0]:
        message = f"the window ends at {end.isoformat()}, before it starts at {start.isoformat()}"
        raise ValueError(message)
    inside = usable_times(series) & (series.times >= edges[0]) & (series.times <= edges[1])
    points = np.concatenate([edges[:1], series.times[inside], edges[1:]])
    return timedelta(seconds=int(np.diff(points).max().astype("int64")))
