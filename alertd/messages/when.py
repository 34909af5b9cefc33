"""Times as people say them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date, datetime, timedelta

    from alertd.site import MonthDay, Site

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_text(instant: datetime, site: Site) -> str:
    """Return the local day of an instant, like ``Tue 22 Jan``."""
    local = site.local(instant)
    return f"{_DAYS[local.weekday()]} {local.day} {_MONTHS[local.month - 1]}"


def weekday_text(day: date) -> str:
    """Return the day of the week, like ``Tue``."""
    return _DAYS[day.weekday()]


def clock_text(instant: datetime, site: Site) -> str:
    """Return the local time of day of an instant, like ``15:10``."""
    return site.local(instant).strftime("%H:%M")


def when_text(instant: datetime, now: datetime, site: Site) -> str:
    """Return an instant as somebody would say it at `now`.

    Parameters
    ----------
    instant, now : datetime
        Aware.
    site : Site
        Gives local time.

    Returns
    -------
    str
        Like ``15:10 today``, ``09:00 tomorrow`` or ``23:00 on Tue 22 Jan``.
    """
    days = (site.local(instant).date() - site.local(now).date()).days
    clock = clock_text(instant, site)
    if days == 0:
        return f"{clock} today"
    if days == 1:
        return f"{clock} tomorrow"
    return f"{clock} on {day_text(instant, site)}"


def span_text(start: datetime, end: datetime, now: datetime, site: Site) -> str:
    """Return a stretch of time as somebody would say it at `now`, the day once where it is one day.

    Parameters
    ----------
    start, end, now : datetime
        Aware.
    site : Site
        Gives local time.

    Returns
    -------
    str
        Like ``between 02:00 and 10:00 tomorrow`` or ``at 04:00 today``.
    """
    if start >= end:
        return f"at {when_text(start, now, site)}"
    is_one_day = site.local(start).date() == site.local(end).date()
    first = clock_text(start, site) if is_one_day else when_text(start, now, site)
    return f"between {first} and {when_text(end, now, site)}"


def month_day_text(day: MonthDay) -> str:
    """Return a day of the year, like ``1 May``."""
    return f"{day.day} {_MONTHS[day.month - 1]}"


def length_text(length: timedelta) -> str:
    """Return a length of work in hours and minutes, rounded up to five minutes.

    Parameters
    ----------
    length : timedelta
        Not negative.

    Returns
    -------
    str
        Like ``1 h 50 min``.
    """
    minutes = -(-int(length.total_seconds()) // 300) * 5
    hours, rest = divmod(minutes, 60)
    if hours == 0:
        return f"{rest} min"
    return f"{hours} h" if rest == 0 else f"{hours} h {rest} min"
