"""What a tissue will feel.

For now the exposure is the air temperature at screen height, plus what a cover in place gains by the
trade's rule: growers state their thresholds in those terms. Models of root balls, wood and covers
plug in here with the same type.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from alertd.weather import Series


class Tissue(StrEnum):
    """What the cold may hurt."""

    ROOTS = "roots"
    WOOD = "wood"
    GROWTH = "growth"


@dataclass(frozen=True, slots=True)
class Exposure:
    """Temperature that a tissue feels, expressed as the screen-height air temperature of the thresholds.

    Parameters
    ----------
    tissue : Tissue
        Which.
    times : numpy.ndarray
        shape (n_times,), ``datetime64[s]``, UTC.
    temperature : numpy.ndarray
        [°C] shape (n_realizations, n_times); NaN where unknown.
    gain : float
        [°C] What the cover in place contributes.
    """

    tissue: Tissue
    times: NDArray[np.datetime64]
    temperature: NDArray[np.float64]
    gain: float


def air_exposure(series: Series, tissue: Tissue, gain: float = 0.0) -> Exposure:
    """Return the exposure by the trade's rule: the air, and what the cover gains.

    Parameters
    ----------
    series : Series
        Weather, air temperature shape (n_realizations, n_times) [°C].
    tissue : Tissue
        What is exposed.
    gain : float
        [°C] Credit of the protection in place; common practice, no source: an airtight wrap closed at
        the ground gains 5 °F (2.8 °C).

    Returns
    -------
    Exposure
        Shape as the series.
    """
    temperature = series.air_temperature if gain == 0.0 else series.air_temperature + gain
    return Exposure(tissue, series.times, temperature, gain)
