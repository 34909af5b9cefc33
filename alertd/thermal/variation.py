"""How much it matters that the numbers of a model are not known better, realization by realization.

What a number matters depends on how cold it gets: while water freezes in a root ball, all pots are at 0 °C, and none of
their numbers seems to matter; where it has frozen, they do. So numbers are varied on a cold realization, too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

#: Which of the realizations, by their lowest air temperature, is the cold one [1]. Assumed: of 51, five are colder.
COLD_RANK = 0.1

#: [K] Two varied realizations that are nearer to each other tell nothing of what lies between them. Assumed.
_NEAREST = 0.05


@dataclass(frozen=True, slots=True)
class Variation:
    """One realization, computed again with each assumed number at its two edges.

    Parameters
    ----------
    temperature : numpy.ndarray
        [°C] With the usual numbers, shape (n_times,).
    halves : numpy.ndarray
        [K] Half of the difference that the edges of each number make, shape (n_numbers, n_times).
    model_error : float
        [K] Uncertainty of the equations themselves, 1 sd.
    """

    temperature: NDArray[np.float64]
    halves: NDArray[np.float64]
    model_error: float

    @property
    def spread(self) -> NDArray[np.float64]:
        """All uncertainty of the model [K], 1 sd, shape (n_times,): errors of several numbers are independent."""
        return np.asarray(np.sqrt(self.model_error**2 + (self.halves**2).sum(axis=0)))

    @property
    def coldest(self) -> int:
        """The place of its lowest temperature."""
        return int(np.argmin(self.temperature))


def varied_members(air_temperature: NDArray[np.float64]) -> tuple[int, ...]:
    """Return on which realizations numbers are varied.

    Parameters
    ----------
    air_temperature : numpy.ndarray
        [°C] shape (n_realizations, n_times), at least one of each.

    Returns
    -------
    tuple of int
        Places of the median and of the cold one by their lowest temperatures; only one where they are the same.
    """
    order = np.argsort(air_temperature.min(axis=1), kind="stable")
    middle, cold = order[order.size // 2], order[int(COLD_RANK * (order.size - 1))]
    return (int(middle),) if middle == cold else (int(middle), int(cold))


def variations_of(
    temperature: NDArray[np.float64], n_realizations: int, members: Sequence[int], model_error: float
) -> list[Variation]:
    """Return what the numbers of a model make of some realizations.

    Parameters
    ----------
    temperature : numpy.ndarray
        [°C] shape (n_rows, n_times): the realizations, then for each member in turn the rows of its numbers' edges,
        lower and upper one of each number.
    n_realizations : int
        How many of the rows are realizations.
    members : sequence of int
        Which realizations were varied.
    model_error : float
        [K] Uncertainty of the equations themselves, 1 sd.

    Returns
    -------
    list of Variation
        In the order of the members.
    """
    edges = temperature[n_realizations:].reshape(len(members), -1, 2, temperature.shape[1])
    halves = (edges[:, :, 1] - edges[:, :, 0]) / 2.0
    return [Variation(temperature[member], halves[row], model_error) for row, member in enumerate(members)]


def decisive_of(variations: Sequence[Variation]) -> Variation:
    """Return the variation with the largest uncertainty at its own coldest time."""
    return max(variations, key=lambda each: float(each.spread[each.coldest]))


def spread_between(temperature: NDArray[np.float64], variations: Sequence[Variation]) -> NDArray[np.float64]:
    """Return the uncertainty of a model for every realization.

    Parameters
    ----------
    temperature : numpy.ndarray
        [°C] shape (n_realizations, n_times).
    variations : sequence of Variation
        One or two, on the same times.

    Returns
    -------
    numpy.ndarray
        [K] 1 sd, shape as the temperature: between the two by how warm a realization is, beyond them as the nearer
        one; the larger one where the two are equally warm.
    """
    if len(variations) == 1:
        return np.broadcast_to(variations[0].spread, temperature.shape)
    (at_one, of_one), (at_other, of_other) = ((each.temperature, each.spread) for each in variations)
    apart = at_other - at_one
    is_apart = np.abs(apart) > _NEAREST
    share = np.clip((temperature - at_one) / np.where(is_apart, apart, 1.0), 0.0, 1.0)
    return np.asarray(np.where(is_apart, of_one + share * (of_other - of_one), np.maximum(of_one, of_other)))
