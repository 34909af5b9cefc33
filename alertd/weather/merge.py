"""Forecasts of several sources as one, and how far they disagree."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import to_datetime64

from .coverage import usable_times
from .hourly import at_hours, hourly_axis
from .series import CANONICAL_UNITS, Series

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from .series import Forecast

#: How far ahead the sources are compared. Assumed: the nights for which people act.
COMPARED_TIME = timedelta(hours=48)


@dataclass(frozen=True, slots=True)
class Merged:
    """Several forecasts as one.

    Parameters
    ----------
    series : Series
        All realizations, each source with the same number of them.
    disagreement : float or None
        [°C] Highest less lowest of the sources' median minima over the next 48 h of which all sources
        speak; ``None`` if there is one source only, or no hour of which all speak.
    """

    series: Series
    disagreement: float | None


def merge(forecasts: Sequence[Forecast]) -> Merged:
    """Return several forecasts as one on the union of their hours, with equal weight for each source.

    Parameters
    ----------
    forecasts : sequence of Forecast
        Usable ones, at least one; single forecasts are dressed before.

    Returns
    -------
    Merged
        One forecast passes through unchanged. Of several, each gets as many realizations as the largest has
        (whole realizations are repeated evenly); where a source says nothing, its realizations are missing.

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
    parts = [at_hours(forecast.series, hours) for forecast in forecasts]
    count = max(part.n_realizations for part in parts)
    names = [name for name in CANONICAL_UNITS if any(name in part.variables for part in parts)]
    variables = {name: np.concatenate([_resampled(part, name, count) for part in parts]) for name in names}
    start = max(forecast.retrieved for forecast in forecasts)
    first, last = to_datetime64(start), to_datetime64(start + COMPARED_TIME)
    compared = (hours >= first) & (hours < last)
    return Merged(Series(hours, variables), _disagreement(parts, compared))


def _resampled(series: Series, name: str, count: int) -> NDArray[np.float64]:
    """Return a variable with `count` realizations, taken evenly; missing if the series has none of it."""
    if name not in series.variables:
        return np.full((count, series.n_times), np.nan)
    chosen = (2 * np.arange(count) + 1) * series.n_realizations // (2 * count)
    return series.variables[name][chosen]


def _disagreement(parts: Sequence[Series], compared: NDArray[np.bool_]) -> float | None:
    """Return the spread [°C] of the median minima over the compared hours that all parts have."""
    common = compared & np.all([usable_times(part) for part in parts], axis=0)
    if not common.any():
        return None
    medians = []
    for part in parts:
        values = part.air_temperature[:, common]
        minima = np.where(np.isnan(values), np.inf, values).min(axis=1)
        medians.append(float(np.median(minima[np.isfinite(minima)])))
    return max(medians) - min(medians)
