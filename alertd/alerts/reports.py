"""What people report, applied to alerts and conditions."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from alertd.plan import Action
from alertd.site import Condition, Cover, Stage

from .alert import AlertState
from .lifecycle import Event
from .moves import Facts, move_alert
from .survey import PROTECTING

if TYPE_CHECKING:
    from datetime import datetime

    from .alert import Alert
    from .notice import Transition

#: What a reported task leaves behind. Tasks that are not listed change nothing that lasts.
COVER_AFTER = {
    **dict.fromkeys(PROTECTING, Cover.IN_PLACE),
    Action.OPEN_COVER: Cover.OPENED,
    Action.LIFT_COVER: Cover.LIFTED,
    Action.BRING_OUT: Cover.LIFTED,
}


@dataclass(frozen=True, slots=True)
class Report:
    """What a report changes.

    Parameters
    ----------
    transition : Transition
        The alert's step; it is never announced by itself.
    condition : Condition
        The group's condition from now on.
    """

    transition: Transition
    condition: Condition


def report_done(alert: Alert, condition: Condition, now: datetime) -> Report:
    """Return what follows when somebody reports a task done.

    Parameters
    ----------
    alert : Alert
        An open one that is not done yet.
    condition : Condition
        The group's.
    now : datetime
        Aware UTC.

    Returns
    -------
    Report
        The alert falls silent until its spell is over; the group counts as protected from now on.

    Raises
    ------
    ValueError
        If the alert is done or ended already.
    """
    cover = COVER_AFTER.get(alert.action)
    after = condition if cover is None else replace(condition, cover=cover, cover_since=now)
    if alert.action is Action.COVER_AGAIN:
        after = replace(after, stage=Stage.BUDBREAK, stage_since=now)
    return Report(move_alert(alert, Event.REPORTED_DONE, Facts(), now), after)


def report_declined(alert: Alert, condition: Condition, now: datetime) -> Report:
    """Return what follows when somebody says *not this time*.

    Parameters
    ----------
    alert : Alert
        An open one, neither done nor declined.
    condition : Condition
        The group's; it stays.
    now : datetime
        Aware UTC.

    Returns
    -------
    Report
        Reminders stop; a spell that becomes more severe speaks up again.

    Raises
    ------
    ValueError
        If the alert is done, declined or ended already.
    """
    return Report(move_alert(alert, Event.DECLINED, Facts(), now), condition)


def can_be_reported(alert: Alert) -> bool:
    """Return whether a report of *done* would mean anything for the alert."""
    return alert.state in {AlertState.PREPARE, AlertState.EXECUTE, AlertState.DECLINED}
