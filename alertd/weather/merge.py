"""Forecasts of several sources as one, and how far they disagree."""

from __future__ import annotations

import heapq
import math
from dataclasses import dataclass
from datetime import timedelta
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import to_datetime64

from .coverage import usable_times
from .hourly import at_hours, hourly_axis, with_hours
from .series import CANONICAL_UNITS, Series

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from .series import Forecast

#: How far ahead the sources are compared. Assumed: the nights for which people act.
COMPARED_TIME = timedelta(hours=48)

#: Most realizations of a mixture, as long as there are no more sources than that. Assumed: five dressed sources fit.
MOST_REALIZATIONS = 255


@dataclass(frozen=True, slots=True)
class Merged:
    """Several forecasts as one.

    Parameters
    ----------
    series : Series
        All realizations; each source's share of them is proportional to its weight.
    disagreement : float or None
        [°C] Highest less lowest of the sources' median minima over the next 48 h of which all sources
        speak; ``None`` if there is one source only, or no hour of which all speak.
    medians : tuple of (str, float)
        Name and median minimum [°C] of each source, in their order; empty where `disagreement` is ``None``.
    """

    series: Series
    disagreement: float | None
    medians: tuple[tuple[str, float], ...] = ()


def merge(forecasts: Sequence[Forecast], *, largest_step: timedelta | None = None) -> Merged:
    """Return several forecasts as one on the union of their hours, each with its weight.

    The result is the mixture of the sources' distributions: of its realizations, each source has the share that is
    its share of all weights, as nearly as whole numbers allow and at least one.

    Parameters
    ----------
    forecasts : sequence of Forecast
        Usable ones, at least one; single forecasts are dressed before.
    largest_step : timedelta or None
        A source's times at most this far apart are filled with the hours between them; ``None`` means 6 h where the
        source is six-hourly and 3 h otherwise.

    Returns
    -------
    Merged
        One forecast passes through unchanged. Of several, none loses a realization unless there would be more than
        255 (whole realizations are repeated or left out evenly); where a source says nothing, its realizations are
        missing.

    Raises
    ------
    ValueError
        If there is no forecast.
    """
    if not forecasts:
        message = "there is no forecast to merge"
        raise ValueError(message)
    if len(forecasts) == 1:
        return Merged(forecasts[0].series, None)
    hours = np.unique(np.concatenate([hourly_axis(forecast.series) for forecast in forecasts]))
    parts = [at_hours(with_hours(forecast.series, largest_step), hours) for forecast in forecasts]
    counts = realization_counts([forecast.weight for forecast in forecasts], [part.n_realizations for part in parts])
    names = [name for name in CANONICAL_UNITS if any(name in part.variables for part in parts)]
    variables = {
        name: np.concatenate([_resampled(part, name, count) for part, count in zip(parts, counts, strict=True)])
        for name in names
    }
    start = max(forecast.retrieved for forecast in forecasts)
    first, last = to_datetime64(start), to_datetime64(start + COMPARED_TIME)
    minima = _median_minima(parts, (hours >= first) & (hours < last))
    disagreement = max(minima) - min(minima) if minima else None
    medians = tuple((forecast.source, minimum) for forecast, minimum in zip(forecasts, minima, strict=False))
    return Merged(Series(hours, variables), disagreement, medians)


def realization_counts(weights: Sequence[float], sizes: Sequence[int]) -> tuple[int, ...]:
    """Return how many realizations of a mixture each source gets.

    Parameters
    ----------
    weights : sequence of float
        Of the sources; above 0.
    sizes : sequence of int
        How many realizations each has.

    Returns
    -------
    tuple of int
        At least one each; together as few as leave every realization in (for each source at least its size), but at
        most 255 or one each.

    Notes
    -----
    Seats after the first go by the largest quotient weight / (2 seats + 1) (Sainte-Laguë, from memory), the earlier
    source first where they are equal.

    Examples
    --------
    >>> realization_counts([1.0, 1.0], [51, 30])
    (51, 51)
    >>> realization_counts([3.0, 1.0], [51, 51])
    (153, 51)
    """
    exact = [Fraction(weight) for weight in weights]
    wanted = max(math.ceil(size * sum(exact) / weight) for size, weight in zip(sizes, exact, strict=True))
    counts = [1] * len(weights)
    seats = [(-weight / 3, place) for place, weight in enumerate(weights)]
    heapq.heapify(seats)
    for _ in range(min(wanted, MOST_REALIZATIONS) - len(counts)):
        place = seats[0][1]
        counts[place] += 1
        heapq.heapreplace(seats, (-weights[place] / (2 * counts[place] + 1), place))
    return tuple(counts)


def _resampled(series: Series, name: str, count: int) -> NDArray[np.float64]:
    """Return a variable with `count` realizations, taken evenly; missing if the series has none of it."""
    if name not in series.variables:
        return np.full((count, series.n_times), np.nan)
    chosen = (2 * np.arange(count) + 1) * series.n_realizations // (2 * count)
    return series.variables[name][chosen]


def _median_minima(parts: Sequence[Series], compared: NDArray[np.bool_]) -> list[float]:
    """Return the median minimum [°C] of each part over the compared hours that all have; empty if there is none."""
    common = compared & np.all([usable_times(part) for part in parts], axis=0)
    if not common.any():
        return []
    medians = []
    for part in parts:
        values = part.air_temperature[:, common]
        minima = np.where(np.isnan(values), np.inf, values).min(axis=1)
        medians.append(float(np.median(minima[np.isfinite(minima)])))
    return medians
