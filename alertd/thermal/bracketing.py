"""Zeros of increasing functions, for whole arrays at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

#: Rounds after which any bracket of less than 1000 K is narrower than double precision resolves [1]: each halves it.
MOST_ROUNDS = 60


def zero_of_increasing(
    function: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    residual: float,
) -> NDArray[np.float64]:
    """Return where an increasing function is zero, element by element.

    Parameters
    ----------
    function : callable
        From an array to its values, element by element; continuous and increasing.
    low, high : numpy.ndarray
        Of one shape, with function(low) <= 0 <= function(high), to rounding. Where one of them or the function is NaN,
        so is the zero.
    residual : float
        Size of the function below which an argument counts as the zero, in the function's unit: where its slope is
        at least s, the argument is off by less than residual / s.

    Returns
    -------
    numpy.ndarray
        Of the same shape.

    Notes
    -----
    Ridders 1979, IEEE Transactions on Circuits and Systems 26:979 (from memory): each round asks for the function
    twice, halves the bracket at least, and near a smooth zero doubles the digits.
    """
    at_low, at_high = function(low), function(high)
    best = (low + high) / 2.0
    for _ in range(MOST_ROUNDS):
        middle = (low + high) / 2.0
        at_middle = function(middle)
        root = np.sqrt(np.maximum(at_middle * at_middle - at_low * at_high, 0.0))
        share = np.where(root == 0.0, 0.0, at_middle / np.where(root == 0.0, 1.0, root))
        best = middle - (middle - low) * share
        at_best = function(best)
        if not np.any(np.abs(at_best) > residual):
            break
        for point, value in ((middle, at_middle), (best, at_best)):
            is_below = (value <= 0.0) & (point >= low)
            is_above = (value >= 0.0) & (point <= high)
            low, at_low = np.where(is_below, point, low), np.where(is_below, value, at_low)
            high, at_high = np.where(is_above, point, high), np.where(is_above, value, at_high)
    return best
