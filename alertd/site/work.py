"""When people can work."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from alertd.core import as_utc

from .daylight import daylight
from .local_time import instant_of

if TYPE_CHECKING:
    from .place import Site


@dataclass(frozen=True, slots=True)
class WorkHours:
    """When people can work, and how they are told.

    Parameters
    ----------
    earliest, latest : datetime.time
        Local time of day between which work may be asked for.
    daylight_only : bool
        Whether work stops at sunset.
    people : int
        How many people work together.
    reminder_before : timedelta
        How long before the latest start the one reminder is sent.

    Raises
    ------
    ValueError
        If the hours are empty or nobody works.
    """

    earliest: time = time(7, 0)
    latest: time = time(20, 0)
    daylight_only: bool = True
    people: int = 1
    reminder_before: timedelta = timedelta(hours=2)

    def __post_init__(self) -> None:
        """Refuse hours in which nothing can be done."""
        if self.earliest >= self.latest:
            message = f"working hours must begin before they end, not {self.earliest} to {self.latest}"
            raise ValueError(message)
        if self.people < 1:
            message = f"at least one person must work, not {self.people}"
            raise ValueError(message)


def is_sociable(site: Site, work: WorkHours, now: datetime) -> bool:
    """Return whether it is a time of day at which people may be told what does not press.

    Parameters
    ----------
    site : Site
        Gives local time.
    work : WorkHours
        People are up between its earliest and latest hour.
    now : datetime
        Aware.

    Returns
    -------
    bool
        Whatever the light.
    """
    return work.earliest <= site.local(now).time() < work.latest


@dataclass(frozen=True, slots=True)
class Slot:
    """A stretch of time in which people can work.

    Parameters
    ----------
    start, end : datetime
        Aware UTC, start before end.
    """

    start: datetime
    end: datetime

    @property
    def length(self) -> timedelta:
        """How long it is."""
        return self.end - self.start


def working_slots(site: Site, work: WorkHours, start: datetime, end: datetime) -> tuple[Slot, ...]:
    """Return the stretches between two instants in which people can work.

    Where the sun does not rise at all, the hours of work stand alone: nobody can wait for spring.

    Parameters
    ----------
    site : Site
        Gives light and local time.
    work : WorkHours
        Gives hours.
    start, end : datetime
        Aware.

    Returns
    -------
    tuple of Slot
        In order, cut to start and end; empty if there is none.
    """
    first = site.local(start).date() - timedelta(days=1)
    slots = []
    for offset in range((site.local(end).date() - first).days + 2):
        day = first + timedelta(days=offset)
        slot = _slot_of_day(site, work, day)
        if slot is None:
            continue
        cut = (max(slot[0], as_utc(start)), min(slot[1], as_utc(end)))
        if cut[0] < cut[1]:
            slots.append(Slot(*cut))
    return tuple(slots)


def _slot_of_day(site: Site, work: WorkHours, day: date) -> tuple[datetime, datetime] | None:
    """Return the working hours of one local date, or None where there are none."""
    begin = instant_of(site.time_zone, day, work.earliest)
    end = instant_of(site.time_zone, day, work.latest)
    if work.daylight_only:
        noon = as_utc(datetime.combine(day, time(12), tzinfo=site.time_zone))
        solar_day = (noon + timedelta(minutes=4.0 * site.longitude)).date()  # another one across the date line
        light = daylight(site.latitude, site.longitude, solar_day)
        if light.sunrise is not None and light.sunset is not None:
            begin, end = max(begin, light.sunrise), min(end, light.sunset)
    return (begin, end) if begin < end else None
