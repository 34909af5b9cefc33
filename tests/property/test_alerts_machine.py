"""Whatever the forecasts do and people report: the rules of telling hold.

A machine plays random nights, reports, missing forecasts and passing time against `decide`, and checks each
notice against the rules written down a second time here, from what was announced before.
"""

from collections import Counter
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule, run_state_machine_as_test

from alertd.alerts import Alert, AlertState, Decision, Notice, NoticeKind, State, decide
from alertd.core import Severity
from alertd.plan import Action
from alertd.risk import Rule
from alertd.site import Cover, Growing, Protection, Stage, TreeGroup
from tests.fakes.garden import FIGS, POTS, Keeper, local, make_forecast, make_garden, make_series, nights

CLUSTER = TreeGroup("cluster", "the lemons", Growing.CONTAINER, 4, "lemons", "tender_evergreen", Protection.CLUSTER)
HARDY = TreeGroup("hardy", "the persimmon", Growing.IN_GROUND, 1, "persimmon", "temperate", Protection.NONE)
GROUPS = (FIGS, POTS, CLUSTER, HARDY)

#: Winter, the days around the last-freeze date (25 April), and after it.
STARTS = tuple(local(text) for text in ("2026-01-19 08:00", "2026-04-15 06:00", "2026-05-01 10:00"))

#: [°C] The critical temperatures of the groups, as the trade and the class tables have them.
CRITICAL = {
    ("figs", Rule.WOOD): -110 / 9,
    ("figs", Rule.SPRING_FROST): -1.1,
    ("pots", Rule.WOOD): -110 / 9,
    ("pots", Rule.CONTAINER_ROOTS): -85 / 9,
    ("pots", Rule.SPRING_FROST): -1.1,
    ("cluster", Rule.WOOD): -1.7,
    ("cluster", Rule.CONTAINER_ROOTS): -3.0,
    ("cluster", Rule.SPRING_FROST): 0.0,
    ("hardy", Rule.WOOD): -17.0,
    ("hardy", Rule.SPRING_FROST): -1.1,
}

#: [°C] What a protection in place is credited.
CREDIT = {("figs", Rule.WOOD): 25 / 9, ("figs", Rule.SPRING_FROST): 25 / 9} | {
    ("cluster", each): 1.0 for each in (Rule.WOOD, Rule.CONTAINER_ROOTS, Rule.SPRING_FROST)
}

SEVERITIES = [Severity.UNKNOWN, Severity.MINOR, Severity.MODERATE, Severity.SEVERE, Severity.EXTREME]
ENDINGS = {NoticeKind.CANCELLED, NoticeKind.EXPIRED, NoticeKind.ALL_CLEAR, NoticeKind.CLOSED}
OF_TIME = ENDINGS | {NoticeKind.OPENED, NoticeKind.ACT, NoticeKind.REMINDER, NoticeKind.FINAL_CALL}
OF_SPRING = {Action.OPEN_COVER, Action.LIFT_COVER, Action.BRING_OUT}
NIGHTS = 4

lows = st.lists(
    st.one_of(
        st.sampled_from([6.0, 6.0, -0.5, -2.0, -4.0, -10.0, -11.5, -13.0, -14.2, -16.0, -19.0]), st.floats(-22.0, 8.0)
    ),
    min_size=NIGHTS,
    max_size=NIGHTS,
)
places = st.integers(0, 30)


def matters(notice: Notice, before: Alert, now: datetime) -> bool:
    """Whether a change is one that changes what somebody does, from the announced values alone."""
    old, new, alert = before.announced, notice.alert.announced, notice.alert
    worst = max(SEVERITIES.index(told.severity) for told in before.history)
    if SEVERITIES.index(new.severity) > worst:
        return True
    if before.state is AlertState.DECLINED or now >= old.onset:
        return False
    assert notice.threshold is not None
    key = (alert.group, notice.threshold.rule)
    past = new.minimum + notice.threshold.gain < CRITICAL[key]
    is_colder = past and new.minimum <= old.minimum - 1.0
    is_earlier = new.onset <= old.onset - timedelta(hours=3)
    is_to_start_earlier = before.state is AlertState.EXECUTE and now < old.start_by and new.start_by < old.start_by
    return is_colder or is_earlier or is_to_start_earlier


class Garden(RuleBasedStateMachine):
    """Play forecasts and reports against the decision core."""

    def __init__(self):
        super().__init__()
        self.told: dict[str, list[NoticeKind]] = {}
        self.forecasts = []
        self.is_unchanged = False
        self.was_spring = False

    @initialize(start=st.sampled_from(STARTS), is_exact=st.booleans(), is_covered=st.booleans(), low=lows)
    def begin(self, start, is_exact, is_covered, low):
        self.now = start
        self.keeper = Keeper(make_garden(*GROUPS, is_exact=is_exact))
        if is_covered:
            for group in (FIGS, POTS, CLUSTER):
                self.keeper.mark(group.group_id, self.now - timedelta(days=30), cover=Cover.IN_PLACE)
        self.told = {}
        self.forecast(low, 0, 0)

    # What happens

    @rule(low=lows, shift=st.integers(-6, 6), hours=st.integers(0, 12))
    def forecast(self, low, shift, hours):
        """A new forecast comes in: other nights, and all of them some hours earlier or later."""
        self.now += timedelta(hours=hours)
        first = self.now.astimezone(self.keeper.garden.site.time_zone).date()
        mild = nights(first, [*low, *[8.0] * 6], by_day=12.0)
        moved = np.roll(mild.air_temperature, shift)
        series = make_series(mild.times[0].item().replace(tzinfo=self.now.tzinfo), moved)
        self.forecasts = [make_forecast(self.now, series)]
        self.is_unchanged = False
        self.look()

    @rule(minutes=st.integers(1, 72).map(lambda tens: 10 * tens))
    def wait(self, minutes):
        """Time passes over the same forecast."""
        self.now += timedelta(minutes=minutes)
        self.look()

    @rule(minutes=st.integers(0, 720))
    def go_blind(self, minutes):
        self.now += timedelta(minutes=minutes)
        self.forecasts = []
        self.is_unchanged = False
        self.look()

    @precondition(lambda self: self.open({AlertState.PREPARE, AlertState.EXECUTE, AlertState.DECLINED}))
    @rule(place=places)
    def report_done(self, place):
        alerts = self.open({AlertState.PREPARE, AlertState.EXECUTE, AlertState.DECLINED})
        self.keeper.done(alerts[place % len(alerts)].alert_id, self.now)
        self.is_unchanged = False

    @precondition(lambda self: self.open({AlertState.PREPARE, AlertState.EXECUTE}))
    @rule(place=places)
    def say_not_this_time(self, place):
        alerts = self.open({AlertState.PREPARE, AlertState.EXECUTE})
        self.keeper.done(alerts[place % len(alerts)].alert_id, self.now, declined=True)
        self.is_unchanged = False

    @rule(group=st.sampled_from(GROUPS), cover=st.sampled_from(Cover))
    def mark_cover(self, group, cover):
        if group.protection is not Protection.NONE or cover in {Cover.OFF, Cover.IN_PLACE}:
            self.keeper.mark(group.group_id, self.now, cover=cover)
            self.is_unchanged = False

    @rule(group=st.sampled_from(GROUPS), stage=st.sampled_from(Stage))
    def mark_stage(self, group, stage):
        self.keeper.mark(group.group_id, self.now, stage=stage)
        self.is_unchanged = False

    # What must hold

    def open(self, states):
        return [alert for alert in self.keeper.open_alerts if alert.state in states and alert.rule is not Rule.BLIND]

    def look(self) -> Decision:
        """Judge, and check everything that must hold of a decision."""
        before = dict(self.keeper.alerts)
        if self.forecasts and self.now - self.forecasts[0].forecast_reference_time > timedelta(hours=12):
            self.forecasts = [make_forecast(self.now, self.forecasts[0].series)]
            self.is_unchanged = self.is_unchanged and self.keeper.garden.is_exact
        is_spring = self.keeper.garden.site.is_past_last_freeze(self.now)
        self.is_unchanged = self.is_unchanged and is_spring == self.was_spring  # then bare wood counts as growing
        self.was_spring = is_spring
        decision = self.keeper.look(self.now, *self.forecasts)
        self.check_that_looking_again_finds_nothing(decision)
        for notice in decision.notices:
            self.check_notice(notice, before.get(notice.alert.alert_id))
        if self.is_unchanged:
            assert {notice.kind for notice in decision.notices} <= OF_TIME
        self.check_alerts()
        self.check_protected_groups(decision)
        self.check_blindness(decision)
        self.is_unchanged = True
        return decision

    def check_that_looking_again_finds_nothing(self, decision):
        again = decide(self.now, self.keeper.garden, self.forecasts, (), self.keeper.state)
        assert not again.transitions
        assert again.assessments == decision.assessments
        reordered = State(self.keeper.state.conditions, tuple(reversed(self.keeper.state.alerts)))
        assert not decide(self.now, self.keeper.garden, self.forecasts, (), reordered).transitions

    def check_notice(self, notice, before):
        alert, kind = notice.alert, notice.kind
        told = self.told.setdefault(alert.alert_id, [])
        assert (kind is NoticeKind.OPENED) == (before is None)
        assert not ENDINGS & set(told)
        since = told[max((place for place, each in enumerate(told) if each is NoticeKind.POSTPONED), default=0) :]
        if kind in {NoticeKind.REMINDER, NoticeKind.FINAL_CALL}:
            assert kind not in since
            start_by = alert.announced.start_by
            assert before.state is AlertState.EXECUTE
            assert self.now < alert.announced.onset
            assert (self.now >= start_by) == (kind is NoticeKind.FINAL_CALL)
            assert self.now >= start_by - timedelta(hours=2)
            assert alert.announced.minimum == before.announced.minimum
        elif kind is NoticeKind.ACT:
            assert before.state in {AlertState.PREPARE, AlertState.DONE}
            assert NoticeKind.ACT not in since or before.state is AlertState.DONE
        elif kind is NoticeKind.CHANGED:
            assert matters(notice, before, self.now)
            assert notice.changes
        elif kind is NoticeKind.POSTPONED:
            assert before.state is AlertState.EXECUTE
            assert alert.announced.start_by - before.announced.start_by >= timedelta(hours=12)
        elif kind is NoticeKind.EXPIRED and alert.action not in OF_SPRING:
            assert self.now >= before.announced.onset
        told.append(kind)

    def check_alerts(self):
        alerts = self.keeper.alerts.values()
        for alert in alerts:
            told = self.told[alert.alert_id]
            assert alert.revision == len(alert.history) == len(told)
            assert alert.announced == alert.history[-1]
            assert alert.opened == alert.history[0]
            assert alert.is_open == (alert.outcome is None) == (alert.ended is None)
            assert len([kind for kind in told if kind in ENDINGS]) == (0 if alert.is_open else 1)
            assert told[0] is NoticeKind.OPENED
            assert all(first.sent <= second.sent for first, second in pairwise(alert.history))
            for announced in alert.history:
                check_numbers(announced)
        standing = Counter((alert.group, alert.action) for alert in alerts if alert.is_open)
        assert not [each for each, count in standing.items() if count > 1]

    def check_protected_groups(self, decision):
        for group in GROUPS:
            condition = decision.conditions[group.group_id]
            mine = [item for item in decision.assessments if item.group == group.group_id]
            for item in mine:
                key = (group.group_id, item.threshold.rule)
                credit = CREDIT.get(key, 0.0) if condition.cover is Cover.IN_PLACE else 0.0
                assert item.threshold.gain == pytest.approx(credit)
                assert item.threshold.critical.temperature == pytest.approx(CRITICAL[key])
            if condition.cover is Cover.IN_PLACE:
                assert group.protection is not Protection.STORE or not mine
                started = [step.after for step in decision.transitions if step.before is None]
                assert {alert.action for alert in started if alert.group == group.group_id} <= {
                    Action.REINFORCE,
                    Action.OPEN_COVER,
                    Action.BRING_OUT,
                }

    def check_blindness(self, decision):
        blind = [alert for alert in self.keeper.open_alerts if alert.rule is Rule.BLIND]
        assert len(blind) == (decision.outlook.series is None)

    def teardown(self):
        """Whatever is open ends when it stays mild for long enough, unasked."""
        waiting = {alert.alert_id for alert in self.keeper.open_alerts} if hasattr(self, "keeper") else set()
        for _ in range(60):  # looks at all hours of the day: what does not press ends by day
            if not any(self.keeper.alerts[name].is_open for name in waiting):
                break
            self.forecast([8.0] * NIGHTS, 0, 11)
        assert not [name for name in waiting if self.keeper.alerts[name].is_open]


def check_numbers(announced):
    if announced.probability is not None:
        assert 0.0 <= announced.probability <= 1.0
    if announced.onset is not None:
        assert announced.onset <= announced.end
        assert announced.start_by is not None
        assert announced.start_by <= announced.onset or announced.start_by <= announced.sent
        assert announced.minimum_low <= announced.minimum <= announced.minimum_high


def test_the_rules_of_telling_hold_whatever_happens():
    run_state_machine_as_test(Garden, settings=settings(max_examples=200, stateful_step_count=30, deadline=None))


@pytest.mark.long
def test_the_rules_of_telling_hold_whatever_happens_for_long():
    run_state_machine_as_test(Garden, settings=settings(max_examples=400, stateful_step_count=50, deadline=None))
