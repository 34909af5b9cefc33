"""One evaluation as one pure call."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from alertd.core import Certainty, ResponseType, Severity
from alertd.plan import Action, agenda, task_at_leisure
from alertd.risk import SEEN_BEYOND, Rule
from alertd.site import Condition
from alertd.thermal import Models, ModelWeather

from .case import Case
from .cold import judge_cold
from .lifecycle import Event
from .moves import Facts, Matter, move_alert, new_alert_id, open_alert
from .notice import Standing
from .outlook import outlook
from .spring import judge_spring
from .survey import survey_cold

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime, timedelta

    from alertd.plan import Schedule
    from alertd.risk import Assessment
    from alertd.thermal import ModelMemory
    from alertd.weather import Forecast, Series

    from .alert import Alert
    from .cold import ColdJudgement
    from .garden import Garden
    from .notice import Notice, Transition
    from .outlook import Outlook, Refusal
    from .survey import ColdSurvey

#: The group of matters that concern the whole site.
SITE = "site"


@dataclass(frozen=True, slots=True)
class State:
    """What is remembered between evaluations.

    Parameters
    ----------
    conditions : mapping of str to Condition
        By group id; a group without an entry is bare and dormant.
    alerts : tuple of Alert
        All open alerts, and those of this season that have ended.
    """

    conditions: Mapping[str, Condition]
    alerts: tuple[Alert, ...]


@dataclass(frozen=True, slots=True)
class Decision:
    """What one evaluation makes of the world.

    Parameters
    ----------
    now : datetime
        Aware UTC.
    outlook : Outlook
        What the forecasts together say.
    assessments : tuple of Assessment
        What each rule says of each group; empty if the watch is blind.
    transitions : tuple of Transition
        Steps in the lives of alerts.
    followed : tuple of Alert
        Alerts that silently follow the forecast.
    conditions : mapping of str to Condition
        As they were judged.
    standings : tuple of Standing
        Every open alert as it stands now, changed or not.
    ended : tuple of Alert
        Alerts of this season that have ended, now or earlier.
    """

    now: datetime
    outlook: Outlook
    assessments: tuple[Assessment, ...]
    transitions: tuple[Transition, ...]
    followed: tuple[Alert, ...]
    conditions: Mapping[str, Condition] = field(default_factory=dict)
    standings: tuple[Standing, ...] = ()
    ended: tuple[Alert, ...] = ()

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What people are told."""
        return tuple(step.notice for step in self.transitions if step.notice is not None)

    @property
    def changed_alerts(self) -> tuple[Alert, ...]:
        """Every alert that is not as it was, once, as it stands now."""
        latest = {alert.alert_id: alert for alert in self.followed}
        latest.update((step.after.alert_id, step.after) for step in self.transitions)
        return tuple(latest.values())


def decide(
    now: datetime,
    garden: Garden,
    forecasts: Sequence[Forecast],
    failures: Sequence[Refusal],
    state: State,
    past: Series | None = None,
    memory: ModelMemory | None = None,
    sensors: Mapping[str, float] | None = None,
) -> Decision:
    """Return what one evaluation makes of forecasts and memory.

    Parameters
    ----------
    now : datetime
        Aware UTC.
    garden : Garden
        The configuration.
    forecasts : sequence of Forecast
        The last good answer of each source.
    failures : sequence of Refusal
        Sources that gave nothing now.
    state : State
        What is remembered.
    past : Series or None
        Weather of the days before, shape (1, n_times), for models that start from it; ``None`` where unknown.
    memory : ModelMemory or None
        What models computed at earlier looks, filled further; ``None`` computes all anew.
    sensors : mapping of str to float or None
        [°C] What thermometers in store rooms said lately, by station.

    Returns
    -------
    Decision
        Nothing in it depends on anything but the arguments.
    """
    view = outlook(now, garden, forecasts, failures, _reach(garden))
    transitions = list(_blindness(now, garden, view, state))
    followed: list[Alert] = []
    standings: list[Standing] = []
    assessments: list[Assessment] = []
    weather = None
    if view.series is not None:
        weather = ModelWeather(garden.site, view.series, past, {} if sensors is None else sensors, memory)
    surveys = [survey_cold(case) for case in _cases(now, garden, view, state, weather)]
    for survey, cold in zip(surveys, _judged_together(now, garden, surveys), strict=True):
        case = survey.case
        transitions += cold.transitions
        followed += cold.followed
        assessments += cold.assessments
        standings += cold.standings
        latest = {each.alert_id: each for each in case.alerts} | {
            each.after.alert_id: each.after for each in cold.transitions
        }
        transitions += judge_spring(replace(case, alerts=tuple(latest.values())))
    conditions = {survey.case.group.group_id: survey.case.condition for survey in surveys}
    transitions += _orphans(now, garden, state)
    decision = Decision(now, view, tuple(assessments), tuple(transitions), tuple(followed), conditions)
    return _with_all_alerts(decision, garden, state, standings)


def next_call(garden: Garden, state: State, now: datetime) -> datetime | None:
    """Return when the next reminder or final call is due, so that nobody waits for the next poll.

    Parameters
    ----------
    garden : Garden
        Tells how long before the latest start the reminder comes.
    state : State
        With the open alerts.
    now : datetime
        Aware.

    Returns
    -------
    datetime or None
        The first one after `now`, or ``None``.
    """
    calls = []
    for alert in state.alerts:
        start_by = alert.announced.start_by
        if alert.is_open and start_by is not None:
            calls += [start_by - garden.work.reminder_before, start_by]
    return min((call for call in calls if call > now), default=None)


def _cases(now: datetime, garden: Garden, view: Outlook, state: State, weather: ModelWeather | None) -> list[Case]:
    """Return what the evaluation knows of each group."""
    cases = []
    for group in garden.groups:
        condition = state.conditions.get(group.group_id, Condition()).in_season(garden.site, now)
        alerts = tuple(alert for alert in state.alerts if alert.group == group.group_id)
        models = None if weather is None else Models(group, weather, garden.rules.root_share)
        cases.append(Case(now, garden, group, condition, view.series, alerts, models))
    return cases


def _judged_together(now: datetime, garden: Garden, surveys: Sequence[ColdSurvey]) -> list[ColdJudgement]:
    """Return what becomes of every group's matters of cold, its work done by one crew with that of the others.

    What there is to do is known only once it is judged, and when it can be done only once that is known:
    so it is judged as if each group had the crew for itself, and then with the hours that all leave to each.
    """
    alone = [judge_cold(survey, {}) for survey in surveys]
    works = [(work, action) for judgement in alone for action, work in judgement.works]
    schedules = agenda(garden.site, garden.work, now, [work for work, _ in works])
    plans = {
        (work.group, action, work.deadline): schedule for (work, action), schedule in zip(works, schedules, strict=True)
    }
    return [judge_cold(survey, _of_group(plans, survey)) for survey in surveys]


def _of_group(
    plans: Mapping[tuple[str, Action, datetime], Schedule], survey: ColdSurvey
) -> dict[tuple[Action, datetime], Schedule]:
    """Return the plans for one group's work."""
    group_id = survey.case.group.group_id
    return {(action, onset): plan for (group, action, onset), plan in plans.items() if group == group_id}


def _with_all_alerts(decision: Decision, garden: Garden, state: State, of_cold: Sequence[Standing]) -> Decision:
    """Return the decision with every alert as it stands now, also those about which there is nothing to tell."""
    changed = {alert.alert_id: alert for alert in decision.changed_alerts}
    latest = {alert.alert_id: alert for alert in state.alerts} | changed
    known = {standing.alert.alert_id for standing in of_cold}
    groups = {group.group_id: group for group in garden.groups}
    others = []
    for alert in latest.values():
        if alert.is_open and alert.alert_id not in known:
            group = groups.get(alert.group)
            task = None if group is None else task_at_leisure(garden.work, group, alert.action)
            others.append(Standing(alert, task))
    ended = tuple(alert for alert in latest.values() if not alert.is_open)
    return replace(decision, standings=(*of_cold, *others), ended=ended)


def model_reach(garden: Garden) -> timedelta:
    """Return how far ahead rules look that judge by models.

    Parameters
    ----------
    garden : Garden
        With its rules.

    Returns
    -------
    timedelta
        With the nights that are seen beyond a rule's horizon.
    """
    rules = garden.rules
    settings = (rules.root_zone, rules.wood_temperature, rules.bud_temperature, rules.store_room)
    return max(each.horizon for each in settings) + SEEN_BEYOND


def _reach(garden: Garden) -> timedelta:
    """Return how far ahead any rule looks."""
    rules = garden.rules
    of_air = (rules.container_roots, rules.wood, rules.spring_frost, rules.uncover, rules.bring_out)
    settings = (*of_air, rules.root_zone, rules.wood_temperature, rules.bud_temperature, rules.store_room)
    return max(each.horizon for each in settings) + SEEN_BEYOND


def _orphans(now: datetime, garden: Garden, state: State) -> tuple[Transition, ...]:
    """Return the ends of alerts whose group is no longer in the configuration."""
    known = {group.group_id for group in garden.groups} | {SITE}
    orphans = [alert for alert in state.alerts if alert.is_open and alert.group not in known]
    return tuple(move_alert(alert, Event.EASED, Facts(), now) for alert in orphans)


def _blindness(now: datetime, garden: Garden, view: Outlook, state: State) -> tuple[Transition, ...]:
    """Return what becomes of the matter of seeing nothing: told once, and its end too."""
    alerts = [alert for alert in state.alerts if alert.rule is Rule.BLIND]
    open_alerts = [alert for alert in alerts if alert.is_open]
    facts = Facts(opens_with=ResponseType.ASSESS, severity=Severity.UNKNOWN, certainty=Certainty.UNKNOWN)
    if view.series is None and not open_alerts:
        day = garden.site.local(now).date().isoformat()
        alert_id = new_alert_id(SITE, day, (alert.alert_id for alert in alerts))
        matter = Matter(alert_id, SITE, Action.LOOK_YOURSELF, Rule.BLIND)
        return (open_alert(matter, Event.DUE, facts, now),)
    if view.series is not None:
        return tuple(move_alert(alert, Event.EASED, facts, now) for alert in open_alerts)
    return ()
