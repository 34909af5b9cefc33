"""What is told to somebody who is asked because another has not answered.

Work that was called for and not answered by its reminder is told to the next person, once, with a line that says why.
From then on that person reads of it like everybody else, until released: by an answer, whoever gives it, by a
postponement, or by the end of the matter. Work that is called for anew after that may be asked for anew.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.alerts import AlertState, Notice, NoticeKind
from alertd.core import ResponseType

from .owed import RELEASES, last_told, owed_of

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from alertd.alerts import Alert, Standing

    from .correspondence import Told

#: Whoever is called to work has at least this long to answer before somebody else is asked. Assumed.
ANSWER_WITHIN = timedelta(minutes=30)


def escalates_at(alert: Alert, released: int, reminder_before: timedelta) -> datetime | None:
    """Return when work that nobody has answered is told to the next person.

    Parameters
    ----------
    alert : Alert
        An open one.
    released : int
        Revision with which that person was released before; 0 if never.
    reminder_before : timedelta
        How long before the latest start the reminder comes.

    Returns
    -------
    datetime or None
        With the reminder, but not before `ANSWER_WITHIN` after the call to work by this latest start; ``None`` if the
        alert calls for no work by a latest start.
    """
    start_by = alert.announced.start_by
    if alert.state is not AlertState.EXECUTE or start_by is None:
        return None
    called = None
    for told in alert.history[released:]:
        is_this_call = told.response_type is ResponseType.EXECUTE and told.start_by == start_by
        called = (called or told.sent) if is_this_call else None
    return None if called is None else max(start_by - reminder_before, called + ANSWER_WITHIN)


def owed_to_stand_in(
    standing: Standing,
    told: Told,
    asked_for: str,
    fresh: Mapping[str, Notice],
    now: datetime,
    reminder_before: timedelta,
) -> Notice | None:
    """Return what somebody who does not care for a group is owed of one of its alerts.

    Parameters
    ----------
    standing : Standing
        The alert as it stands now, open or ended.
    told : Told
        What that person knows.
    asked_for : str
        Name of the person in whose place this one is asked; ``""`` if nobody's.
    fresh : mapping of str to Notice
        What this evaluation tells, by alert id.
    now : datetime
        Aware UTC.
    reminder_before : timedelta
        How long before the latest start the reminder comes.

    Returns
    -------
    Notice or None
        With ``in_place_of``.
    """
    alert = standing.alert
    before = last_told(alert, told.revision)
    if before is None or told.is_over:
        at = escalates_at(alert, told.revision, reminder_before) if asked_for else None
        if at is None or now < at:
            return None
        first = Notice(
            _first_kind(alert, now),
            alert,
            None,
            standing.task,
            standing.threshold,
            latest=standing.spell,
            models=standing.models,
        )
        return replace(first, in_place_of=asked_for)
    if alert.state in {AlertState.DONE, AlertState.DECLINED}:
        return Notice(NoticeKind.ANSWERED, alert, before, standing.task, None, in_place_of=asked_for)
    notice = owed_of(standing, told.revision, fresh, now, reminder_before)
    if notice is None or (not asked_for and notice.kind not in RELEASES):
        return None
    return replace(notice, in_place_of=asked_for)


def _first_kind(alert: Alert, now: datetime) -> NoticeKind:
    """Return how somebody is asked who has not read of a matter before."""
    start_by = alert.announced.start_by
    return NoticeKind.REMINDER if start_by is not None and now < start_by else NoticeKind.OPENED
