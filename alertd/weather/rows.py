"""From loose rows to series: ordered, without repetitions."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import SourceMalformed, from_datetime64, instant_text

from .finding import Check, Finding
from .series import Series

if TYPE_CHECKING:
    from datetime import datetime

    from numpy.typing import NDArray

#: Share of the table of realizations and times that rows must fill; below it they are no ensemble,
#: and the table would be far larger than the file. Assumed.
SMALLEST_FILLED_SHARE = 0.05


@dataclass(slots=True)
class Rows:
    """Rows as they were read, in canonical units.

    Parameters
    ----------
    times : list of int
        [s] since 1970, UTC.
    reference_times : list of int
        [s] since 1970; empty if the rows state none.
    realizations : list of int
        Empty if the rows state none.
    variables : dict of str to list of float
        By CF standard name; NaN where missing.
    """

    times: list[int] = field(default_factory=list)
    reference_times: list[int] = field(default_factory=list)
    realizations: list[int] = field(default_factory=list)
    variables: dict[str, list[float]] = field(default_factory=dict)


def series_of_rows(
    rows: Rows, name: str
) -> tuple[Series | None, tuple[tuple[datetime, Series], ...], tuple[Finding, ...]]:
    """Return rows as one series, or as one for each reference time.

    Rows are put in order. Rows of the same reference time, time and realization become one if each
    variable has one value among them (a missing value agrees with any); otherwise none of them is taken.

    Parameters
    ----------
    rows : Rows
        In any order.
    name : str
        Name of the file, for messages.

    Returns
    -------
    tuple of (Series or None, tuple of (datetime, Series), tuple of Finding)
        The record if there are no reference times, the forecasts by reference time if there are, and
        what was set right.

    Raises
    ------
    SourceMalformed
        If no row is left, or the rows fill too little of a table of realizations and times.
    """
    if not rows.times:
        message = f"{name}: there are no rows below the header; add one row for each hour"
        raise SourceMalformed(message)
    n_rows = len(rows.times)
    keys = np.zeros((3, n_rows), dtype=np.int64)
    keys[1] = rows.times
    if rows.reference_times:
        keys[0] = rows.reference_times
    if rows.realizations:
        keys[2] = rows.realizations
    values = {variable: np.array(column, dtype=np.float64) for variable, column in rows.variables.items()}
    findings = _order_findings(keys)
    order = np.lexsort(keys[::-1])
    keys = keys[:, order]
    values = {variable: column[order] for variable, column in values.items()}
    keys, values, repeated = _without_repetitions(keys, values)
    if not keys.shape[1]:
        message = f"{name}: no row is left, for each time is there twice with different values; keep one row a time"
        raise SourceMalformed(message)
    findings += repeated
    starts = np.flatnonzero(np.diff(keys[0], prepend=keys[0, 0] - 1))
    forecasts = []
    for start, end in zip(starts, [*starts[1:], keys.shape[1]], strict=True):
        part = {variable: column[start:end] for variable, column in values.items()}
        series = _series(keys[1, start:end], keys[2, start:end], part, name)
        forecasts.append((_instant(keys[0, start]), series))
    if not rows.reference_times:
        return forecasts[0][1], (), findings
    return None, tuple(forecasts), findings


def _series(
    times: NDArray[np.int64], realizations: NDArray[np.int64], values: dict[str, NDArray[np.float64]], name: str
) -> Series:
    """Return rows of one forecast, each time and realization at most once, as a series."""
    axis, columns = np.unique(times, return_inverse=True)
    numbers, lines = np.unique(realizations, return_inverse=True)
    if times.size < SMALLEST_FILLED_SHARE * axis.size * numbers.size:
        message = (
            f"{name}: {times.size} rows are too few for {numbers.size} realizations at {axis.size} times; "
            "give each realization a row for each time"
        )
        raise SourceMalformed(message)
    variables = {}
    for variable, column in values.items():
        table = np.full((numbers.size, axis.size), np.nan)
        table[lines, columns] = column
        variables[variable] = table
    return Series(axis.astype("datetime64[s]"), variables)


def _order_findings(keys: NDArray[np.int64]) -> tuple[Finding, ...]:
    """Return the finding that times go backwards within one forecast and realization, if they do."""
    same = np.all(keys[[0, 2], 1:] == keys[[0, 2], :-1], axis=0)
    backwards = keys[1, 1:][same & (keys[1, 1:] < keys[1, :-1])]
    if not backwards.size:
        return ()
    text = f"time: rows that stand after a later one, put in order: {backwards.size}, the earliest {{first}}"
    return (_finding(Check.ORDER, backwards, text),)


def _without_repetitions(
    keys: NDArray[np.int64], values: dict[str, NDArray[np.float64]]
) -> tuple[NDArray[np.int64], dict[str, NDArray[np.float64]], tuple[Finding, ...]]:
    """Return ordered rows with each key once; rows that contradict each other are all left out."""
    is_new = np.any(np.diff(keys, axis=1, prepend=keys[:, :1] - 1), axis=0)
    starts = np.flatnonzero(is_new)
    if starts.size == keys.shape[1]:
        return keys, values, ()
    conflict = np.zeros(starts.size, dtype=bool)
    merged = {}
    for variable, column in values.items():
        merged[variable] = np.fmin.reduceat(column, starts)
        conflict |= np.fmax.reduceat(column, starts) > merged[variable]
    repeated = np.diff(starts, append=keys.shape[1]) > 1
    findings = []
    for check, chosen, text in (
        (Check.REPEATED_TIME, repeated & ~conflict, "times that are there more than once with the same values, merged"),
        (Check.CONFLICTING_TIME, conflict, "times that are there more than once with different values, left out"),
    ):
        if np.any(chosen):
            where = keys[1, starts[chosen]]
            findings.append(_finding(check, where, f"time: {text}: {where.size}, the first {{first}}"))
    keep = ~conflict
    return keys[:, starts[keep]], {name: column[keep] for name, column in merged.items()}, tuple(findings)


def _finding(check: Check, times: NDArray[np.int64], text: str) -> Finding:
    """Return a finding on the time axis; ``{first}`` in the text becomes the first time."""
    first, last = _instant(times.min()), _instant(times.max())
    return Finding(check, "time", first, last, int(times.size), text.format(first=instant_text(first)))


def _instant(seconds: np.int64) -> datetime:
    """Return seconds since 1970 as an instant."""
    return from_datetime64(seconds.astype("datetime64[s]"))
