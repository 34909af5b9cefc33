"""The weather of the days before, as it is known: what thermometers said, else what was last forecast of it."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import as_utc, to_datetime64

from .hourly import at_hours, with_hours
from .series import CANONICAL_UNITS, Series

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from numpy.typing import NDArray

#: How far back the weather is remembered: a root ball of 100 L has forgotten what was before. Assumed.
PAST_LENGTH = timedelta(days=12)

#: So much of a forecast is remembered for the time that it is about, should nothing newer come. Assumed.
KEPT_AHEAD = timedelta(hours=36)

#: Observations further apart than this say nothing of the time between them. Assumed.
_OBSERVED_STEP = timedelta(hours=2)

_AIR = "air_temperature"
_HOUR = np.timedelta64(3600, "s")
_EPOCH = np.datetime64(0, "s")


def past_weather(
    now: datetime, forecasts: Iterable[Series], kept: Series | None = None, observed: Series | None = None
) -> Series | None:
    """Return the weather of the days before.

    Parameters
    ----------
    now : datetime
        Aware.
    forecasts : iterable of Series
        Each with the past hours that it has, any number of realizations; where several know an hour, their mean
        counts.
    kept : Series or None
        What `weather_to_keep` gave before, shape (1, n_times); used where no forecast knows an hour.
    observed : Series or None
        Air temperature of own thermometers, one realization for each; their mean takes the place of what was
        forecast.

    Returns
    -------
    Series or None
        shape (1, n_times), on whole hours up to the present one and at most `PAST_LENGTH` back, NaN where nothing
        is known; ``None`` if there is no hour with an air temperature.
    """
    last = to_datetime64(as_utc(now).replace(minute=0, second=0, microsecond=0))
    hours = (last + np.arange(-(PAST_LENGTH // timedelta(hours=1)), 1) * _HOUR).astype("datetime64[s]")
    parts = [_at(series, hours) for series in forecasts]
    names = [name for name in CANONICAL_UNITS if any(name in part for part in parts)]
    known = {name: _mean(np.stack([part[name] for part in parts if name in part])) for name in names}
    for name, values in ({} if kept is None else _at(kept, hours)).items():
        known[name] = np.where(np.isnan(known[name]), values, known[name]) if name in known else values
    if observed is not None:
        # The mean of what single thermometers say would jump wherever one of them falls silent between two hours.
        seen = at_hours(observed, hours, _OBSERVED_STEP).air_temperature
        mean = _mean(seen)
        known[_AIR] = np.where(np.isnan(mean), known.get(_AIR, mean), mean)
    if _AIR not in known or np.isnan(known[_AIR]).all():
        return None
    first = int(np.flatnonzero(~np.isnan(known[_AIR]))[0])
    return Series(hours[first:], {name: values[None, first:] for name, values in known.items()})


def weather_to_keep(now: datetime, past: Series | None, ahead: Series | None) -> Series | None:
    """Return what is to be remembered of the weather, for a time when no source tells of it any more.

    Parameters
    ----------
    now : datetime
        Aware.
    past : Series or None
        From `past_weather`.
    ahead : Series or None
        The forecast; its median counts for the next `KEPT_AHEAD`.

    Returns
    -------
    Series or None
        shape (1, n_times).
    """
    if ahead is None:
        return past
    coming = _median(ahead.window(now, now + KEPT_AHEAD))
    if past is None:
        return coming
    later = coming.times > past.times[-1]
    times = np.concatenate([past.times, coming.times[later]])
    variables = {}
    for name in CANONICAL_UNITS:
        if name in past.variables or name in coming.variables:
            variables[name] = np.concatenate([_row(past, name), _row(coming, name)[later]])[None, :]
    return Series(times, variables)


def kept_text(series: Series) -> str:
    """Return a series of one realization as text.

    Parameters
    ----------
    series : Series
        shape (1, n_times).

    Returns
    -------
    str
        JSON; times in seconds since 1970, values with two decimals, null where missing.
    """
    values = {
        name: [None if np.isnan(value) else round(float(value), 2) for value in rows[0]]
        for name, rows in series.variables.items()
    }
    return json.dumps({"times": series.times.astype(np.int64).tolist(), **values}, separators=(",", ":"))


def parse_kept(text: str | None) -> Series | None:
    """Return the series that a text holds.

    Parameters
    ----------
    text : str or None
        From `kept_text`.

    Returns
    -------
    Series or None
        ``None`` if there is no text, or it holds none: what is remembered may be spoilt, and is only a help.
    """
    try:
        document = json.loads(text or "")
        times = _EPOCH + np.array(document.pop("times"), dtype=np.int64).astype("timedelta64[s]")
        values = {name: np.array([rows], dtype=np.float64) for name, rows in document.items()}
        return Series(times, values)
    except (ValueError, TypeError, KeyError, AttributeError, OverflowError):
        return None


def _at(series: Series, hours: NDArray[np.datetime64]) -> dict[str, NDArray[np.float64]]:
    """Return the median of a series' realizations at given hours, shape (n_hours,) each."""
    early = series.times <= hours[-1] + 6 * _HOUR
    if not early.any():
        return {}
    part = Series(series.times[early], {name: values[:, early] for name, values in series.variables.items()})
    placed = at_hours(with_hours(_median(part)), hours)
    return {name: values[0] for name, values in placed.variables.items()}


def _median(series: Series) -> Series:
    """Return the median of a series as one realization."""
    if series.n_realizations == 1:
        return series
    variables = {}
    for name, values in series.variables.items():
        ordered = np.sort(values, axis=0)  # missing ones come last
        count = (~np.isnan(values)).sum(axis=0)
        place = np.maximum(count - 1, 0) // 2
        columns = np.arange(series.n_times)
        upper = np.where(count > 0, count // 2, 0)
        variables[name] = (0.5 * (ordered[place, columns] + ordered[upper, columns]))[None, :]
    return Series(series.times, variables)


def _mean(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the mean over the first axis of what is known; NaN where nothing is."""
    known = ~np.isnan(values)
    total = np.where(known, values, 0.0).sum(axis=0)
    count = known.sum(axis=0)
    mean: NDArray[np.float64] = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    return mean


def _row(series: Series, name: str) -> NDArray[np.float64]:
    """Return one variable of a series of one realization; missing if it has none."""
    return series.variables[name][0] if name in series.variables else np.full(series.n_times, np.nan)
