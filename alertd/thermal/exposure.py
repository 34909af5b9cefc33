"""What a tissue will feel.

By the trade's rule it is the air temperature at screen height, plus what a cover in place gains: growers state their
thresholds in those terms. Models of root balls, wood, covers and store rooms give the same type (`felt`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import to_datetime64

if TYPE_CHECKING:
    from datetime import datetime

    from numpy.typing import NDArray

    from alertd.weather import Series


class Tissue(StrEnum):
    """What the cold may hurt."""

    ROOTS = "roots"
    WOOD = "wood"
    GROWTH = "growth"


@dataclass(frozen=True, slots=True)
class Exposure:
    """Temperature that a tissue feels, in the terms of its critical temperature.

    For wood and growth that is the screen-height air temperature of growers' thresholds, for roots by a model their own
    temperature.

    Parameters
    ----------
    tissue : Tissue
        Which.
    times : numpy.ndarray
        shape (n_times,), ``datetime64[s]``, UTC.
    temperature : numpy.ndarray
        [°C] shape (n_realizations, n_times); NaN where unknown.
    gain : float
        [°C] What the cover in place contributes by the trade's rule.
    repeats : int
        How many rows in a row belong to one realization of the weather: a model's own uncertainty makes several of
        each.
    """

    tissue: Tissue
    times: NDArray[np.datetime64]
    temperature: NDArray[np.float64]
    gain: float
    repeats: int = 1

    def window(self, start: datetime, end: datetime) -> Exposure:
        """Return the part with start <= time < end.

        Parameters
        ----------
        start, end : datetime
            Aware.

        Returns
        -------
        Exposure
            Possibly without any time; arrays are views.
        """
        first, last = np.searchsorted(self.times, [to_datetime64(start), to_datetime64(end)], side="left")
        return replace(self, times=self.times[first:last], temperature=self.temperature[:, first:last])


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
