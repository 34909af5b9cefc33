"""One crew, many tasks: when each must begin so that all are done in time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from alertd.core import as_utc
from alertd.site import Slot, working_slots

from .schedule import Schedule, rounded_down

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime, timedelta

    from alertd.site import Site, WorkHours


@dataclass(frozen=True, slots=True)
class Work:
    """Work that must be done before a deadline.

    Parameters
    ----------
    group : str
        Group id.
    deadline : datetime
        Aware: the onset of the cold.
    effort : timedelta
        How long the crew needs.
    """

    group: str
    deadline: datetime
    effort: timedelta


def agenda(site: Site, work: WorkHours, now: datetime, works: Sequence[Work]) -> tuple[Schedule, ...]:
    """Return when each of several pieces of work must begin, done by one crew one after the other.

    The working hours left are given away from the last one backwards: first to the work with the latest
    deadline, of several before the same nightfall to the last in order. So each piece of work begins at
    the last moment at which everything before its deadline still fits.

    Parameters
    ----------
    site : Site
        Light and local time.
    work : WorkHours
        Hours of work.
    now : datetime
        Aware.
    works : sequence of Work
        In the order in which they should be done where the deadline does not decide.

    Returns
    -------
    tuple of Schedule
        For each piece of work, in the same order.
    """
    if not works:
        return ()
    free = list(working_slots(site, work, now, max(each.deadline for each in works)))
    first_end = free[0].end if free else as_utc(now)
    order = sorted(range(len(works)), key=lambda index: (_nightfall(free, works[index]), index), reverse=True)
    schedules: dict[int, Schedule] = {}
    for index in order:
        free, start = _reserved(free, works[index])
        if start is None:
            schedules[index] = Schedule(as_utc(now), is_enough=False, is_due=True)
        else:
            schedules[index] = Schedule(start, is_enough=True, is_due=start < first_end)
    return tuple(schedules[index] for index in range(len(works)))


def _nightfall(slots: list[Slot], work: Work) -> datetime:
    """Return the end of the working hours that are left before a deadline: equal ends are equally pressing."""
    ends = [min(slot.end, work.deadline) for slot in slots if slot.start < work.deadline]
    return max(ends, default=work.deadline)


def _reserved(free: list[Slot], work: Work) -> tuple[list[Slot], datetime | None]:
    """Return the hours left after the last possible ones were taken for some work, and when it begins.

    Work that does not fit takes nothing: it is late already, and must not make other work late.
    """
    left, needed = [], work.effort
    start: datetime | None = None
    for slot in reversed(free):
        end = min(slot.end, work.deadline)
        if start is not None or end <= slot.start:
            left.append(slot)
            continue
        if end < slot.end:
            left.append(Slot(end, slot.end))
        if end - slot.start < needed:
            needed -= end - slot.start
            continue
        start = max(rounded_down(end - needed), slot.start)
        if slot.start < start:
            left.append(Slot(slot.start, start))
    return (free, None) if start is None else (left[::-1], start)
