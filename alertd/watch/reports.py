"""What people report, written to the store."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from alertd.alerts import can_be_reported, report_declined, report_done
from alertd.audit import AuditEvent
from alertd.core import ReportError, as_utc
from alertd.site import Condition, Cover, Protection, Stage
from alertd.store import Commit

from .evidence import transition_events

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.alerts import Alert, Garden
    from alertd.site import TreeGroup
    from alertd.store import Store

#: Words that a person may report of a group, and what they mean. Some are there so that the words of the
#: trade can be used for pots.
MARKS: dict[str, Cover | Stage] = {
    "off": Cover.OFF,
    "in-place": Cover.IN_PLACE,
    "in-store": Cover.IN_PLACE,
    "opened": Cover.OPENED,
    "lifted": Cover.LIFTED,
    "brought-out": Cover.LIFTED,
    "budbreak": Stage.BUDBREAK,
    "dormant": Stage.DORMANT,
}


def done(garden: Garden, store: Store, alert_name: str, now: datetime, *, declined: bool = False) -> Alert:
    """Record that somebody has done a task, or will not do it this time.

    Parameters
    ----------
    garden : Garden
        The configuration.
    store : Store
        What is remembered.
    alert_name : str
        Id of the alert, or enough of its beginning.
    now : datetime
        Aware.
    declined : bool
        Whether it is *not this time*.

    Returns
    -------
    Alert
        As it stands now.

    Raises
    ------
    ReportError
        If no alert, or more than one, is meant, or it is over already.
    StoreError
        If the store cannot be written.
    """
    now = as_utc(now).replace(microsecond=0)
    version = store.state_version()
    alert = store.find_alert(alert_name)
    if not can_be_reported(alert) or (declined and alert.state.value == "declined"):
        message = f"the alert {alert.alert_id} is {alert.state.value} already; alertd status lists the open ones"
        raise ReportError(message)
    conditions = store.load_state(garden.site.season_start(now)).conditions
    condition = conditions.get(alert.group, Condition()).in_season(garden.site, now)
    report = (report_declined if declined else report_done)(alert, condition, now)
    body = {"alert_id": alert.alert_id, "said": "not this time" if declined else "done"}
    store.commit(
        Commit(
            now=now,
            alerts=(report.transition.after,),
            conditions={} if report.condition == condition else {alert.group: report.condition},
            events=(AuditEvent(now, "report", body), *transition_events(now, [report.transition])),
            based_on=version,
        )
    )
    return report.transition.after


def mark(garden: Garden, store: Store, group_id: str, word: str, now: datetime) -> Condition:
    """Record how a group stands.

    Parameters
    ----------
    garden : Garden
        The configuration.
    store : Store
        What is remembered.
    group_id : str
        Id of the group.
    word : str
        One of `MARKS`.
    now : datetime
        Aware.

    Returns
    -------
    Condition
        As it stands now.

    Raises
    ------
    ReportError
        If the group or the word is unknown, or the word does not fit the group.
    StoreError
        If the store cannot be written.
    """
    now = as_utc(now).replace(microsecond=0)
    group = _group(garden, group_id)
    meaning = MARKS.get(word)
    if meaning is None:
        message = f"{word!r} cannot be marked; say one of {', '.join(MARKS)}"
        raise ReportError(message)
    if group.protection is Protection.NONE and meaning in {Cover.OPENED, Cover.LIFTED}:
        message = f"the group {group_id} has no protection to be {word}; its protection is none"
        raise ReportError(message)
    version = store.state_version()
    before = store.load_state(garden.site.season_start(now)).conditions.get(group_id, Condition())
    current = before.in_season(garden.site, now)
    if isinstance(meaning, Cover):
        after = replace(current, cover=meaning, cover_since=now)
    else:
        after = replace(current, stage=meaning, stage_since=now)
    event = AuditEvent(now, "report", {"group": group_id, "said": word})
    store.commit(Commit(now=now, conditions={group_id: after}, events=(event,), based_on=version))
    return after


def _group(garden: Garden, group_id: str) -> TreeGroup:
    """Return a group by its id."""
    for group in garden.groups:
        if group.group_id == group_id:
            return group
    message = f"there is no group {group_id!r}; there are {', '.join(group.group_id for group in garden.groups)}"
    raise ReportError(message)
