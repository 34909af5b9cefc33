from dataclasses import replace
from datetime import date, timedelta

import pytest

from alertd.alerts import AlertState, Announcement, Change, changes_between
from alertd.alerts.changes import is_postponed, is_start_earlier
from alertd.core import Certainty, MessageType, ResponseType, Severity, Urgency
from alertd.risk import RuleSettings
from alertd.site import Cover
from tests.fakes.garden import FIGS, POTS, Keeper, local, make_garden, make_rules, nights

DAY = date(2026, 1, 20)
TUESDAY = local("2026-01-20 08:00")
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)


def weather(*lows):
    return nights(DAY, [*lows, *[0.0] * (8 - len(lows))])


def called_to_work():
    """Return an alert in execute, told to start by 14:40, with its task as told."""
    keeper = Keeper(make_garden(FIGS))
    (notice,) = keeper.look(TUESDAY, weather(-13.0)).notices
    assert notice.task is not None
    return keeper, notice.alert, replace(notice.task, is_due=False)


@pytest.mark.parametrize(("later", "expected"), [(12 * HOUR, True), (12 * HOUR - MINUTE, False), (24 * HOUR, True)])
def test_work_is_postponed_when_it_can_wait_for_half_a_day_or_more(later, expected):
    _, alert, task = called_to_work()
    moved = replace(task, start_by=alert.announced.start_by + later)
    assert is_postponed(alert, moved, TUESDAY) == expected


def test_work_is_not_postponed_when_it_is_due_or_the_cold_has_come_or_nobody_was_called():
    _, alert, task = called_to_work()
    moved = replace(task, start_by=alert.announced.start_by + 24 * HOUR)
    assert is_postponed(alert, moved, alert.announced.onset - MINUTE)
    assert not is_postponed(alert, moved, alert.announced.onset)
    assert not is_postponed(alert, replace(moved, is_due=True), TUESDAY)
    assert not is_postponed(replace(alert, state=AlertState.PREPARE), moved, TUESDAY)
    assert not is_postponed(alert, replace(moved, start_by=None), TUESDAY)


def test_a_start_is_earlier_only_before_the_announced_one_and_for_people_who_were_called():
    _, alert, task = called_to_work()
    earlier = replace(task, start_by=alert.announced.start_by - 10 * MINUTE)
    assert is_start_earlier(alert, earlier, TUESDAY)
    assert not is_start_earlier(alert, task, TUESDAY)
    assert not is_start_earlier(alert, earlier, alert.announced.start_by)
    assert not is_start_earlier(replace(alert, state=AlertState.PREPARE), earlier, TUESDAY)


def test_from_the_announced_onset_on_a_lower_minimum_alone_is_not_told():
    keeper, alert, _ = called_to_work()
    assert keeper.kinds(alert.announced.onset, weather(-14.2)) == []


def test_a_reminder_repeats_what_was_told_and_not_what_the_forecast_says_now():
    keeper, alert, _ = called_to_work()
    assert keeper.kinds(alert.announced.start_by - 2 * HOUR, weather(-13.8)) == ["reminder"]
    assert keeper.the_alert().announced.minimum == -13.0


def test_a_spell_that_begins_just_within_the_gap_after_the_told_one_is_the_same():
    rules = make_rules(wood=RuleSettings(spell_gap=40 * HOUR))
    keeper = Keeper(make_garden(FIGS, rules=rules))
    assert keeper.kinds(TUESDAY, weather(-13.0)) == ["opened"]
    assert keeper.kinds(TUESDAY, weather(0.0, 0.0, -13.0)) == ["postponed"]


def test_an_alert_that_opens_at_the_time_of_the_reminder_needs_none():
    keeper = Keeper(make_garden(FIGS))
    now = local("2026-01-20 12:40")
    assert keeper.kinds(now, weather(-13.0)) == ["opened"]
    assert keeper.kinds(now, weather(-13.0)) == []


def test_a_task_postponed_after_its_final_call_is_called_for_again():
    keeper, _, _ = called_to_work()
    assert keeper.kinds(local("2026-01-20 14:40"), weather(-13.0)) == ["final_call"]
    assert keeper.kinds(local("2026-01-20 15:00"), weather(0.0, -13.0)) == ["postponed"]
    assert keeper.kinds(local("2026-01-20 17:10"), weather(0.0, -13.0)) == ["act"]
    assert keeper.kinds(local("2026-01-21 14:50"), weather(0.0, -13.0)) == ["final_call"]


def test_a_change_takes_the_end_of_the_spell_along():
    keeper = Keeper(make_garden(FIGS))
    keeper.look(TUESDAY, weather(0.0, -13.0))
    assert keeper.kinds(TUESDAY, weather(0.0, -13.0, -14.2)) == ["changed"]
    assert keeper.the_alert().end == keeper.the_alert().announced.end == local("2026-01-23 06:00")


@pytest.mark.parametrize(("now", "is_icy"), [("2026-01-20 10:00", True), ("2026-01-20 09:59", False)])
def test_paths_are_icy_when_the_cold_is_a_day_and_a_half_away_or_less(now, is_icy):
    (notice,) = Keeper(make_garden(FIGS)).look(local(now), weather(0.0, -13.0)).notices
    assert notice.task is not None
    assert ("ice" in [each.value for each in notice.task.cautions]) == is_icy


def test_pots_moved_in_again_before_a_late_frost_stay_a_matter_until_it_is_over():
    keeper = Keeper(make_garden(POTS))
    now = local("2026-04-10 08:00")
    frost = nights(date(2026, 4, 10), [-3.0, 5.0, 5.0])
    keeper.mark("pots", now, cover=Cover.LIFTED)
    assert keeper.kinds(now, frost) == ["opened"]
    keeper.done("pots-2026-04-10", now)
    assert keeper.kinds(now + HOUR, frost) == []
    assert keeper.kinds(local("2026-04-11 07:00"), frost) == ["all_clear"]


def test_a_change_is_told_at_once_even_if_the_spell_has_slipped_past_the_horizon():
    keeper = Keeper(make_garden(FIGS))
    now = local("2026-01-20 02:00")
    assert keeper.kinds(local("2026-01-20 00:00"), weather(0.0, 0.0, -13.0)) == ["opened"]
    worse = nights(DAY, [0.0, 0.0, 0.0, -16.0, 0.0, 0.0])
    assert keeper.kinds(now, worse) == ["changed"]
    assert keeper.kinds(now + 24 * HOUR, worse) == []


def test_what_changed_over_several_messages_is_measured_by_the_same_marks():
    now = local("2026-01-20 08:00")
    before = Announcement(
        sent=now,
        message_type=MessageType.ALERT,
        response_type=ResponseType.EXECUTE,
        severity=Severity.MODERATE,
        urgency=Urgency.FUTURE,
        certainty=Certainty.LIKELY,
        onset=now + timedelta(hours=20),
        start_by=now + timedelta(hours=8),
        minimum=-10.0,
    )
    hour = timedelta(hours=1)
    assert changes_between([before], before) == ()
    after = replace(before, onset=before.onset - 3 * hour, start_by=before.start_by - hour, minimum=-11.0)
    assert changes_between([before], replace(after, severity=Severity.SEVERE)) == tuple(Change)
    assert changes_between([before], after) == (Change.EARLIER_ONSET, Change.COLDER, Change.EARLIER_START)
    little = replace(before, onset=before.onset - 2 * hour, minimum=-10.9, severity=Severity.MINOR)
    assert changes_between([before], little) == ()
    foreseen = replace(before, response_type=ResponseType.PREPARE)
    assert changes_between([foreseen], after) == (Change.EARLIER_ONSET, Change.COLDER)
    bare = replace(before, onset=None, minimum=None, start_by=None)
    assert changes_between([bare], after) == changes_between([after], bare) == ()
    worse = replace(before, severity=Severity.EXTREME)
    assert changes_between([worse, before], replace(before, severity=Severity.SEVERE)) == ()
