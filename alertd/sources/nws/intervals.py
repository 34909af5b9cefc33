"""ISO 8601 intervals, and values that hold over them."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import SourceMalformed, to_datetime64

from .reading import as_instant, as_text, quoted

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from numpy.typing import NDArray

#: The longest interval that is believed. Assumed: layers span eight days at most (seen: ``P7DT14H``).
LONGEST_INTERVAL = timedelta(days=31)

#: How far from its reference time a forecast may speak, either way. Assumed: layers start some hours before it
#: and end eight days after it (seen); more is an error, and would fill the memory.
EARLIEST_HOUR = timedelta(days=-2)
LATEST_HOUR = timedelta(days=16)

_DURATION = re.compile(
    r"P(?:(\d{1,6})Y)?(?:(\d{1,6})M)?(?:(\d{1,6})D)?(T(?:(\d{1,6})H)?(?:(\d{1,6})M)?(?:(\d{1,9})S)?)?", flags=re.ASCII
)
_HOUR = np.timedelta64(3600, "s")


def parse_interval(value: object, now: datetime, where: str) -> tuple[datetime, datetime]:
    """Return start and end of an ISO 8601 interval.

    Parameters
    ----------
    value : object
        Text: start/duration, start/end or duration/end; a start or end may be ``NOW``.
    now : datetime
        What ``NOW`` means: the instant at which the answer was made.
    where : str
        Name of the interval, for messages.

    Returns
    -------
    tuple of datetime
        Start, which belongs to the interval, and end, which does not. Aware UTC, whole seconds; the start is earlier.

    Raises
    ------
    SourceMalformed
        If the value is no such interval, has years or months (their length is not fixed), ends before or when it
        starts, is longer than 31 days, or leaves the calendar.
    """
    text = as_text(value, where)
    first, slash, second = text.partition("/")
    try:
        if first.startswith("P"):
            end = _edge(second, now, where)
            start = end - _duration(first)
        else:
            start = _edge(first, now, where)
            end = start + _duration(second) if second.startswith("P") else _edge(second, now, where)
    except (ValueError, OverflowError) as error:
        message = f"{where} is {quoted(text)}, which is no interval of time"
        raise SourceMalformed(message) from error
    start, end = start.replace(microsecond=0), end.replace(microsecond=0)
    if not slash or not timedelta(0) < end - start <= LONGEST_INTERVAL:
        message = f"{where} is {quoted(text)}, which is no interval of up to {LONGEST_INTERVAL.days} days"
        raise SourceMalformed(message)
    return start, end


def _edge(text: str, now: datetime, where: str) -> datetime:
    """Return the instant that starts or ends an interval."""
    return now if text == "NOW" else as_instant(text, where)


def _duration(text: str) -> timedelta:
    """Return an ISO 8601 duration of days, hours, minutes and seconds; `ValueError` if it is none."""
    match = _DURATION.fullmatch(text)
    if match is None:
        raise ValueError(text)
    years, months, days, clock, hours, minutes, seconds = match.groups()
    if years or months or clock == "T" or not (days or clock):
        raise ValueError(text)
    return timedelta(days=int(days or 0), hours=int(hours or 0), minutes=int(minutes or 0), seconds=int(seconds or 0))


class HourlyValues:
    """Values by whole hour, filled from intervals in which a value holds.

    Parameters
    ----------
    reference_time : datetime
        Aware: hours from 2 days before it to 16 days after it are kept, all others dropped.
    """

    def __init__(self, reference_time: datetime) -> None:
        first = to_datetime64(reference_time + EARLIEST_HOUR)
        last = to_datetime64(reference_time + LATEST_HOUR)
        self.hours: NDArray[np.datetime64] = np.arange(_whole_hour_from(first), last + np.timedelta64(1, "s"), _HOUR)

    def of_states(self, values: Iterable[tuple[datetime, datetime, float]], *, is_colder_kept: bool = False) -> Values:
        """Return a state by hour: an interval's value at each whole hour from its start to before its end.

        Parameters
        ----------
        values : iterable of (datetime, datetime, float)
            Start, end and value, NaN where missing.
        is_colder_kept : bool
            Where intervals overlap, keep the lowest value, and otherwise the last one.

        Returns
        -------
        numpy.ndarray
            shape (n_hours,), NaN where nothing is known.
        """
        filled = np.full(self.hours.size, np.nan)
        for start, end, value in values:
            first, last = np.searchsorted(self.hours, [to_datetime64(start), to_datetime64(end)], side="left")
            part = filled[first:last]
            filled[first:last] = np.fmin(part, value) if is_colder_kept else value
        return filled

    def of_hourly_amounts(self, values: Iterable[tuple[datetime, datetime, float]]) -> Values:
        """Return an amount by hour: that of the hour which ends then.

        An amount over a longer interval is no amount of any hour, and is left out: spread evenly it would invent
        drizzle, and put at the end of the interval it would be six hours' rain in one.

        Parameters
        ----------
        values : iterable of (datetime, datetime, float)
            Start, end and amount, NaN where missing.

        Returns
        -------
        numpy.ndarray
            shape (n_hours,), NaN where nothing is known.
        """
        filled = np.full(self.hours.size, np.nan)
        for start, end, value in values:
            if end - start == timedelta(hours=1):
                filled[self.hours == to_datetime64(end)] = value
        return filled


Values = np.ndarray[tuple[int], np.dtype[np.float64]]


def _whole_hour_from(time: np.datetime64) -> np.datetime64:
    """Return the first whole hour at or after a time."""
    return -(-(time - np.datetime64(0, "s")) // _HOUR) * _HOUR + np.datetime64(0, "s")
