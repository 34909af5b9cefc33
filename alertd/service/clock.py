"""What time means to the daemon: when to look, when a day begins, whether somebody set the clock. All pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.core import as_utc

if TYPE_CHECKING:
    from datetime import date, datetime

#: Clocks that are kept by a network slew by less than this between two heartbeats. Assumed.
CLOCK_TOLERANCE = timedelta(seconds=2)

#: After a failed evaluation the next one comes after this, then after twice as long, up to the usual pause. Assumed.
FIRST_PAUSE_AFTER_FAILURE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class Moment:
    """One moment on two clocks.

    Parameters
    ----------
    wall : datetime
        Aware UTC; people and networks set this clock.
    monotonic : float
        [s] Nobody sets this one; it stands still while the machine sleeps.
    """

    wall: datetime
    monotonic: float


def is_due(now: datetime, last: datetime | None, every: timedelta, call: datetime | None) -> bool:
    """Return whether it is time to evaluate.

    Parameters
    ----------
    now : datetime
        Aware.
    last : datetime or None
        When the last evaluation began, aware; ``None`` if there was none yet.
    every : timedelta
        Pause between two evaluations.
    call : datetime or None
        When the next reminder or final call is due, aware.

    Returns
    -------
    bool
        True at the start, once the pause is over or the call has come, and when the clock says that the last
        evaluation is yet to come: then it was set back, and nobody knows how long ago that was.
    """
    present = as_utc(now)  # in one zone Python counts by the face of the clock, wrong by an hour twice a year
    if last is None or present < last or present - as_utc(last) >= every:
        return True
    return call is not None and call <= present


def pause_after(failures: int, every: timedelta) -> timedelta:
    """Return how long to wait before the next evaluation.

    Parameters
    ----------
    failures : int
        Evaluations that have failed in a row, up to now.
    every : timedelta
        The usual pause.

    Returns
    -------
    timedelta
        Never longer than the usual one.
    """
    if failures == 0:
        return every
    pause = FIRST_PAUSE_AFTER_FAILURE
    for _ in range(failures - 1):
        if pause >= every:
            break
        pause *= 2
    return min(pause, every)


def clock_step(before: Moment, after: Moment) -> timedelta:
    """Return by how much the clock was set between two moments.

    Parameters
    ----------
    before, after : Moment
        In this order.

    Returns
    -------
    timedelta
        Positive if it was set forward, or the machine slept; zero for what clocks do by themselves.
    """
    step = (after.wall - before.wall) - timedelta(seconds=after.monotonic - before.monotonic)
    return timedelta(0) if abs(step) <= CLOCK_TOLERANCE else step


def is_new_day(today: date, noted: date | None) -> bool:
    """Return whether a day has not had its line yet.

    Parameters
    ----------
    today : date
        Local.
    noted : date or None
        The day of the last line.

    Returns
    -------
    bool
        The day after midnight has its line already when the clock is set back over midnight; but a line of the far
        future, written while the clock was wrong, does not silence the days until then.
    """
    return noted is None or today > noted or noted - today > timedelta(days=1)
