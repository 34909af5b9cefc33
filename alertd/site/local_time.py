"""Local times of day as instants, on every day that clocks are changed.

A time of day that a day does not have, because clocks go forward over it, is the instant at which they have gone
forward; one that a day has twice, because clocks go back, is the first of the two. So later times of a day are never
earlier instants, and each day has each time of day exactly once.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING

from alertd.core import as_utc

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from .place import Site

_DAY = timedelta(days=1)
_SECOND = timedelta(seconds=1)


def instant_of(time_zone: ZoneInfo, day: date, clock: time) -> datetime:
    """Return when it is a time of day on a local day.

    Parameters
    ----------
    time_zone : zoneinfo.ZoneInfo
        Of the day.
    day : date
        Local.
    clock : datetime.time
        Naive, local.

    Returns
    -------
    datetime
        Aware UTC, whole seconds: the first of two; the instant after the gap where there is none.

    References
    ----------
    PEP 495 (2015), *seen*: in a gap, ``fold`` 0 counts by the offset before it and ``fold`` 1 by the one after.

    Examples
    --------
    >>> from zoneinfo import ZoneInfo
    >>> instant_of(ZoneInfo("Europe/Berlin"), date(2027, 3, 28), time(2, 30)).isoformat()
    '2027-03-28T01:00:00+00:00'
    """
    face = datetime.combine(day, clock)
    first = face.replace(tzinfo=time_zone, fold=0).astimezone(UTC)
    if first.astimezone(time_zone).replace(tzinfo=None) == face:
        return first
    before, after = face.replace(tzinfo=time_zone, fold=1).astimezone(UTC), first
    offset = before.astimezone(time_zone).utcoffset()
    while after - before > _SECOND:
        middle = before + (after - before) // _SECOND // 2 * _SECOND
        if middle.astimezone(time_zone).utcoffset() == offset:
            before = middle
        else:
            after = middle
    return after


def last_day_with(site: Site, clock: time, now: datetime) -> date:
    """Return the latest local day on which a time of day has come.

    Parameters
    ----------
    site : Site
        Gives local time.
    clock : datetime.time
        Local time of day.
    now : datetime
        Aware.

    Returns
    -------
    date
        Today, or yesterday if today's is yet to come.
    """
    today = site.local(now).date()
    present = as_utc(now)
    days = (today + _DAY, today)  # where clocks go back over midnight, tomorrow may have begun once already
    return next((day for day in days if instant_of(site.time_zone, day, clock) <= present), today - _DAY)


def next_time_of(site: Site, clock: time, now: datetime) -> datetime:
    """Return when a time of day comes next.

    Parameters
    ----------
    site : Site
        Gives local time.
    clock : datetime.time
        Local time of day.
    now : datetime
        Aware.

    Returns
    -------
    datetime
        Aware UTC, after `now`.
    """
    return instant_of(site.time_zone, last_day_with(site, clock, now) + _DAY, clock)


def is_day_due(day: date, noted: date | None) -> bool:
    """Return whether something that comes once a local day is still to be done for a day.

    Parameters
    ----------
    day : date
        The latest day whose time has come.
    noted : date or None
        The day for which it was done last.

    Returns
    -------
    bool
        False where the clock was set back by hours and the time comes again; but a day of the far future, noted
        while the clock was wrong, does not silence the days until then.
    """
    return noted is None or day > noted or noted - day > _DAY
