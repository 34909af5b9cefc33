"""Members that are alike, so that each kind of them is solved once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import Numbers


def alike(*fields: Numbers, members: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return which members differ in anything, and which of these stands for each.

    Parameters
    ----------
    fields : float or numpy.ndarray
        What members may differ in: one number for all, or shape (n_members, ...).
    members : int
        How many there are.

    Returns
    -------
    tuple of (numpy.ndarray, numpy.ndarray)
        Places of those that differ, and for each of all members the place among these, shape (n_members,).

    Examples
    --------
    >>> different, of_all = alike(np.array([3.0, 1.0, 3.0]), 7.0, members=3)
    >>> different.tolist(), of_all.tolist()
    ([1, 0], [1, 0, 1])
    """
    arrays = [np.asarray(field, dtype=np.float64) for field in fields]
    rows = [each.reshape(members, -1) for each in arrays if each.size and each.ndim and len(each) == members]
    if not rows:
        return np.zeros(1, dtype=np.intp), np.zeros(members, dtype=np.intp)
    _, different, of_all = np.unique(np.concatenate(rows, axis=1), axis=0, return_index=True, return_inverse=True)
    return different, of_all.reshape(members)


def picked(numbers: Numbers, rows: NDArray[np.intp], members: int) -> Numbers:
    """Return the numbers of some members.

    Parameters
    ----------
    numbers : float or numpy.ndarray
        One for all, or shape (n_members, ...).
    rows : numpy.ndarray
        Places of members.
    members : int
        How many there are.

    Returns
    -------
    float or numpy.ndarray
    """
    array = np.asarray(numbers)
    return array[rows] if array.ndim > 0 and len(array) == members else numbers
