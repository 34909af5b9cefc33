"""Series on whole hours."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from .series import Series

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .series import Forecast

#: [s]
_HOUR = 3600

#: Values are interpolated between times at most this far apart. Assumed: three-hourly forecasts are
#: common; across more, the minimum of a night could hide.
LARGEST_INTERPOLATED_STEP = timedelta(hours=3)

#: The same for the six-hourly part of a forecast. Such a part misses up to 2.3 °C of the real minimum (seen, in
#: forecasts of MET Norway), so it should come with minima of periods that bind it.
SIX_HOURLY_STEP = timedelta(hours=6)

_AMOUNT = "precipitation_amount"


def hourly_axis(series: Series) -> NDArray[np.datetime64]:
    """Return the whole hours from the first to the last time of a series.

    Parameters
    ----------
    series : Series
        Any.

    Returns
    -------
    numpy.ndarray
        shape (n_hours,), ``datetime64[s]``; without any hour if none lies between the first and the last time.
    """
    if not series.n_times:
        return series.times
    seconds = series.times[[0, -1]].astype(np.int64)
    hours = np.arange(-(-seconds[0] // _HOUR) * _HOUR, seconds[1] + 1, _HOUR)
    return hours.astype("datetime64[s]")


def own_step(series: Series) -> timedelta:
    """Return across which step of its times a series may be filled.

    Parameters
    ----------
    series : Series
        Any.

    Returns
    -------
    timedelta
        6 h if the series, or a part of at least two steps of it, is six-hourly; 3 h otherwise.
    """
    is_six_hourly = np.diff(series.times) == np.timedelta64(SIX_HOURLY_STEP)
    in_a_row = is_six_hourly[1:] & is_six_hourly[:-1]
    return (
        SIX_HOURLY_STEP
        if in_a_row.any() or (is_six_hourly.size == 1 and is_six_hourly[0])
        else LARGEST_INTERPOLATED_STEP
    )


def with_hours(series: Series, largest_step: timedelta | None = None) -> Series:
    """Return a series with the whole hours that its own times skip.

    Parameters
    ----------
    series : Series
        At any times.
    largest_step : timedelta or None
        Steps of more than one hour and at most this are filled; ``None`` stands for `own_step`.

    Returns
    -------
    Series
        Values at its own times are unchanged and those between are linear; but precipitation amounts are taken as
        fallen evenly (assumed) and shared between the new times, so that their sum is kept. The same series if
        nothing is skipped.
    """
    limit = own_step(series) if largest_step is None else largest_step
    missing = _skipped_hours(series.times.astype(np.int64), int(limit.total_seconds()))
    if not missing.size:
        return series
    axis = np.union1d(series.times, missing.astype("datetime64[s]"))
    filled = _at_times(series, axis, limit)
    own = np.isin(axis, series.times)
    variables = {}
    for name, values in filled.items():
        if name != _AMOUNT:
            values[:, own] = series.variables[name]
        variables[name] = values
    return Series(axis, variables)


def forecast_with_hours(forecast: Forecast, largest_step: timedelta | None = None) -> Forecast:
    """Return a forecast whose series and error have the whole hours that its own times skip.

    Parameters
    ----------
    forecast : Forecast
        Any.
    largest_step : timedelta or None
        As for `with_hours`.

    Returns
    -------
    Forecast
        The same if nothing is skipped; the error is linear between its own times.
    """
    series = with_hours(forecast.series, largest_step)
    if series is forecast.series:
        return forecast
    error = forecast.error
    if error is not None:
        error = np.interp(series.times.astype(np.int64), forecast.series.times.astype(np.int64), error)
    return replace(forecast, series=series, error=error)


def at_hours(
    series: Series, hours: NDArray[np.datetime64], largest_step: timedelta = LARGEST_INTERPOLATED_STEP
) -> Series:
    """Return a series on a given hourly axis.

    Parameters
    ----------
    series : Series
        At any times.
    hours : numpy.ndarray
        shape (n_hours,), ``datetime64[s]``, increasing.
    largest_step : timedelta
        Values further apart say nothing of the time between them.

    Returns
    -------
    Series
        Linear between neighbouring values at most `largest_step` apart, missing across larger gaps and outside.
        Precipitation amounts are taken as fallen evenly since the value before (assumed), so that
        their sum is kept.
    """
    if np.array_equal(series.times, hours):
        return series
    return Series(hours, _at_times(series, hours, largest_step))


def _skipped_hours(seconds: NDArray[np.int64], limit: int) -> NDArray[np.int64]:
    """Return the whole hours between neighbouring times that are more than 1 h and at most `limit` [s] apart."""
    steps = np.diff(seconds)
    if not np.any((steps > _HOUR) & (steps <= limit)):
        return np.empty(0, dtype=np.int64)
    hours = np.arange(-(-seconds[0] // _HOUR) * _HOUR, seconds[-1], _HOUR)
    right = np.searchsorted(seconds, hours, side="left")
    step = seconds[right] - seconds[np.maximum(right - 1, 0)]
    return np.asarray(hours[(hours < seconds[right]) & (step > _HOUR) & (step <= limit)])


def _at_times(series: Series, times: NDArray[np.datetime64], largest_step: timedelta) -> dict[str, NDArray[np.float64]]:
    """Return all variables at other times."""
    seconds, targets = series.times.astype(np.int64), times.astype(np.int64)
    limit = int(largest_step.total_seconds())
    return {
        name: _interpolated(seconds, values, targets, limit, is_amount=name == _AMOUNT)
        for name, values in series.variables.items()
    }


def _interpolated(
    seconds: NDArray[np.int64],
    values: NDArray[np.float64],
    targets: NDArray[np.int64],
    limit: int,
    *,
    is_amount: bool,
) -> NDArray[np.float64]:
    """Return values of all realizations at other times; those that miss the same values go together."""
    result = np.full((values.shape[0], targets.size), np.nan)
    present = ~np.isnan(values)
    alike: dict[bytes, list[int]] = {}
    for row, pattern in enumerate(present):
        alike.setdefault(pattern.tobytes(), []).append(row)
    for rows in alike.values():
        known = present[rows[0]]
        if known.any():
            part = values[np.ix_(rows, known)]
            result[rows] = _interpolated_complete(seconds[known], part, targets, limit, is_amount=is_amount)
    return result


def _interpolated_complete(
    seconds: NDArray[np.int64],
    values: NDArray[np.float64],
    targets: NDArray[np.int64],
    limit: int,
    *,
    is_amount: bool,
) -> NDArray[np.float64]:
    """Return values without gaps, shape (n_realizations, n_times > 0), at other times."""
    right = np.searchsorted(seconds, targets, side="left").clip(max=seconds.size - 1)
    left = np.maximum(right - 1, 0)
    step = seconds[right] - seconds[left]
    is_exact = seconds[right] == targets
    is_between = (seconds[left] < targets) & (targets < seconds[right]) & (step <= limit)
    if is_amount:
        has_step = (step > 0) & (step <= limit)
        length = np.minimum(np.diff(targets, prepend=targets[:1] - _HOUR), _HOUR)
        share = np.where(has_step, length / np.maximum(step, 1), 1.0)
        return np.where(is_exact | is_between, values[:, right] * share, np.nan)
    weight = np.where(is_exact, 1.0, (targets - seconds[left]) / np.maximum(step, 1))
    inner = values[:, left] + weight * (values[:, right] - values[:, left])
    return np.where(is_exact, values[:, right], np.where(is_between, inner, np.nan))
