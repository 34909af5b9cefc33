"""What cold each group faces, and what today's forecast says of its open alerts."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from alertd.plan import ACTION_OF_PROTECTION, Action
from alertd.risk import Rule, assess
from alertd.site import Cover, Protection

from .alert import AlertState

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from alertd.plan import Work
    from alertd.risk import Assessment, ColdSpell, Threshold
    from alertd.site import Condition, TreeGroup

    from .alert import Alert
    from .case import Case

#: Actions that put a protection in place.
PROTECTING = frozenset({*ACTION_OF_PROTECTION.values(), Action.COVER_AGAIN} - {Action.SHIELD})

#: Actions that answer cold.
AGAINST_COLD = PROTECTING | {Action.SHIELD, Action.REINFORCE, Action.COVER_IN_STORE}

#: Actions that add to a protection that is in place, and leave it so.
_ADDING = frozenset({Action.REINFORCE, Action.COVER_IN_STORE})

#: Actions for a group that stands bare; one of them at a time is enough.
_FOR_BARE = frozenset(ACTION_OF_PROTECTION.values())

#: Rules that speak for tissue in growth.
OF_GROWTH = frozenset({Rule.SPRING_FROST, Rule.BUD_TEMPERATURE})

#: States in which there is still something to do.
TO_DO = frozenset({AlertState.PREPARE, AlertState.EXECUTE})


@dataclass(frozen=True, slots=True)
class Threat:
    """The spell that counts for an action, and the rule that sees it.

    Parameters
    ----------
    threshold : Threshold
        The rule as it applies.
    spell : ColdSpell
        The cold.
    """

    threshold: Threshold
    spell: ColdSpell


@dataclass(frozen=True, slots=True)
class Sight:
    """What today's forecast says of an open alert, judged as if its task were not done.

    Parameters
    ----------
    strict : Threat or None
        Its spell by the terms on which an alert opens.
    lingering : Threat or None
        Its spell by the terms on which it stays open; the strict one where there is one.
    """

    strict: Threat | None
    lingering: Threat | None


@dataclass(frozen=True, slots=True)
class ColdSurvey:
    """What one group faces, before it is known when its work can be done.

    Parameters
    ----------
    case : Case
        The group.
    assessments : tuple of Assessment
        What the rules that apply to its condition say.
    sights : mapping of str to Sight
        By alert id: what today's forecast says of each open alert of cold.
    action : Action
        What would answer new cold.
    threat : Threat or None
        New cold, if there is any.
    """

    case: Case
    assessments: tuple[Assessment, ...]
    sights: Mapping[str, Sight]
    action: Action
    threat: Threat | None


def survey_cold(case: Case) -> ColdSurvey:
    """Return what one group faces.

    Parameters
    ----------
    case : Case
        The group.

    Returns
    -------
    ColdSurvey
        Assessments, and what the forecast says of each open alert.
    """
    growing = case.is_growing_in(case.condition)
    assessments: tuple[Assessment, ...] = ()
    if case.series is not None:
        thresholds = case.thresholds_in(case.condition, growing=growing)
        assessments = tuple(assess(case.group.group_id, each, case.series, case.now) for each in thresholds)
    open_alerts = [alert for alert in case.alerts if alert.is_open and alert.action in AGAINST_COLD]
    return ColdSurvey(
        case=case,
        assessments=assessments,
        sights={alert.alert_id: sight_of(case, alert) for alert in open_alerts},
        action=protecting_action(case.group, case.condition, growing=growing),
        threat=_first_threat([(item.threshold, item.spells) for item in assessments]),
    )


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
        In place already: reinforce, or cover in store. Taken off in spring: cover again, or move in again. Never put
        on and growing: shield for the night, since nobody builds a winter cover in spring.
    """
    if condition.cover is Cover.IN_PLACE:
        return Action.COVER_IN_STORE if group.protection is Protection.STORE else Action.REINFORCE
    planned = ACTION_OF_PROTECTION[group.protection]
    if group.protection in {Protection.STORE, Protection.CLUSTER, Protection.NONE}:
        return planned
    if condition.cover in {Cover.OPENED, Cover.LIFTED}:
        return Action.COVER_AGAIN
    return Action.SHIELD if growing else planned


def is_one_matter(action: Action, other: Action) -> bool:
    """Return whether two actions answer the same cold: the date that makes wrapping a shield must not tell it twice."""
    return action is other or {action, other} <= _FOR_BARE


def sight_of(case: Case, alert: Alert) -> Sight:
    """Return what today's forecast says of an open alert.

    A spell that goes on longer than it was known to may reach cold that was another spell before; it is
    followed until it ends, so that looking again finds nothing new.

    Parameters
    ----------
    case : Case
        The alert's group.
    alert : Alert
        An open one against cold.

    Returns
    -------
    Sight
        Without any threat if the watch is blind.
    """
    while True:
        strict = _threat_of(case, alert, lingering=False)
        sight = Sight(strict, strict or _threat_of(case, alert, lingering=True))
        if sight.lingering is None or alert.end is None or sight.lingering.spell.end <= alert.end:
            return sight
        alert = replace(alert, end=sight.lingering.spell.end)


def work_of(case: Case, alert: Alert) -> Work | None:
    """Return the work that an alert of cold still asks of the crew.

    Parameters
    ----------
    case : Case
        The alert's group.
    alert : Alert
        One against cold.

    Returns
    -------
    Work or None
        ``None`` if it is done, set aside or over, or its cold is gone.
    """
    if alert.state not in TO_DO or is_in_place(case, alert):
        return None
    sight = sight_of(case, alert)
    if sight.lingering is None and case.series is not None:
        return None
    return case.work_before(alert.action, onset_of(case, alert, sight))


def onset_of(case: Case, alert: Alert, sight: Sight) -> datetime:
    """Return the onset before which the work of an open alert must be done."""
    told = alert.announced.onset
    if told is None:
        message = f"the alert {alert.alert_id} is a matter of cold without a spell"
        raise ValueError(message)
    seen = sight.lingering if case.now >= told and alert.state is AlertState.PREPARE else sight.strict
    return told if seen is None else seen.spell.onset


def is_in_place(case: Case, alert: Alert) -> bool:
    """Return whether what an alert asks for has been reported as in place."""
    return alert.action in PROTECTING and case.condition.cover is Cover.IN_PLACE


def _first_threat(seen: list[tuple[Threshold, tuple[ColdSpell, ...]]]) -> Threat | None:
    """Return the earliest spell of several rules; of equally early ones, the one with the worst margin."""
    threats = [Threat(threshold, spells[0]) for threshold, spells in seen if spells]
    return min(threats, key=lambda threat: (threat.spell.onset, threat.spell.margin), default=None)


def _threat_of(case: Case, alert: Alert, *, lingering: bool) -> Threat | None:
    """Return the spell of an open alert in today's forecast, judged as if its task were not done."""
    if case.series is None:
        return None
    condition = undone(alert, case.condition)
    growing = alert.rule in OF_GROWTH or case.is_growing_in(condition)
    seen = []
    for threshold in case.thresholds_in(condition, growing=growing):
        spells = assess(case.group.group_id, threshold, case.series, case.now, lingering=lingering, is_open=True).spells
        latest = (alert.end or case.now) + threshold.settings.spell_gap
        seen.append((threshold, tuple(spell for spell in spells if spell.onset <= latest)))
    threat = _first_threat(seen)
    onset = alert.announced.onset
    is_told_to_work = alert.state is not AlertState.PREPARE
    if threat is not None and is_told_to_work and onset is not None and onset <= case.now:
        return replace(threat, spell=replace(threat.spell, onset=onset))
    return threat


def models_in(case: Case, condition: Condition) -> tuple[Threshold, ...]:
    """Return what models say of a group in a condition.

    Parameters
    ----------
    case : Case
        The group.
    condition : Condition
        Its own, or another.

    Returns
    -------
    tuple of Threshold
        Those that judge by a model.
    """
    thresholds = case.thresholds_in(condition, growing=case.is_growing_in(condition))
    return tuple(threshold for threshold in thresholds if threshold.felt is not None)


def undone(alert: Alert, condition: Condition) -> Condition:
    """Return the condition as it was before an alert's task.

    Parameters
    ----------
    alert : Alert
        One against cold.
    condition : Condition
        As it is.

    Returns
    -------
    Condition
        The same where the task would have changed nothing.
    """
    if alert.action in _ADDING:
        return replace(condition, cover=Cover.IN_PLACE)
    if alert.action in {Action.MOVE_IN, Action.CLUSTER} and condition.cover is not Cover.IN_PLACE:
        return condition
    return replace(condition, cover=Cover.LIFTED if alert.action is Action.COVER_AGAIN else Cover.OFF)
