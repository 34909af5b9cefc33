"""What a person is owed: the difference between what that person was told of an alert and what is so.

An alert counts its messages (its revision) and keeps what each of them said. A person who knows all of them is owed
nothing. Who knows fewer is owed one message that says what is so now, measured against the last one that this very
person has read: what was opened and called off in between is not told at all, and what was told three times over is
told once. Whoever has read of an alert is owed its end.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from alertd.alerts import AlertState, Change, Notice, NoticeKind, Outcome, changes_between
from alertd.core import ResponseType

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime, timedelta

    from alertd.alerts import Alert, Announcement, Standing

#: The message that ends an alert, by its outcome; as in the table of its life.
END_OF = {
    Outcome.DONE: NoticeKind.ALL_CLEAR,
    Outcome.DECLINED: NoticeKind.CLOSED,
    Outcome.CANCELLED: NoticeKind.CANCELLED,
    Outcome.EXPIRED: NoticeKind.EXPIRED,
}

#: What ends a matter for somebody who stands in for another.
RELEASES = frozenset({NoticeKind.ANSWERED, NoticeKind.POSTPONED, *END_OF.values()})


def last_told(alert: Alert, revision: int) -> Announcement | None:
    """Return what the message of a revision said, or ``None`` for revision 0."""
    return alert.history[revision - 1] if revision else None


def owed_of(
    standing: Standing,
    revision: int,
    fresh: Mapping[str, Notice],
    now: datetime,
    reminder_before: timedelta,
) -> Notice | None:
    """Return what somebody who cares for a group is owed of one of its alerts.

    Parameters
    ----------
    standing : Standing
        The alert as it stands now, open or ended.
    revision : int
        How many of its messages the person knows; 0 for none.
    fresh : mapping of str to Notice
        What this evaluation tells, by alert id.
    now : datetime
        Aware UTC.
    reminder_before : timedelta
        How long before the latest start the reminder comes.

    Returns
    -------
    Notice or None
        The evaluation's own notice where it is the only one that the person does not know.
    """
    alert = standing.alert
    if revision >= alert.revision:
        return None
    notice = fresh.get(alert.alert_id)
    if notice is not None and revision == alert.revision - 1:
        return notice
    before = last_told(alert, revision)
    changes = () if before is None or not alert.is_open else changes_between(alert.history[:revision], alert.announced)
    kind = _kind(alert, before, changes, now, reminder_before)
    if kind is None or (kind is NoticeKind.ACT and _came_back(alert, revision)):
        return None
    said = changes if kind is NoticeKind.CHANGED else ()
    return Notice(
        kind, alert, before, standing.task, standing.threshold, said, latest=standing.spell, models=standing.models
    )


def _kind(
    alert: Alert, before: Announcement | None, changes: tuple[Change, ...], now: datetime, reminder_before: timedelta
) -> NoticeKind | None:
    """Return what kind of message brings a person from what was told to what is so."""
    if before is None:
        return NoticeKind.OPENED if alert.state in {AlertState.PREPARE, AlertState.EXECUTE} else None
    if alert.outcome is not None:
        return END_OF[alert.outcome]
    was_to_prepare = before.response_type is ResponseType.PREPARE
    if alert.state is AlertState.PREPARE:
        kind = NoticeKind.CHANGED if changes else None
        return kind if was_to_prepare else NoticeKind.POSTPONED
    if alert.state is not AlertState.EXECUTE:
        return None
    return NoticeKind.ACT if was_to_prepare else _call(alert, changes, now, reminder_before)


def _call(alert: Alert, changes: tuple[Change, ...], now: datetime, reminder_before: timedelta) -> NoticeKind:
    """Return how somebody is called again to work that was called for before."""
    told = alert.announced
    is_before_cold = told.onset is None or now < told.onset
    if told.start_by is not None and is_before_cold and now >= told.start_by:
        return NoticeKind.FINAL_CALL
    if changes:
        return NoticeKind.CHANGED
    is_near = told.start_by is not None and is_before_cold and now >= told.start_by - reminder_before
    return NoticeKind.REMINDER if is_near else NoticeKind.ACT


def _came_back(alert: Alert, revision: int) -> bool:
    """Return whether work was put off and called for anew by the same time since a revision."""
    was_put_off = any(told.response_type is ResponseType.PREPARE for told in alert.history[revision:])
    before = alert.history[revision - 1]
    is_same_call = (before.response_type, before.start_by) == (ResponseType.EXECUTE, alert.announced.start_by)
    return was_put_off and is_same_call
