"""When a model was last run, by the service's own word. Pure; raises nothing but SourceMalformed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import as_utc, from_datetime64

from .columns import EARLIEST, LATEST
from .document import document_of, is_number, refuse, shown

if TYPE_CHECKING:
    from alertd.weather import Series

#: How long after a run is available every server of the service has it. Source: its documentation, seen.
SPREADING = timedelta(minutes=10)

#: The longest believable time between two runs. Assumed: seasonal models are run once a month.
LONGEST_INTERVAL = timedelta(days=40)

#: An answer begins with the day on which it was asked for, so no forecast in it was made after that day.
_FIRST_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class RunStatus:
    """The last run of a model.

    Parameters
    ----------
    initialisation : datetime
        Aware UTC: the instant from which the model was run.
    availability : datetime
        Aware UTC: when its values could first be had.
    update_interval : timedelta
        Time between two runs.
    """

    initialisation: datetime
    availability: datetime
    update_interval: timedelta


def parse_status(body: bytes) -> RunStatus:
    """Return the last run of a model.

    Parameters
    ----------
    body : bytes
        Of an answer of the model's status.

    Returns
    -------
    RunStatus
        The last run.

    Raises
    ------
    SourceMalformed
        If a time is missing or cannot be true.
    """
    document = document_of(body)
    initialisation, availability = (
        _instant(document.get(key), key) for key in ("last_run_initialisation_time", "last_run_availability_time")
    )
    if availability < initialisation:
        refuse("the status says that the last run was there before it was begun")
    interval = document.get("update_interval_seconds")
    if not is_number(interval) or not 1 <= interval <= LONGEST_INTERVAL.total_seconds():
        refuse(f"the status has an update_interval_seconds of {shown(interval)}")
    return RunStatus(initialisation, availability, timedelta(seconds=int(interval)))


def run_of(status: RunStatus, retrieved: datetime) -> datetime:
    """Return from which run an answer is, at least.

    Parameters
    ----------
    status : RunStatus
        The last run.
    retrieved : datetime
        Aware: when the answer was got; it may have been before the last run.

    Returns
    -------
    datetime
        Aware UTC: initialisation of the last run that every server had by then.

    Notes
    -----
    Earlier runs are taken to lie one update interval apart.

    Examples
    --------
    >>> from datetime import UTC, datetime, timedelta
    >>> run, available = datetime(2026, 1, 23, 6, tzinfo=UTC), datetime(2026, 1, 23, 10, tzinfo=UTC)
    >>> status = RunStatus(run, available, timedelta(hours=6))
    >>> run_of(status, datetime(2026, 1, 23, 10, 5, tzinfo=UTC)).hour
    0
    """
    early = status.availability + SPREADING - as_utc(retrieved)
    runs = max(0, math.ceil(early / status.update_interval))
    return status.initialisation - runs * status.update_interval


def day_asked(series: Series) -> datetime:
    """Return the day on which an answer was asked for: the service begins its values with that day.

    Parameters
    ----------
    series : Series
        Values from an answer.

    Returns
    -------
    datetime
        Aware UTC: its beginning. That is all an answer itself says of its age.
    """
    return from_datetime64(np.datetime64(series.times[0]))


def latest_possible_run(series: Series, retrieved: datetime) -> datetime:
    """Return the last instant at which the values of an answer can have been made.

    Parameters
    ----------
    series : Series
        Values from an answer; the service begins with 00:00 UTC of the day on which it is asked.
    retrieved : datetime
        Aware: when the answer was got.

    Returns
    -------
    datetime
        Aware UTC: the retrieval, or the end of the first day if that was earlier, as in an answer that some
        proxy has kept for days.
    """
    return min(as_utc(retrieved), day_asked(series) + _FIRST_DAY)


def _instant(value: object, key: str) -> datetime:
    """Return a time in seconds since 1970."""
    if not is_number(value) or not EARLIEST.timestamp() <= value <= LATEST.timestamp():
        refuse(f"the status has a {key} of {shown(value)}")
    return datetime.fromtimestamp(int(value), tz=UTC)
