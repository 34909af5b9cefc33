"""How long a matter may wait for its reader.

Quiet hours are broken by work that is called for (Execute) with severity Severe or Extreme. They yield, as late as may
be, to what would be too late at their end: to work that must begin before, and to the news that it need not. A reader
with a daily digest finds there what changes nothing before: all clears and other ends, invitations to uncover, work
called off that was only foreseen, and changes of such work that do not make it more severe.
"""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.alerts import AlertState, Change, NoticeKind
from alertd.core import ResponseType, Severity
from alertd.site import next_time_of

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.alerts import Notice
    from alertd.site import Site, Slot

    from .reader import Reader

#: Somebody who must begin work of which nothing was said before is woken so long before its latest start. Assumed.
WAKES_BEFORE = timedelta(minutes=30)

_CALLS = frozenset({NoticeKind.OPENED, NoticeKind.ACT, NoticeKind.CHANGED, NoticeKind.REMINDER, NoticeKind.FINAL_CALL})
_CALLED_OFF = frozenset({NoticeKind.CANCELLED, NoticeKind.POSTPONED, NoticeKind.ANSWERED})
_OVER = frozenset({NoticeKind.ALL_CLEAR, NoticeKind.CLOSED, NoticeKind.EXPIRED})


def is_call(notice: Notice) -> bool:
    """Return whether a notice calls for work that must begin by some time."""
    told = notice.alert.announced
    is_execute = notice.alert.state is AlertState.EXECUTE and told.response_type is ResponseType.EXECUTE
    return is_execute and notice.kind in _CALLS


def breaks_quiet_hours(notice: Notice) -> bool:
    """Return whether a notice is told at any hour."""
    return is_call(notice) and notice.alert.announced.severity.rank >= Severity.SEVERE.rank


def is_for_digest(notice: Notice) -> bool:
    """Return whether a reader with a daily digest can find a notice there."""
    kind, before = notice.kind, notice.before
    if kind in _OVER:
        return True
    if kind is NoticeKind.OPENED:
        return notice.alert.announced.response_type is ResponseType.ALL_CLEAR
    if kind is NoticeKind.CANCELLED:
        return before is not None and before.response_type is ResponseType.PREPARE
    is_foreseen = notice.alert.state is AlertState.PREPARE
    return kind is NoticeKind.CHANGED and is_foreseen and Change.MORE_SEVERE not in notice.changes


def due_at(notice: Notice, reader: Reader, site: Site, now: datetime) -> datetime:
    """Return when a notice must be told at the latest.

    Parameters
    ----------
    notice : Notice
        What the reader is owed.
    reader : Reader
        With quiet hours and digest.
    site : Site
        Gives local time.
    now : datetime
        Aware UTC.

    Returns
    -------
    datetime
        Aware UTC; `now` if at once.
    """
    quiet = None if reader.quiet_hours is None else reader.quiet_hours.at(site, now)
    if reader.digest is not None and is_for_digest(notice):
        return next_time_of(site, reader.digest, now)
    if quiet is None or breaks_quiet_hours(notice):
        return now
    presses = _presses_at(notice, quiet)
    return quiet.end if presses is None else min(quiet.end, max(presses, now))


def _presses_at(notice: Notice, quiet: Slot) -> datetime | None:
    """Return when a notice must be told that would be late at the end of the quiet hours."""
    before = notice.before
    called_before = before if before is not None and before.response_type is ResponseType.EXECUTE else None
    start: datetime | None = None
    if is_call(notice):
        start = notice.alert.announced.start_by
    elif notice.kind in _CALLED_OFF and called_before is not None:
        start = called_before.start_by
    if start is None or start < quiet.start:
        return None
    return start if called_before is not None else start - WAKES_BEFORE
