"""Temperatures of the ground, as a model has them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class SoilTemperatures:
    """Temperatures of the ground by a model's own word.

    Parameters
    ----------
    model : str
        Name of the model: what a depth means depends on it.
    depths : tuple of (float, float)
        Top and bottom of each layer [m] below the surface; equal for a level.
    times : numpy.ndarray
        shape (n_times,), ``datetime64[s]``, UTC, strictly increasing.
    values : numpy.ndarray
        shape (n_depths, n_realizations, n_times) [°C], NaN where missing.
    """

    model: str
    depths: tuple[tuple[float, float], ...]
    times: NDArray[np.datetime64]
    values: NDArray[np.float64]
