"""What a surface exchanges heat with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Film:
    """An effective temperature behind an effective conductance, hour by hour.

    Convection, long-wave exchange with sky and surroundings, absorbed sun and any insulation of a surface come
    together in these two.

    Parameters
    ----------
    temperature : numpy.ndarray
        [°C] shape (n_members, n_times): from each time to the next.
    conductance : numpy.ndarray
        [W/(m2 K)] Same shape; 0 is perfect insulation.

    Raises
    ------
    ValueError
        If the shapes differ or are not of two dimensions, a value is not finite or a conductance is below 0.
    """

    temperature: NDArray[np.float64]
    conductance: NDArray[np.float64]

    def __post_init__(self) -> None:
        """Refuse what is no film."""
        if self.temperature.ndim != 2 or self.temperature.shape != self.conductance.shape:  # noqa: PLR2004
            message = f"film of temperatures {self.temperature.shape} and conductances {self.conductance.shape}"
            raise ValueError(message)
        if not (np.isfinite(self.temperature).all() and np.isfinite(self.conductance).all()):
            message = "a film has values that are not finite"
            raise ValueError(message)
        if (self.conductance < 0.0).any():
            message = "a film has a conductance below 0"
            raise ValueError(message)
