"""Matters of spring: when covers may be opened and lifted, and pots brought out."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.core import Certainty, ResponseType, Severity
from alertd.plan import Action, task_at_leisure
from alertd.risk import Rule, frost_probability
from alertd.site import Cover, Protection

from .alert import AlertState, Outcome
from .lifecycle import Event
from .moves import Facts, Matter, move_alert, new_alert_id, open_alert
from .survey import AGAINST_COLD

if TYPE_CHECKING:
    from alertd.risk import RuleSettings
    from alertd.site import Condition

    from .alert import Alert
    from .case import Case
    from .notice import Transition

#: An opened cover is lifted after this long. Assumed; published advice says in steps about a week apart,
#: on cloudy days, with the cover kept at hand (seen).
LIFT_AFTER = timedelta(days=5)

#: An invitation to uncover that nobody answers ends after this long. Assumed.
INVITATION_LASTS = timedelta(days=21)

#: Actions of spring.
OF_SPRING = frozenset({Action.OPEN_COVER, Action.LIFT_COVER, Action.BRING_OUT})

_COVERS = frozenset({Protection.WRAP, Protection.MULCH_RING, Protection.BEND_AND_MULCH})


@dataclass(frozen=True, slots=True)
class _Invitation:
    """What could be done for a group now, by which rule."""

    action: Action
    rule: Rule
    settings: RuleSettings


def judge_spring(case: Case) -> tuple[Transition, ...]:
    """Return what becomes of one group's matters of spring.

    Parameters
    ----------
    case : Case
        The group. Where the watch is blind, nothing is called safe.

    Returns
    -------
    tuple of Transition
        In order.
    """
    invitation = _invitation(case)
    transitions: list[Transition] = []
    for alert in case.alerts:
        if alert.is_open and alert.action in OF_SPRING:
            transitions += _steps(case, alert, invitation)
    latest = {alert.alert_id: alert for alert in case.alerts} | {
        step.after.alert_id: step.after for step in transitions
    }
    case = replace(case, alerts=tuple(latest.values()))
    if invitation is None or not case.is_sociable or not _is_new(case, invitation):
        return tuple(transitions)
    probability = _frost_probability(case, invitation.settings)
    if probability is not None and probability <= invitation.settings.probability_close:
        transitions.append(_open(case, invitation, probability))
    return tuple(transitions)


def _invitation(case: Case) -> _Invitation | None:
    """Return what the group in its condition waits for, past the last-freeze date."""
    if not case.garden.site.is_past_last_freeze(case.now):
        return None
    cover, since, rules = case.condition.cover, case.condition.cover_since, case.garden.rules
    invitation = None
    if case.group.protection is Protection.STORE:
        if cover is Cover.IN_PLACE:
            invitation = _Invitation(Action.BRING_OUT, Rule.BRING_OUT, rules.bring_out)
    elif case.group.protection in _COVERS:
        if cover is Cover.IN_PLACE:
            invitation = _Invitation(Action.OPEN_COVER, Rule.UNCOVER, rules.uncover)
        elif cover is Cover.OPENED and since is not None and case.now - since >= LIFT_AFTER:
            invitation = _Invitation(Action.LIFT_COVER, Rule.UNCOVER, rules.uncover)
    return invitation if invitation is not None and invitation.settings.enabled else None


def _is_new(case: Case, invitation: _Invitation) -> bool:
    """Return whether the invitation is neither open nor one that went unanswered or declined this season.

    While a matter of cold stands open, nobody is invited to uncover.
    """
    start = case.garden.site.season_start(case.now)
    is_cold = any(alert.is_open and alert.action in AGAINST_COLD for alert in case.alerts)
    return not is_cold and not any(
        alert.action is invitation.action
        and (alert.is_open or (alert.opened.sent >= start and alert.outcome in {Outcome.EXPIRED, Outcome.DECLINED}))
        for alert in case.alerts
    )


def _frost_probability(case: Case, settings: RuleSettings) -> float | None:
    """Return the probability of a frost below the class's spring limit, or None if it cannot be seen."""
    if case.series is None:
        return None
    return frost_probability(case.series, case.now, settings, case.hardiness_class.spring_limit)


def _steps(case: Case, alert: Alert, invitation: _Invitation | None) -> list[Transition]:
    """Return what happens to an open invitation; a step that is not told is followed by the next one at once."""
    steps: list[Transition] = []
    while alert.is_open and (event := _event(case, alert, invitation)) is not None:
        steps.append(move_alert(alert, event, Facts(opens_with=ResponseType.ALL_CLEAR), case.now))
        alert = steps[-1].after
    return steps


def _is_done(condition: Condition, action: Action) -> bool:
    """Return whether somebody has reported what an invitation asks for, or more."""
    if condition.cover is Cover.IN_PLACE or condition.cover_since is None:
        return False
    return action is not Action.LIFT_COVER or condition.cover is not Cover.OPENED


def _event(case: Case, alert: Alert, invitation: _Invitation | None) -> Event | None:
    """Return the one event that an evaluation holds for an open invitation."""
    if alert.state is AlertState.DONE:
        return Event.PASSED
    if _is_done(case.condition, alert.action):
        return Event.REPORTED_DONE
    if invitation is None or invitation.action is not alert.action:
        is_over = invitation is None and case.condition.cover is not Cover.OPENED
        return Event.PASSED if is_over else Event.EASED
    if case.now - alert.opened.sent >= INVITATION_LASTS or alert.state is AlertState.DECLINED:
        return Event.PASSED if case.is_sociable else None
    probability = _frost_probability(case, invitation.settings)
    if probability is not None and probability >= invitation.settings.probability_open:
        return Event.EASED
    return None


def _open(case: Case, invitation: _Invitation, probability: float) -> Transition:
    """Return the transition that invites to uncover or bring out."""
    taken = (alert.alert_id for alert in case.alerts)
    alert_id = new_alert_id(case.group.group_id, case.local_date(case.now), taken)
    facts = Facts(
        task=task_at_leisure(case.garden.work, case.group, invitation.action),
        opens_with=ResponseType.ALL_CLEAR,
        severity=Severity.MINOR,
        certainty=Certainty.LIKELY,
        probability=probability,
    )
    matter = Matter(alert_id, case.group.group_id, invitation.action, invitation.rule)
    return open_alert(matter, Event.DUE, facts, case.now)
