"""Weather to CSV text."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import instant_text

from .csv_format import REALIZATION, REFERENCE_TIME, TIME
from .series import CANONICAL_UNITS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from datetime import datetime

    from .series import Series


def write_weather_csv(series: Series) -> str:
    """Return a series as CSV text that :func:`parse_weather_csv` reads back value for value.

    Parameters
    ----------
    series : Series
        Of at least one time; several realizations get a column ``realization``.

    Returns
    -------
    str
        In canonical units; missing values are empty cells.

    Raises
    ------
    ValueError
        If the series has no time or holds a value that is infinite.
    """
    names = _names([series])
    has_realizations = series.n_realizations > 1
    header = [TIME, *([REALIZATION] if has_realizations else []), *_titles(names)]
    lines = (",".join(cells) for cells in _rows(series, names, has_realizations=has_realizations))
    return "\n".join([",".join(header), *lines, ""])


def write_forecast_archive_csv(forecasts: Iterable[tuple[datetime, Series]]) -> str:
    """Return forecasts with their reference times as CSV text.

    Parameters
    ----------
    forecasts : iterable of (datetime, Series)
        Reference time (aware) and values of each forecast, at least one.

    Returns
    -------
    str
        With the columns ``forecast_reference_time`` and ``realization``.

    Raises
    ------
    ValueError
        If there is no forecast, one has no time or holds a value that is infinite.
    """
    archive = list(forecasts)
    if not archive:
        message = "an archive needs at least one forecast"
        raise ValueError(message)
    names = _names([series for _, series in archive])
    lines = [",".join([TIME, REFERENCE_TIME, REALIZATION, *_titles(names)])]
    for reference_time, series in archive:
        reference = instant_text(reference_time)
        for time, *cells in _rows(series, names, has_realizations=True):
            lines.append(",".join([time, reference, *cells]))
    return "\n".join([*lines, ""])


def _names(all_series: list[Series]) -> list[str]:
    """Return the variables that any of the series has, in the order of the canonical table."""
    return [name for name in CANONICAL_UNITS if any(name in series.variables for series in all_series)]


def _titles(names: list[str]) -> list[str]:
    """Return column titles with their units."""
    return [f"{name}[{CANONICAL_UNITS[name]}]" for name in names]


def _rows(series: Series, names: list[str], *, has_realizations: bool) -> Iterator[list[str]]:
    """Yield the cells of each row: time, the realization if wanted, the values."""
    if not series.n_times:
        message = "a series without any time cannot be written"
        raise ValueError(message)
    missing = np.full((series.n_realizations, series.n_times), np.nan)
    columns = [series.variables.get(name, missing).tolist() for name in names]
    times = [f"{time}Z" for time in np.datetime_as_string(series.times)]
    for realization in range(series.n_realizations):
        number = [str(realization)] if has_realizations else []
        for place, time in enumerate(times):
            yield [time, *number, *(_cell(column[realization][place]) for column in columns)]


def _cell(value: float) -> str:
    """Return a value as the shortest text that reads back the same, or nothing if it is missing."""
    if math.isinf(value):
        message = f"an infinite value cannot be written: {value}"
        raise ValueError(message)
    return "" if math.isnan(value) else repr(value)
