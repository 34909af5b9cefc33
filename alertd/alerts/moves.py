"""How an alert is made and moved: the table applied to facts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from alertd.core import Certainty, MessageType, ResponseType, Severity, Urgency

from .alert import Alert, AlertState, Announcement
from .lifecycle import NoticeKind, step
from .notice import Notice, Transition

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from alertd.plan import Action, Task
    from alertd.risk import ColdSpell, Rule, Threshold

    from .lifecycle import Event
    from .notice import Change

_MESSAGE_TYPES = {
    NoticeKind.OPENED: MessageType.ALERT,
    NoticeKind.ACT: MessageType.UPDATE,
    NoticeKind.CHANGED: MessageType.UPDATE,
    NoticeKind.POSTPONED: MessageType.UPDATE,
    NoticeKind.REMINDER: MessageType.UPDATE,
    NoticeKind.FINAL_CALL: MessageType.UPDATE,
    NoticeKind.CANCELLED: MessageType.CANCEL,
    NoticeKind.EXPIRED: MessageType.UPDATE,
    NoticeKind.ALL_CLEAR: MessageType.UPDATE,
    NoticeKind.CLOSED: MessageType.UPDATE,
}

_RESPONSE_TYPES_AT_END = {
    NoticeKind.CANCELLED: ResponseType.NONE,
    NoticeKind.EXPIRED: ResponseType.ASSESS,
    NoticeKind.ALL_CLEAR: ResponseType.ALL_CLEAR,
    NoticeKind.CLOSED: ResponseType.NONE,
}


@dataclass(frozen=True, slots=True)
class Facts:
    """What an evaluation knows about one matter.

    Parameters
    ----------
    spell : ColdSpell or None
        The cold, for matters of cold.
    threshold : Threshold or None
        The rule that speaks.
    task : Task or None
        What is to be done.
    opens_with : ResponseType
        CAP response of an open alert in state execute.
    severity, certainty
        CAP tokens of matters without a spell.
    probability : float or None
        For matters without a spell.
    models : tuple of Threshold
        What models say of the group.
    """

    spell: ColdSpell | None = None
    threshold: Threshold | None = None
    task: Task | None = None
    opens_with: ResponseType = ResponseType.EXECUTE
    severity: Severity = Severity.MINOR
    certainty: Certainty = Certainty.LIKELY
    probability: float | None = None
    models: tuple[Threshold, ...] = ()


def new_alert_id(group: str, day: str, taken: Iterable[str]) -> str:
    """Return an id that nobody has used: group, local date, and a number if the day has had one.

    Parameters
    ----------
    group : str
        Group id or ``"site"``.
    day : str
        Local date of the onset, ISO 8601.
    taken : iterable of str
        Ids in use.

    Returns
    -------
    str
        Like ``patio-pots-2026-01-22`` or ``patio-pots-2026-01-22-2``.
    """
    used = set(taken)
    stem = f"{group}-{day}"
    number = 1
    while (candidate := stem if number == 1 else f"{stem}-{number}") in used:
        number += 1
    return candidate


@dataclass(frozen=True, slots=True)
class Matter:
    """What an alert is about, for its whole life.

    Parameters
    ----------
    alert_id : str
        Unique.
    group : str
        Group id or ``"site"``.
    action, rule : Action, Rule
        What is to be done, and who says so.
    """

    alert_id: str
    group: str
    action: Action
    rule: Rule


def open_alert(matter: Matter, event: Event, facts: Facts, now: datetime) -> Transition:
    """Return the transition that opens an alert.

    Parameters
    ----------
    matter : Matter
        What it is about.
    event : Event
        ``FORESEEN`` or ``DUE``.
    facts : Facts
        What is known.
    now : datetime
        Aware UTC.

    Returns
    -------
    Transition
        With its notice.

    Raises
    ------
    ValueError
        If the event opens no alert.
    """
    to = step(None, event)
    first = _announcement(NoticeKind.OPENED, to.state, facts, None, now)
    alert = Alert(
        alert_id=matter.alert_id,
        group=matter.group,
        action=matter.action,
        rule=matter.rule,
        state=to.state,
        opened=first,
        announced=first,
        end=first.end,
        revision=1,
        worst_severity=first.severity,
        history=(first,),
    )
    alert = _with_calls_already_made(alert, now, facts)
    notice = Notice(NoticeKind.OPENED, alert, None, facts.task, facts.threshold, models=facts.models)
    return Transition(event, None, alert, notice)


def move_alert(alert: Alert, event: Event, facts: Facts, now: datetime, changes: tuple[Change, ...] = ()) -> Transition:
    """Return the transition that an event makes of an alert.

    Parameters
    ----------
    alert : Alert
        As it stands.
    event : Event
        What happens.
    facts : Facts
        What is known now.
    now : datetime
        Aware UTC.
    changes : tuple of Change
        Why it is told again.

    Returns
    -------
    Transition
        With a notice if the table asks for one.

    Raises
    ------
    ValueError
        If the event cannot happen in the alert's state.
    """
    to = step(alert.state, event)
    after = replace(alert, state=to.state)
    if to.outcome is not None:
        after = replace(after, ended=now, outcome=to.outcome)
    if to.notice is None:
        return Transition(event, alert, after, None)
    told = _announcement(to.notice, to.state, facts, alert.announced, now)
    after = replace(
        after,
        announced=told,
        end=facts.spell.end if facts.spell is not None else after.end,
        revision=alert.revision + 1,
        history=(*alert.history, told),
        reminded=after.reminded or to.notice is NoticeKind.REMINDER,
        called=after.called or to.notice is NoticeKind.FINAL_CALL,
        worst_severity=max(alert.worst_severity, told.severity, key=lambda severity: severity.rank),
    )
    if to.notice is NoticeKind.POSTPONED:
        after = replace(after, reminded=False, called=False)
    after = _with_calls_already_made(after, now, facts)
    notice = Notice(to.notice, after, alert.announced, facts.task, facts.threshold, changes, models=facts.models)
    return Transition(event, alert, after, notice)


def _with_calls_already_made(alert: Alert, now: datetime, facts: Facts) -> Alert:
    """Return the alert with the calls counted as made that the message just sent makes needless."""
    start_by = alert.announced.start_by
    if alert.state is not AlertState.EXECUTE or start_by is None or facts.task is None:
        return alert
    reminded = alert.reminded or now >= start_by - facts.task.reminder_before
    return replace(alert, reminded=reminded, called=alert.called or now >= start_by)


def _announcement(
    kind: NoticeKind, state: AlertState, facts: Facts, before: Announcement | None, now: datetime
) -> Announcement:
    """Return what a message says of an alert, in CAP's terms and in numbers."""
    message_type = _MESSAGE_TYPES[kind]
    if kind in _RESPONSE_TYPES_AT_END and before is not None:
        return replace(
            before,
            sent=now,
            message_type=message_type,
            response_type=_RESPONSE_TYPES_AT_END[kind],
            urgency=Urgency.PAST,
        )
    spell, task = facts.spell, facts.task
    start_by = task.start_by if task is not None else None
    announcement = Announcement(
        sent=now,
        message_type=message_type,
        response_type=ResponseType.PREPARE if state is AlertState.PREPARE else facts.opens_with,
        severity=facts.severity,
        urgency=_urgency(start_by, now),
        certainty=facts.certainty,
        start_by=start_by,
        probability=facts.probability,
    )
    if spell is not None:
        return replace(
            announcement,
            severity=spell.severity,
            certainty=spell.certainty,
            onset=spell.onset,
            end=spell.end,
            minimum=spell.minimum,
            minimum_low=spell.minimum_low,
            minimum_high=spell.minimum_high,
            probability=spell.probability,
        )
    if before is None:
        return announcement
    told = before if kind is not NoticeKind.ACT else replace(before, start_by=start_by, response_type=facts.opens_with)
    return replace(told, sent=now, message_type=message_type, urgency=_urgency(told.start_by, now))


def _urgency(start_by: datetime | None, now: datetime) -> Urgency:
    """Return CAP's urgency of work that must begin by an instant."""
    if start_by is None:
        return Urgency.FUTURE
    hours = (start_by - now).total_seconds() / 3600.0
    if hours <= 0.0:
        return Urgency.IMMEDIATE
    return Urgency.EXPECTED if hours <= 1.0 else Urgency.FUTURE
