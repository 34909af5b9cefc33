"""How a store room follows the air outside, learnt from thermometers inside and outside."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.weather import at_hours

from .store_room import ROOMS

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from alertd.site import StoreKind
    from alertd.weather import Series

_HOUR = 3600.0

#: Time constants among which that of a room is looked for [s]: from half an hour to six weeks.
SHORTEST, LONGEST = 0.5 * _HOUR, 1000.0 * _HOUR

#: Fewest hours with a reading inside from which a room is fitted [1]. Assumed: two days and nights.
FEWEST_HOURS = 48

#: Readings further apart say nothing of the time between them: outside, and in a room, which is read as it is.
_LARGEST_STEP, _LARGEST_STEP_INSIDE = timedelta(hours=6), timedelta(hours=2)

#: Time constants that the scan tries, and rounds of the golden section between the best one's neighbours [1].
_SCAN, _ROUNDS = 48, 24


@dataclass(frozen=True, slots=True)
class RoomFit:
    """How a room follows.

    Parameters
    ----------
    time_constant : float
        [s] In which it has followed a change to about two thirds.
    outside_share : float
        0 to 1: by how much its temperature in the end falls when the air outside falls by 1 K; the rest is ground and
        house.
    warmth : float
        [°C] Where it would come to rest with 0 °C outside.
    rms : float
        [K] Root of the mean square of what the fit leaves.
    hours : int
        From how many hours it was learnt, gaps included.
    """

    time_constant: float
    outside_share: float
    warmth: float
    rms: float
    hours: int

    @property
    def is_settled(self) -> bool:
        """Whether the log is long enough: three time constants, and the search did not end at its edge.

        A log shorter than that cannot tell a room that follows late from one that follows little.
        """
        is_inside = SHORTEST * 1.01 < self.time_constant < LONGEST / 1.01
        return is_inside and self.hours * _HOUR >= 3.0 * self.time_constant

    @property
    def kind(self) -> StoreKind:
        """The kind of room that feels the air outside about as much, and then follows about as late."""

        def distance(kind: StoreKind) -> tuple[float, float]:
            preset = ROOMS[kind]
            later = abs(math.log(self.time_constant / preset.time_constant))
            return abs(1.0 - preset.ground_share - self.outside_share), later

        return min(ROOMS, key=distance)

    def ahead(self, outside: NDArray[np.float64], start: float | NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the temperature of the room.

        Parameters
        ----------
        outside : numpy.ndarray
            [°C] Air outside, hour by hour, shape (n_members, n_times).
        start : float or numpy.ndarray
            [°C] In the room at the beginning, shape (n_members,) if members differ.

        Returns
        -------
        numpy.ndarray
            [°C] At the end of each hour, shape (n_members, n_times).
        """
        target = self.outside_share * outside + self.warmth
        first = np.broadcast_to(np.asarray(start, dtype=np.float64), outside.shape[:1])
        return _follow(target, first, np.full(outside.shape[0], self.time_constant))


def fit_room_of(outside: Series, inside: Series) -> RoomFit:
    """Return how a room follows the air outside, by two thermometers.

    Parameters
    ----------
    outside, inside : Series
        Air temperatures, shape (1, n_times), at any times.

    Returns
    -------
    RoomFit
        Of the whole hours in which both were read.

    Raises
    ------
    ValueError
        If there are fewer than 48 hours with both, or the air outside has a gap of more than six hours among them.
    """
    first = max(series.times[0] for series in (outside, inside))
    last = min(series.times[-1] for series in (outside, inside))
    hour = np.timedelta64(3600, "s")
    begin = (first - np.timedelta64(1, "s")).astype("datetime64[h]").astype("datetime64[s]") + hour
    hours = np.arange(begin, last + np.timedelta64(1, "s"), hour).astype("datetime64[s]")
    if hours.size < FEWEST_HOURS:
        message = f"a room is fitted from {FEWEST_HOURS} hours with readings inside and outside or more"
        raise ValueError(message)
    air = at_hours(outside, hours, _LARGEST_STEP).air_temperature[0]
    if np.isnan(air).any():
        gap = str(hours[int(np.argmax(np.isnan(air)))]).replace("T", " ")[:16]
        message = f"the air outside is not known at {gap} UTC, nor for some hours around"
        raise ValueError(message)
    return fit_room(air, at_hours(inside, hours, _LARGEST_STEP_INSIDE).air_temperature[0])


def fit_room(outside: NDArray[np.float64], inside: NDArray[np.float64]) -> RoomFit:
    """Return how a room follows the air outside.

    Parameters
    ----------
    outside : numpy.ndarray
        [°C] Air outside, hour by hour without a gap, shape (n_times,).
    inside : numpy.ndarray
        [°C] In the room at the end of each of these hours, NaN where nobody read it, shape (n_times,).

    Returns
    -------
    RoomFit

    Raises
    ------
    ValueError
        If the shapes differ, the outside is not finite, or fewer than 48 hours have a reading inside.

    Notes
    -----
    dT/dt = (share T_outside + warmth - T) / time constant. For a given time constant, share, warmth and the
    temperature at the beginning are a linear problem of least squares; so one wrong first reading, a warm house next
    door and the ground do no harm. The time constant is scanned on a logarithmic axis, then found by golden section
    (Kiefer 1953, from memory) between the neighbours of the best.
    """
    known = np.isfinite(inside)
    if outside.ndim != 1 or outside.shape != inside.shape or not np.isfinite(outside).all():
        message = f"a room is fitted from as many hours outside {outside.shape} as inside {inside.shape}, none missing"
        raise ValueError(message)
    if int(known.sum()) < FEWEST_HOURS:
        message = f"a room is fitted from {FEWEST_HOURS} hours with a reading inside or more, not {int(known.sum())}"
        raise ValueError(message)

    def fitted(logarithms: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return _linear_fit(np.exp(logarithms), outside, inside, known)

    grid = np.linspace(math.log(SHORTEST), math.log(LONGEST), _SCAN)
    best = int(np.argmin(fitted(grid)[1]))
    ends = grid[max(best - 1, 0)], grid[min(best + 1, _SCAN - 1)]
    logarithm = _golden(lambda at: float(fitted(np.array([at]))[1][0]), *ends)
    numbers, squares = fitted(np.array([logarithm]))
    rms = math.sqrt(float(squares[0]) / int(known.sum()))
    return RoomFit(math.exp(logarithm), float(numbers[0, 0]), float(numbers[0, 1]), rms, outside.size)


def _linear_fit(
    constants: NDArray[np.float64],
    outside: NDArray[np.float64],
    inside: NDArray[np.float64],
    known: NDArray[np.bool_],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return share, warmth and first temperature (n_constants, 3), and the squares that they leave (n_constants,)."""
    n = constants.size
    followed = _follow(np.broadcast_to(outside, (n, outside.size)), np.zeros(n), constants)
    forgotten = np.exp(-_HOUR / constants[:, None] * np.arange(1.0, outside.size + 1.0))
    columns = np.stack([followed, 1.0 - forgotten, forgotten], axis=2)[:, known]
    wanted = np.broadcast_to(inside[known], columns.shape[:2])
    share = np.clip(_solve(columns, wanted)[:, 0], 0.0, 1.0)
    rest = wanted - share[:, None] * columns[:, :, 0]
    others = _solve(columns[:, :, 1:], rest)
    left = rest - (columns[:, :, 1:] @ others[:, :, None])[:, :, 0]
    return np.column_stack([share, others]), np.square(left).sum(axis=1)


def _solve(columns: NDArray[np.float64], wanted: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the least squares of each problem; where columns are alike, the smallest numbers that do."""
    return np.asarray((np.linalg.pinv(columns) @ wanted[:, :, None])[:, :, 0])


def _follow(
    target: NDArray[np.float64], start: NDArray[np.float64], constants: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return what follows a target (n, n_times) with a time constant each; exact for hours of one temperature."""
    kept = np.exp(-_HOUR / constants)
    result = np.empty(target.shape)
    temperature = start
    for hour in range(target.shape[1]):
        temperature = target[:, hour] + (temperature - target[:, hour]) * kept
        result[:, hour] = temperature
    return result


def _golden(misfit: Callable[[float], float], low: float, high: float) -> float:
    """Return where a function of one minimum is lowest."""
    golden = (math.sqrt(5.0) - 1.0) / 2.0
    for _ in range(_ROUNDS):
        lower, upper = high - golden * (high - low), low + golden * (high - low)
        if misfit(lower) <= misfit(upper):
            high = upper
        else:
            low = lower
    return (low + high) / 2.0
