"""Forecasts as they stood at past times, put together from values ordered by lead time."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import from_datetime64

from .series import Series

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from numpy.typing import NDArray

_DAY = np.timedelta64(86400, "s")


def forecasts_by_lead_day(
    by_lead: Sequence[tuple[int, Series]], every: timedelta = timedelta(hours=6)
) -> tuple[tuple[datetime, Series], ...]:
    """Return the forecasts that somebody could have seen at past times.

    A service tells what it predicted n days before each hour. For somebody at an instant, the hours of the next 24 h
    are those predicted one day before each, those of the 24 h after that two days before, and so on: the latest values
    that were all known by then. They are up to a day older than what was there to see, so what is judged by them is
    judged with a little less knowledge than people had, never with more.

    Parameters
    ----------
    by_lead : sequence of (int, Series)
        Lead time [days], from 1 on, and values, shape (1, n_times), of air temperature.
    every : timedelta
        Between two forecasts, in whole hours.

    Returns
    -------
    tuple of (datetime, Series)
        Reference time (aware UTC) and values of each forecast, earliest first, from the first hour of which anything is
        known on. Forecasts without any value are left out.

    Raises
    ------
    ValueError
        If there is nothing, a lead time is below one day, or a series has several realizations.
    """
    if not by_lead or min(lead for lead, _ in by_lead) < 1:
        message = "forecasts need lead times of one day or more"
        raise ValueError(message)
    if any(series.n_realizations != 1 for _, series in by_lead):
        message = "an old forecast by lead time has one realization"
        raise ValueError(message)
    first = min(series.times[0] for _, series in by_lead) - np.timedelta64(3600, "s")
    last = max(series.times[-1] for _, series in by_lead)
    step = np.timedelta64(int(every.total_seconds()), "s")
    forecasts = ((made, _seen_at(made, by_lead)) for made in np.arange(first, last, step))
    return tuple((from_datetime64(made), series) for made, series in forecasts if series is not None)


def _seen_at(made: np.datetime64, by_lead: Sequence[tuple[int, Series]]) -> Series | None:
    """Return the values that were known at an instant, by the shortest lead time that was."""
    times: list[NDArray[np.datetime64]] = []
    values: list[NDArray[np.float64]] = []
    for lead, series in sorted(by_lead, key=lambda pair: pair[0]):
        begin, end = made + (lead - 1) * _DAY, made + lead * _DAY
        part = series.window(from_datetime64(begin) + timedelta(seconds=1), from_datetime64(end) + timedelta(seconds=1))
        times.append(part.times)
        values.append(part.air_temperature[0])
    air = np.concatenate(values)
    if np.isnan(air).all():
        return None
    return Series(np.concatenate(times), {"air_temperature": air[None, :]})
