"""Matters of cold: what threatens a group, and what becomes of its alerts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.plan import ACTION_OF_PROTECTION, Action
from alertd.risk import Rule, assess, cold_thresholds
from alertd.site import Cover, Protection

from .alert import AlertState
from .changes import changes_that_matter, is_postponed
from .lifecycle import Event
from .moves import Facts, Matter, move_alert, new_alert_id, open_alert
from .notice import Transition

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.plan import Task
    from alertd.risk import Assessment, ColdSpell, Threshold
    from alertd.site import Condition, TreeGroup

    from .alert import Alert
    from .case import Case
    from .notice import Change

#: Actions that put a protection in place.
PROTECTING = frozenset({*ACTION_OF_PROTECTION.values(), Action.COVER_AGAIN} - {Action.SHIELD})

#: Actions that answer cold.
AGAINST_COLD = PROTECTING | {Action.SHIELD, Action.REINFORCE}

#: Actions for a group that stands bare; one of them at a time is enough.
_FOR_BARE = frozenset(ACTION_OF_PROTECTION.values())

#: Work is done in frost when the cold is this near. Assumed.
_ICE_WITHIN = timedelta(hours=36)


@dataclass(frozen=True, slots=True)
class ColdJudgement:
    """What an evaluation makes of one group's cold.

    Parameters
    ----------
    transitions : tuple of Transition
        Steps in the life of its alerts.
    followed : tuple of Alert
        Alerts that silently follow the forecast.
    assessments : tuple of Assessment
        What the rules that apply to its condition say.
    """

    transitions: tuple[Transition, ...]
    followed: tuple[Alert, ...]
    assessments: tuple[Assessment, ...]


@dataclass(frozen=True, slots=True)
class _Threat:
    """The spell that counts for an action, and the rule that sees it."""

    threshold: Threshold
    spell: ColdSpell


def protecting_action(group: TreeGroup, condition: Condition, *, growing: bool) -> Action:
    """Return what answers cold for a group in its condition.

    Parameters
    ----------
    group : TreeGroup
        With its planned protection.
    condition : Condition
        How far that is in place.
    growing : bool
        Whether frost would meet growing tissue.

    Returns
    -------
    Action
        In place already: reinforce. Taken off in spring: cover again, or move in again. Never put on and
        growing: shield for the night, since nobody builds a winter cover in spring.
    """
    if condition.cover is Cover.IN_PLACE:
        return Action.REINFORCE
    planned = ACTION_OF_PROTECTION[group.protection]
    if group.protection in {Protection.STORE, Protection.CLUSTER, Protection.NONE}:
        return planned
    if condition.cover in {Cover.OPENED, Cover.LIFTED}:
        return Action.COVER_AGAIN
    return Action.SHIELD if growing else planned


def judge_cold(case: Case) -> ColdJudgement:
    """Return what becomes of one group's matters of cold.

    Parameters
    ----------
    case : Case
        The group. Where the watch is blind, its alerts live on by what was told.

    Returns
    -------
    ColdJudgement
        Transitions, silent changes, assessments.
    """
    growing = case.is_growing_in(case.condition)
    assessments: tuple[Assessment, ...] = ()
    if case.series is not None:
        thresholds = _thresholds(case, case.condition, growing=growing)
        assessments = tuple(assess(case.group.group_id, each, case.series, case.now) for each in thresholds)
    transitions: list[Transition] = []
    followed, still_open = [], []
    for alert in case.alerts:
        if alert.is_open and alert.action in AGAINST_COLD:
            steps, after = _steps(case, alert)
            transitions += steps
            if not steps and after is not alert:
                followed.append(after)
            if after.is_open:
                still_open.append(after.action)
    action = protecting_action(case.group, case.condition, growing=growing)
    threat = _first_threat([(item.threshold, item.spells) for item in assessments])
    if threat is not None and not any(_is_one_matter(action, other) for other in still_open):
        transitions.append(_open(case, action, threat))
    return ColdJudgement(tuple(transitions), tuple(followed), assessments)


def _thresholds(case: Case, condition: Condition, *, growing: bool) -> tuple[Threshold, ...]:
    """Return the rules of cold that apply to the group in a condition."""
    return cold_thresholds(case.group, condition, case.hardiness_class, case.garden.rules, growing=growing)


def _first_threat(seen: list[tuple[Threshold, tuple[ColdSpell, ...]]]) -> _Threat | None:
    """Return the earliest spell of several rules; of equally early ones, the one with the worst margin."""
    threats = [_Threat(threshold, spells[0]) for threshold, spells in seen if spells]
    return min(threats, key=lambda threat: (threat.spell.onset, threat.spell.margin), default=None)


def _open(case: Case, action: Action, threat: _Threat) -> Transition:
    """Return the transition that opens an alert for a threat."""
    spell = threat.spell
    task = _task(case, action, spell.onset)
    taken = (alert.alert_id for alert in case.alerts)
    alert_id = new_alert_id(case.group.group_id, case.local_date(spell.onset), taken)
    return open_alert(
        Matter(alert_id, case.group.group_id, action, threat.threshold.rule),
        Event.DUE if task.is_due else Event.FORESEEN,
        Facts(spell, threat.threshold, task),
        case.now,
    )


def _is_one_matter(action: Action, other: Action) -> bool:
    """Return whether two actions answer the same cold: the date that makes wrapping a shield must not tell it twice."""
    return action is other or {action, other} <= _FOR_BARE


def _steps(case: Case, alert: Alert) -> tuple[list[Transition], Alert]:
    """Return what happens to an open alert, and the alert thereafter.

    A step that is not told is followed by the next one at once: looking again at the same forecast must
    find nothing left to say.
    """
    steps: list[Transition] = []
    while not steps or steps[-1].notice is None:
        moved = _follow(case, alert)
        if not isinstance(moved, Transition):
            if steps:
                steps[-1] = replace(steps[-1], after=moved)
            return steps, moved
        steps.append(moved)
        alert = moved.after
    return steps, alert


def _follow(case: Case, alert: Alert) -> Transition | Alert:
    """Return what becomes of an open alert: a transition, or the alert as it silently follows."""
    told = alert.announced
    if told.onset is None or alert.end is None:
        message = f"the alert {alert.alert_id} is a matter of cold without a spell"
        raise ValueError(message)
    strict = _threat_of(case, alert, lingering=False)
    lingering = strict or _threat_of(case, alert, lingering=True)
    has_come, is_preparing = case.now >= told.onset, alert.state is AlertState.PREPARE
    seen = lingering if has_come and is_preparing else strict
    task = _task(case, alert.action, told.onset if seen is None else seen.spell.onset)
    changes: tuple[Change, ...] = ()
    if strict is not None:
        changes = changes_that_matter(alert, strict.spell, strict.threshold, task, case.now)
    fate = _Fate(
        is_in_place=alert.action in PROTECTING and case.condition.cover is Cover.IN_PLACE,
        is_gone=lingering is None and (case.series is not None or case.now > alert.end),
        is_begun=has_come and (not is_preparing or case.now > alert.end),
    )
    event = _event(alert, fate, task, case.now, changes)
    if event is None:
        is_same = lingering is None or lingering.spell.end == alert.end
        return alert if is_same or lingering is None else replace(alert, end=lingering.spell.end)
    facts = Facts(None, None if lingering is None else lingering.threshold, task)
    if strict is not None and event not in {Event.REMINDER, Event.FINAL_CALL}:
        facts = replace(facts, spell=strict.spell)
    return move_alert(alert, event, facts, case.now, changes)


@dataclass(frozen=True, slots=True)
class _Fate:
    """Where an alert's matter stands, whatever its state."""

    is_in_place: bool
    is_gone: bool
    is_begun: bool


def _event(alert: Alert, fate: _Fate, task: Task, now: datetime, changes: tuple[Change, ...]) -> Event | None:
    """Return the one event that an evaluation holds for an open alert, the weightiest first."""
    if fate.is_in_place and alert.state is not AlertState.DONE:
        return Event.REPORTED_DONE
    if fate.is_gone:
        return Event.PASSED if fate.is_begun else Event.EASED
    if alert.state is AlertState.DONE:
        return Event.UNDONE if alert.action in PROTECTING and not fate.is_in_place else None
    if alert.state is AlertState.PREPARE and task.is_due:
        return Event.DUE
    if is_postponed(alert, task, now):
        return Event.POSTPONED
    return Event.WORSENED if changes else _call(alert, task, now, is_begun=fate.is_begun)


def _call(alert: Alert, task: Task, now: datetime, *, is_begun: bool) -> Event | None:
    """Return whether the one reminder or the one final call is due."""
    start_by = alert.announced.start_by
    if alert.state is not AlertState.EXECUTE or start_by is None or is_begun:
        return None
    if now >= start_by:
        return None if alert.called else Event.FINAL_CALL
    if now >= start_by - task.reminder_before:
        return None if alert.reminded else Event.REMINDER
    return None


def _threat_of(case: Case, alert: Alert, *, lingering: bool) -> _Threat | None:
    """Return the spell of an open alert in today's forecast, judged as if its task were not done."""
    if case.series is None:
        return None
    undone = _undone(alert, case.condition)
    growing = alert.rule is Rule.SPRING_FROST or case.is_growing_in(undone)
    seen = []
    for threshold in _thresholds(case, undone, growing=growing):
        spells = assess(case.group.group_id, threshold, case.series, case.now, lingering=lingering, is_open=True).spells
        latest = (alert.end or case.now) + threshold.settings.spell_gap
        seen.append((threshold, tuple(spell for spell in spells if spell.onset <= latest)))
    threat = _first_threat(seen)
    onset = alert.announced.onset
    is_told_to_work = alert.state is not AlertState.PREPARE
    if threat is not None and is_told_to_work and onset is not None and onset <= case.now:
        return replace(threat, spell=replace(threat.spell, onset=onset))
    return threat


def _undone(alert: Alert, condition: Condition) -> Condition:
    """Return the condition as it was before the alert's task."""
    if alert.action is Action.REINFORCE:
        return replace(condition, cover=Cover.IN_PLACE)
    if alert.action in {Action.MOVE_IN, Action.CLUSTER} and condition.cover is not Cover.IN_PLACE:
        return condition
    return replace(condition, cover=Cover.LIFTED if alert.action is Action.COVER_AGAIN else Cover.OFF)


def _task(case: Case, action: Action, onset: datetime) -> Task:
    """Return the task of an action that must be done before an onset."""
    return case.task_before(action, onset, expects_ice=onset - case.now <= _ICE_WITHIN)
