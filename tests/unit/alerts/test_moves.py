from datetime import date, timedelta

import pytest

from alertd.alerts import AlertState, Event, can_be_reported, report_declined, report_done
from alertd.alerts.moves import Facts, Matter, move_alert, new_alert_id, open_alert
from alertd.core import Urgency
from alertd.plan import Action
from alertd.risk import Rule
from alertd.site import Condition, Cover
from tests.fakes.garden import Keeper, local, make_garden, nights

TUESDAY = local("2026-01-20 08:00")
MATTER = Matter("figs-2026-01-20", "figs", Action.WRAP, Rule.WOOD)


def alert_in(state):
    keeper = Keeper(make_garden())
    keeper.look(TUESDAY, nights(date(2026, 1, 20), [0.0, -14.0, 0.0, 0.0]))
    (name,) = keeper.alerts
    if state is AlertState.EXECUTE:
        keeper.look(local("2026-01-20 17:10"), nights(date(2026, 1, 20), [0.0, -14.0, 0.0, 0.0]))
    if state in {AlertState.DONE, AlertState.DECLINED}:
        keeper.done(name, TUESDAY, declined=state is AlertState.DECLINED)
    if state is AlertState.ENDED:
        keeper.look(TUESDAY, nights(date(2026, 1, 20), [0.0, 0.0, 0.0, 0.0]))
    assert keeper.alerts[name].state is state
    return keeper.alerts[name]


def test_ids_count_up_until_one_is_free():
    assert new_alert_id("figs", "2026-01-20", []) == "figs-2026-01-20"
    assert new_alert_id("figs", "2026-01-20", ["figs-2026-01-20"]) == "figs-2026-01-20-2"
    assert new_alert_id("figs", "2026-01-20", ["figs-2026-01-20", "figs-2026-01-20-2"]) == "figs-2026-01-20-3"


@pytest.mark.parametrize("event", [event for event in Event if event not in {Event.DUE, Event.FORESEEN}])
def test_only_what_is_foreseen_or_due_opens_an_alert(event):
    with pytest.raises(ValueError, match="cannot happen"):
        open_alert(MATTER, event, Facts(), TUESDAY)


def test_an_event_that_the_table_refuses_moves_nothing():
    with pytest.raises(ValueError, match="'undone' cannot happen to an alert in state 'prepare'"):
        move_alert(alert_in(AlertState.PREPARE), Event.UNDONE, Facts(), TUESDAY)


@pytest.mark.parametrize(
    ("before", "urgency"),
    [
        (timedelta(0), Urgency.IMMEDIATE),
        (timedelta(minutes=-1), Urgency.IMMEDIATE),
        (timedelta(minutes=1), Urgency.EXPECTED),
        (timedelta(minutes=60), Urgency.EXPECTED),
        (timedelta(minutes=61), Urgency.FUTURE),
    ],
)
def test_urgency_is_told_by_the_time_left_to_the_latest_start(before, urgency):
    alert = alert_in(AlertState.EXECUTE)
    assert alert.announced.start_by is not None
    moved = move_alert(alert, Event.REMINDER, Facts(), alert.announced.start_by - before)
    assert moved.after.announced.urgency is urgency


@pytest.mark.parametrize("state", AlertState)
def test_open_alerts_that_are_not_done_can_be_reported_done(state):
    alert = alert_in(state)
    expected = state in {AlertState.PREPARE, AlertState.EXECUTE, AlertState.DECLINED}
    assert can_be_reported(alert) == expected
    if expected:
        report = report_done(alert, Condition(), TUESDAY)
        assert report.transition.notice is None
        assert report.transition.after.state is AlertState.DONE
        assert report.condition == Condition(cover=Cover.IN_PLACE, cover_since=TUESDAY)
    else:
        with pytest.raises(ValueError, match="cannot happen"):
            report_done(alert, Condition(), TUESDAY)


@pytest.mark.parametrize("state", AlertState)
def test_only_open_alerts_can_be_declined_and_the_condition_stays(state):
    alert = alert_in(state)
    if state in {AlertState.PREPARE, AlertState.EXECUTE}:
        report = report_declined(alert, Condition(), TUESDAY)
        assert report.transition.after.state is AlertState.DECLINED
        assert report.condition == Condition()
    else:
        with pytest.raises(ValueError, match="cannot happen"):
            report_declined(alert, Condition(), TUESDAY)
