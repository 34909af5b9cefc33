"""Matters of cold: what threatens a group, and what becomes of its alerts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from .alert import AlertState
from .changes import changes_that_matter, is_postponed
from .lifecycle import Event
from .moves import Facts, Matter, move_alert, new_alert_id, open_alert
from .notice import Standing, Transition
from .survey import PROTECTING, TO_DO, is_in_place, is_one_matter, models_in, onset_of, sight_of, undone, work_of

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from alertd.plan import Action, Schedule, Task, Work
    from alertd.risk import Assessment

    from .alert import Alert
    from .case import Case
    from .notice import Change
    from .survey import ColdSurvey, Sight, Threat

    Plans = Mapping[tuple[Action, datetime], Schedule]


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
    works : tuple of (Action, Work)
        What the crew still has to do for the group thereafter.
    standings : tuple of Standing
        Its open alerts thereafter.
    """

    transitions: tuple[Transition, ...]
    followed: tuple[Alert, ...]
    assessments: tuple[Assessment, ...]
    works: tuple[tuple[Action, Work], ...]
    standings: tuple[Standing, ...]


def judge_cold(survey: ColdSurvey, plans: Plans) -> ColdJudgement:
    """Return what becomes of one group's matters of cold.

    Parameters
    ----------
    survey : ColdSurvey
        What it faces. Where the watch is blind, its alerts live on by what was told.
    plans : mapping of (Action, datetime) to Schedule
        When the crew's agenda has each work of the group begin, by action and onset.

    Returns
    -------
    ColdJudgement
        Transitions, silent changes, assessments.
    """
    case = survey.case
    transitions: list[Transition] = []
    followed, still_open = [], []
    for alert in case.alerts:
        if alert.alert_id in survey.sights:
            steps, standing = _steps(case, alert, survey.sights[alert.alert_id], plans)
            transitions += steps
            if not steps and standing.alert is not alert:
                followed.append(standing.alert)
            if standing.alert.is_open:
                still_open.append(standing)
    threat = survey.threat
    if threat is not None and not any(is_one_matter(survey.action, other.alert.action) for other in still_open):
        step, standing = _open(case, survey.action, threat, plans)
        transitions.append(step)
        still_open.append(standing)
    still_open.sort(key=lambda standing: standing.alert.alert_id)
    works = ((standing.alert.action, work_of(case, standing.alert)) for standing in still_open)
    wanted = tuple((action, work) for action, work in works if work is not None)
    return ColdJudgement(tuple(transitions), tuple(followed), survey.assessments, wanted, tuple(still_open))


def _open(case: Case, action: Action, threat: Threat, plans: Plans) -> tuple[Transition, Standing]:
    """Return the transition that opens an alert for a threat, and how the alert stands."""
    spell = threat.spell
    task = case.task(action, spell.onset, plans.get((action, spell.onset)))
    models = models_in(case, case.condition)
    taken = (alert.alert_id for alert in case.alerts)
    alert_id = new_alert_id(case.group.group_id, case.local_date(spell.onset), taken)
    step = open_alert(
        Matter(alert_id, case.group.group_id, action, threat.threshold.rule),
        Event.DUE if task.is_due else Event.FORESEEN,
        Facts(spell, threat.threshold, task, models=models),
        case.now,
    )
    return step, Standing(step.after, task, threat.threshold, spell, models)


def _steps(case: Case, alert: Alert, sight: Sight, plans: Plans) -> tuple[list[Transition], Standing]:
    """Return what happens to an open alert, and how it stands thereafter.

    A step that is not told is followed by the next one at once: looking again at the same forecast must
    find nothing left to say.
    """
    steps: list[Transition] = []
    while not steps or steps[-1].notice is None:
        moved, standing = _follow(case, alert, sight, plans)
        if moved is None:
            if steps:
                steps[-1] = replace(steps[-1], after=standing.alert)
            return steps, standing
        steps.append(moved)
        alert, sight = moved.after, sight_of(case, moved.after)
    return steps, standing


def _follow(case: Case, alert: Alert, sight: Sight, plans: Plans) -> tuple[Transition | None, Standing]:
    """Return what becomes of an open alert: a transition if there is one, and how it stands or silently follows."""
    strict, lingering = sight.strict, sight.lingering
    onset = onset_of(case, alert, sight)
    end = alert.end or onset
    has_come = case.now >= (alert.announced.onset or onset)
    is_preparing = alert.state is AlertState.PREPARE
    task = case.task(alert.action, onset, plans.get((alert.action, onset)))
    changes: tuple[Change, ...] = ()
    if strict is not None:
        changes = changes_that_matter(alert, strict.spell, strict.threshold, task, case.now)
    fate = _Fate(
        is_in_place=is_in_place(case, alert),
        is_gone=lingering is None and (case.series is not None or case.now > end),
        is_begun=has_come and (not is_preparing or case.now > end),
        is_seen=strict is not None,
        is_sociable=case.is_sociable,
    )
    event = _event(alert, fate, task, case.now, changes)
    models = models_in(case, undone(alert, case.condition))
    threshold, seen = (None, None) if lingering is None else (lingering.threshold, lingering.spell)
    if event is None:
        followed = alert if seen is None or seen.end == alert.end else replace(alert, end=seen.end)
        return None, Standing(followed, task, threshold, seen, models)
    facts = Facts(None, threshold, task, models=models)
    if strict is not None and event not in {Event.REMINDER, Event.FINAL_CALL}:
        facts = replace(facts, spell=strict.spell)
    step = move_alert(alert, event, facts, case.now, changes)
    return step, Standing(step.after, task, threshold, seen, models)


@dataclass(frozen=True, slots=True)
class _Fate:
    """Where an alert's matter stands, whatever its state."""

    is_in_place: bool
    is_gone: bool
    is_begun: bool
    is_seen: bool
    is_sociable: bool


def _event(alert: Alert, fate: _Fate, task: Task, now: datetime, changes: tuple[Change, ...]) -> Event | None:
    """Return the one event that an evaluation holds for an open alert, the weightiest first."""
    if fate.is_in_place and alert.state is not AlertState.DONE:
        return Event.REPORTED_DONE
    if fate.is_gone:
        return _end(alert, fate)
    if alert.state is AlertState.DONE:
        is_undone = alert.action in PROTECTING and not fate.is_in_place and fate.is_seen
        return Event.UNDONE if is_undone else None
    if alert.state is AlertState.PREPARE and task.is_due:
        return Event.DUE
    if is_postponed(alert, task, now):
        return Event.POSTPONED
    return Event.WORSENED if changes else _call(alert, task, now, is_begun=fate.is_begun)


def _end(alert: Alert, fate: _Fate) -> Event | None:
    """Return how a matter ends that is gone: work that was called for is called off at once, the rest can wait."""
    is_called_off = not fate.is_begun and alert.state in TO_DO
    if not is_called_off and not fate.is_sociable:
        return None
    return Event.PASSED if fate.is_begun else Event.EASED


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
