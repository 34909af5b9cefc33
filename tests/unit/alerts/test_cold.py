from dataclasses import replace
from datetime import date, timedelta

import pytest

from alertd.alerts import AlertState, Change, Event, Outcome
from alertd.core import Certainty, MessageType, ResponseType, Severity, Urgency
from alertd.plan import Action
from alertd.risk import Rule, RuleSettings
from alertd.site import Condition, Cover, Growing, MonthDay, Protection, Stage
from tests.fakes.garden import FIGS, POTS, Keeper, local, make_garden, make_rules, make_series, make_site, nights

DAY = date(2026, 1, 20)
TUESDAY = local("2026-01-20 08:00")
HOUR = timedelta(hours=1)


def weather(*lows, first=DAY, **others):
    """Nights from Tuesday's on, then mild ones."""
    return nights(first, [*lows, *[0.0] * (8 - len(lows))], **others)


def opened(*groups, lows=(0.0, 0.0, -14.0), now=TUESDAY, **changes):
    keeper = Keeper(make_garden(*(groups or (FIGS,)), **changes))
    assert keeper.kinds(now, weather(*lows)) == ["opened"]
    return keeper


# Opening


def test_a_cold_night_in_sight_opens_one_alert_to_get_ready():
    keeper = opened()
    alert = keeper.the_alert()
    assert (alert.alert_id, alert.group, alert.action, alert.rule) == (
        "figs-2026-01-22",
        "figs",
        Action.WRAP,
        Rule.WOOD,
    )
    assert alert.state is AlertState.PREPARE
    told = alert.announced
    assert told.message_type is MessageType.ALERT
    assert told.response_type is ResponseType.PREPARE
    assert told.onset == local("2026-01-22 22:00")
    assert told.end == local("2026-01-23 06:00")
    assert told.start_by == local("2026-01-22 14:50")
    assert told.minimum == told.minimum_low == told.minimum_high == -14.0
    assert told.probability == 1.0
    assert told.severity is Severity.MODERATE
    assert told.certainty is Certainty.LIKELY
    assert told.urgency is Urgency.FUTURE
    assert alert.opened == told
    assert alert.history == (told,)
    assert alert.revision == 1
    assert alert.end == told.end


def test_a_mild_forecast_opens_nothing():
    keeper = Keeper(make_garden(FIGS, POTS))
    decision = keeper.look(TUESDAY, weather())
    assert not decision.transitions
    assert not decision.changed_alerts
    assert {item.threshold.rule for item in decision.assessments} == {Rule.WOOD, Rule.CONTAINER_ROOTS}


def test_cold_beyond_the_horizon_is_not_told_yet():
    keeper = Keeper(make_garden())
    assert keeper.kinds(TUESDAY, weather(0.0, 0.0, 0.0, -14.0)) == []
    assert keeper.kinds(local("2026-01-20 22:00"), weather(0.0, 0.0, 0.0, -14.0)) == ["opened"]


def test_a_threshold_that_is_at_or_below_counts_at_the_value_itself_and_one_that_is_below_does_not():
    wood, roots = (10.0 - 32.0) / 1.8, (15.0 - 32.0) / 1.8
    assert Keeper(make_garden(FIGS)).kinds(TUESDAY, weather(wood)) == ["opened"]
    assert Keeper(make_garden(POTS)).kinds(TUESDAY, weather(roots)) == []
    assert Keeper(make_garden(POTS)).kinds(TUESDAY, weather(roots - 0.01)) == ["opened"]


def test_an_alert_opens_in_execute_when_no_later_slot_of_daylight_would_do():
    keeper = opened(lows=(-14.0,))
    alert = keeper.the_alert()
    assert alert.state is AlertState.EXECUTE
    assert alert.announced.response_type is ResponseType.EXECUTE
    assert alert.announced.start_by == local("2026-01-20 14:40")  # in time for sunset at 17:02
    assert not alert.reminded
    assert not alert.called


def test_an_alert_that_opens_without_daylight_left_says_at_once_and_calls_no_more():
    keeper = Keeper(make_garden())
    now = local("2026-01-20 20:00")
    decision = keeper.look(now, weather(-14.0))
    (notice,) = decision.notices
    assert notice.task is not None
    assert not notice.task.is_enough
    alert = keeper.the_alert()
    assert alert.state is AlertState.EXECUTE
    assert alert.announced.start_by == now
    assert alert.announced.urgency is Urgency.IMMEDIATE
    assert alert.called
    assert alert.reminded
    assert keeper.kinds(now + HOUR, weather(-14.0)) == []


def test_an_alert_that_opens_within_the_reminders_time_is_not_reminded_but_called():
    keeper = Keeper(make_garden())
    assert keeper.kinds(local("2026-01-20 13:30"), weather(-14.0)) == ["opened"]
    alert = keeper.the_alert()
    assert alert.reminded
    assert not alert.called
    assert keeper.kinds(local("2026-01-20 14:00"), weather(-14.0)) == []
    assert keeper.kinds(local("2026-01-20 14:50"), weather(-14.0)) == ["final_call"]


def test_each_group_has_its_own_matter():
    keeper = Keeper(make_garden(FIGS, POTS))
    assert keeper.kinds(TUESDAY, weather(0.0, -14.0)) == ["opened", "opened"]
    assert set(keeper.alerts) == {"figs-2026-01-21", "pots-2026-01-21"}


@pytest.mark.parametrize(
    ("protection", "action"),
    [
        (Protection.WRAP, Action.WRAP),
        (Protection.MULCH_RING, Action.FILL_RING),
        (Protection.BEND_AND_MULCH, Action.BEND_DOWN),
        (Protection.NONE, Action.SHIELD),
    ],
)
def test_the_planned_protection_says_what_is_to_be_done(protection, action):
    keeper = opened(replace(FIGS, protection=protection))
    assert keeper.the_alert().action is action


@pytest.mark.parametrize(
    ("protection", "action"), [(Protection.STORE, Action.MOVE_IN), (Protection.CLUSTER, Action.CLUSTER)]
)
def test_pots_are_moved_or_pushed_together(protection, action):
    keeper = opened(replace(POTS, protection=protection))
    alert = keeper.the_alert()
    assert alert.action is action
    assert alert.rule is Rule.CONTAINER_ROOTS


def test_the_rule_that_sees_the_earlier_onset_speaks():
    keeper = opened(POTS, lows=(0.0, -10.0, -14.0))
    assert keeper.the_alert().rule is Rule.CONTAINER_ROOTS
    assert keeper.the_alert().announced.onset == local("2026-01-21 22:00")


def test_a_rule_that_is_switched_off_says_nothing():
    rules = make_rules(wood=RuleSettings(enabled=False))
    assert Keeper(make_garden(FIGS, rules=rules)).kinds(TUESDAY, weather(-20.0)) == []


# The quiet life


def test_a_repeated_forecast_sends_nothing():
    keeper = opened()
    before = dict(keeper.alerts)
    decision = keeper.look(TUESDAY, weather(0.0, 0.0, -14.0))
    assert not decision.transitions
    assert not decision.followed
    assert keeper.alerts == before


def test_an_unchanged_forecast_sends_only_what_time_brings_and_each_once():
    keeper = opened()
    told = []
    now = TUESDAY
    while now < local("2026-01-24 00:00"):
        now += timedelta(minutes=10)
        told += [(kind, now) for kind in keeper.kinds(now, weather(0.0, 0.0, -14.0))]
    assert told == [
        ("act", local("2026-01-21 17:10")),
        ("reminder", local("2026-01-22 12:50")),
        ("final_call", local("2026-01-22 14:50")),
        ("expired", local("2026-01-23 07:00")),
    ]
    alert = keeper.the_alert()
    assert alert.revision == len(alert.history) == 5
    assert alert.outcome is Outcome.EXPIRED
    assert alert.ended == local("2026-01-23 07:00")
    assert alert.announced.urgency is Urgency.PAST
    assert alert.announced.response_type is ResponseType.ASSESS


def test_the_end_of_a_spell_follows_the_forecast_in_silence():
    keeper = opened()
    longer = weather(0.0, 0.0, -14.0, -13.0)
    decision = keeper.look(TUESDAY + HOUR, longer)
    assert not decision.transitions
    assert keeper.the_alert().end == local("2026-01-24 06:00")
    assert keeper.the_alert().announced.end == local("2026-01-23 06:00")


def test_calls_are_not_made_up_for_once_the_cold_has_come():
    keeper = opened(lows=(-14.0,))
    assert keeper.kinds(local("2026-01-20 23:00"), weather(-14.0)) == []


def test_a_final_call_that_comes_due_before_the_reminder_replaces_it():
    keeper = opened(lows=(-14.0,))
    assert keeper.kinds(local("2026-01-20 15:00"), weather(-14.0)) == ["final_call"]
    assert keeper.kinds(local("2026-01-20 15:10"), weather(-14.0)) == []


# Changes


@pytest.mark.parametrize(
    ("lows", "changes"),
    [
        ((0.0, 0.0, -13.9), ()),
        ((0.0, 0.0, -14.0), (Change.COLDER,)),
        ((0.0, 0.0, -15.0), (Change.MORE_SEVERE, Change.COLDER)),
        ((0.0, -13.0, -13.0), (Change.EARLIER_ONSET,)),
        ((0.0, -16.0, -14.0), (Change.MORE_SEVERE, Change.EARLIER_ONSET, Change.COLDER)),
    ],
)
def test_changes_that_matter_are_told_while_people_get_ready(lows, changes):
    keeper = opened(lows=(0.0, 0.0, -13.0))
    decision = keeper.look(TUESDAY, weather(*lows))
    if not changes:
        assert not decision.transitions
        return
    (notice,) = decision.notices
    assert notice.kind.value == "changed"
    assert notice.changes == changes
    assert notice.before == keeper.the_alert().opened
    assert notice.alert.announced.message_type is MessageType.UPDATE
    assert notice.alert.revision == 2
    assert not keeper.look(TUESDAY, weather(*lows)).transitions


def test_what_was_told_is_compared_with_not_what_was_seen():
    keeper = opened(lows=(0.0, 0.0, -13.0))
    told = [keeper.kinds(TUESDAY + place * HOUR, weather(0.0, 0.0, low)) for place, low in enumerate([-13.5, -13.9])]
    assert told == [[], []]
    assert keeper.kinds(TUESDAY + 3 * HOUR, weather(0.0, 0.0, -14.0)) == ["changed"]


def test_a_forecast_that_swings_back_and_forth_falls_silent():
    keeper = opened()
    told = []
    for hour in range(8):
        told += keeper.kinds(TUESDAY + hour * HOUR, weather(0.0, 0.0, -15.5 if hour % 2 else -14.0))
    assert told == ["changed"]


def test_colder_is_told_only_past_the_threshold():
    settings = RuleSettings(margin=5.0)
    keeper = opened(lows=(0.0, 0.0, -8.0), rules=make_rules(wood=settings))
    assert keeper.the_alert().announced.severity is Severity.MINOR
    assert keeper.kinds(TUESDAY, weather(0.0, 0.0, -11.0)) == []
    assert keeper.kinds(TUESDAY, weather(0.0, 0.0, -12.1)) == []
    decision = keeper.look(TUESDAY, weather(0.0, 0.0, -12.3))
    (notice,) = decision.notices
    assert notice.changes == (Change.MORE_SEVERE, Change.COLDER)


def test_colder_counts_what_the_cover_in_place_gains():
    keeper = Keeper(make_garden(FIGS, rules=make_rules(wood=RuleSettings(margin=5.0))))
    keeper.mark("figs", TUESDAY, cover=Cover.IN_PLACE)
    assert keeper.kinds(TUESDAY, weather(0.0, 0.0, -12.0)) == ["opened"]
    assert keeper.kinds(TUESDAY, weather(0.0, 0.0, -14.9)) == []
    assert keeper.kinds(TUESDAY, weather(0.0, 0.0, -15.1)) == ["changed"]


def test_an_onset_that_comes_less_than_three_hours_earlier_is_not_told_to_people_who_get_ready():
    keeper = opened()
    base = weather(0.0, 0.0, -14.0)
    earlier = base.air_temperature.copy()
    evening = int((local("2026-01-22 20:00") - local("2026-01-20 00:00")) / HOUR)
    earlier[:, evening : evening + 2] = -14.0
    assert keeper.kinds(TUESDAY, make_series(local("2026-01-20 00:00"), earlier)) == []
    earlier[:, evening - 1] = -14.0
    decision = keeper.look(TUESDAY, make_series(local("2026-01-20 00:00"), earlier))
    assert [notice.changes for notice in decision.notices] == [(Change.EARLIER_ONSET,)]


def test_an_earlier_latest_start_is_told_to_people_who_were_called_to_work():
    keeper = opened(lows=(-14.0,))
    base = weather(-14.0)
    earlier = base.air_temperature.copy()
    earlier[:, 20:22] = -14.0  # from 20:00
    start = local("2026-01-20 00:00")
    assert keeper.kinds(local("2026-01-20 09:00"), make_series(start, earlier)) == []  # dark by then anyway
    earlier[:, 16:20] = -14.0
    decision = keeper.look(local("2026-01-20 09:00"), make_series(start, earlier))
    (notice,) = decision.notices
    assert notice.changes == (Change.EARLIER_ONSET, Change.EARLIER_START)
    assert notice.alert.announced.start_by == local("2026-01-20 13:40")


def test_only_a_step_in_severity_is_told_once_the_cold_has_come():
    keeper = opened(lows=(-13.0,))
    night = local("2026-01-20 23:30")
    assert keeper.kinds(night, weather(-14.6)) == []
    decision = keeper.look(night, weather(-15.0))
    (notice,) = decision.notices
    assert notice.changes == (Change.MORE_SEVERE,)
    assert notice.alert.announced.onset == local("2026-01-20 22:00")


# Postponed


def test_work_that_can_wait_for_another_day_after_all_is_postponed_and_called_for_anew():
    keeper = opened(lows=(-14.0,))
    decision = keeper.look(local("2026-01-20 09:00"), weather(0.0, -14.0))
    (notice,) = decision.notices
    assert notice.kind.value == "postponed"
    alert = keeper.the_alert()
    assert alert.state is AlertState.PREPARE
    assert alert.announced.start_by == local("2026-01-21 14:50")
    assert alert.announced.response_type is ResponseType.PREPARE
    assert keeper.kinds(local("2026-01-20 17:10"), weather(0.0, -14.0)) == ["act"]
    assert keeper.kinds(local("2026-01-21 12:50"), weather(0.0, -14.0)) == ["reminder"]
    assert keeper.kinds(local("2026-01-21 14:50"), weather(0.0, -14.0)) == ["final_call"]


def test_a_postponed_task_is_reminded_of_again():
    keeper = opened(lows=(-14.0,))
    assert keeper.kinds(local("2026-01-20 13:00"), weather(-14.0)) == ["reminder"]
    assert keeper.kinds(local("2026-01-20 13:10"), weather(0.0, -14.0)) == ["postponed"]
    assert not keeper.the_alert().reminded
    assert keeper.kinds(local("2026-01-20 17:10"), weather(0.0, -14.0)) == ["act"]
    assert keeper.kinds(local("2026-01-21 13:00"), weather(0.0, -14.0)) == ["reminder"]


def test_a_start_that_moves_back_by_some_hours_only_is_not_postponed():
    keeper = opened(lows=(-14.0,))
    later = weather(-14.0).air_temperature.copy()
    later[:, 22:26] = 0.0  # not before 02:00
    assert keeper.kinds(local("2026-01-20 09:00"), make_series(local("2026-01-20 00:00"), later)) == []
    assert keeper.the_alert().state is AlertState.EXECUTE


# Hysteresis and ends


def test_an_alert_is_cancelled_when_the_forecast_eases_by_more_than_the_hysteresis():
    keeper = opened()
    assert keeper.kinds(TUESDAY, weather(0.0, 0.0, -11.3)) == []
    assert keeper.kinds(TUESDAY, weather(0.0, 0.0, -11.1)) == ["cancelled"]
    alert = keeper.the_alert()
    assert alert.outcome is Outcome.CANCELLED
    assert alert.announced.message_type is MessageType.CANCEL
    assert alert.announced.response_type is ResponseType.NONE
    assert alert.announced.minimum == -14.0
    assert not alert.is_open


def test_a_spell_that_slips_past_the_horizon_does_not_cancel_its_alert():
    keeper = opened()
    base = weather(0.0, 0.0, -14.0)
    slipped = base.air_temperature.copy()
    first = int((local("2026-01-22 22:00") - local("2026-01-20 00:00")) / HOUR)
    slipped[:, first : first + 11] = 6.0
    slipped[:, first + 11 : first + 20] = -14.0  # the cold comes eleven hours later, 73 h ahead
    assert keeper.kinds(TUESDAY, make_series(local("2026-01-20 00:00"), slipped)) == []
    assert keeper.the_alert().is_open


def test_a_cold_that_only_lingers_within_the_hysteresis_still_calls_to_work():
    keeper = opened(lows=(0.0, -14.0))
    decision = keeper.look(local("2026-01-20 17:10"), weather(0.0, -11.5))
    (notice,) = decision.notices
    assert notice.kind.value == "act"
    assert notice.alert.announced.minimum == -14.0
    assert notice.threshold is not None
    assert notice.threshold.rule is Rule.WOOD


def test_a_second_spell_opens_a_second_alert_in_the_evaluation_that_ends_the_first():
    keeper = opened(lows=(-14.0,))
    two = weather(-14.0, 0.0, 0.0, -14.0)
    dawn = local("2026-01-21 07:00")
    assert keeper.kinds(dawn, two) == ["expired", "opened"]
    assert keeper.kinds(dawn, two) == []
    assert set(keeper.alerts) == {"figs-2026-01-20", "figs-2026-01-23"}


def test_cold_that_moves_by_days_is_another_spell():
    keeper = opened(lows=(-14.0,))
    moved = weather(0.0, 0.0, -14.0)
    assert keeper.kinds(local("2026-01-20 09:00"), moved) == ["cancelled", "opened"]
    assert keeper.kinds(local("2026-01-20 09:00"), moved) == []


def test_an_alert_of_a_day_that_has_had_one_gets_a_number():
    keeper = opened(lows=(-14.0,))
    assert keeper.kinds(local("2026-01-20 09:00"), weather(0.0)) == ["cancelled"]
    assert keeper.kinds(local("2026-01-20 10:00"), weather(-14.0)) == ["opened"]
    assert keeper.kinds(local("2026-01-20 11:00"), weather(0.0)) == ["cancelled"]
    assert keeper.kinds(local("2026-01-20 12:00"), weather(-14.0)) == ["opened"]
    assert list(keeper.alerts) == ["figs-2026-01-20", "figs-2026-01-20-2", "figs-2026-01-20-3"]


def test_an_alert_that_gets_ready_does_not_cry_at_once_when_the_cold_has_silently_moved_to_a_later_night():
    keeper = opened(lows=(0.0, -14.0))
    assert keeper.kinds(TUESDAY, weather(0.0, 0.0, -14.0)) == []
    assert keeper.kinds(local("2026-01-21 08:00"), weather(0.0, 0.0, 0.0, -14.0)) == []
    told = []
    now = local("2026-01-21 08:00")
    while now < local("2026-01-23 23:00"):
        now += HOUR
        decision = keeper.look(now, weather(0.0, 0.0, 0.0, -14.0))
        told += [(notice.kind.value, now, notice.alert.announced.onset) for notice in decision.notices]
    onset = local("2026-01-23 22:00")
    assert told == [
        ("act", local("2026-01-22 18:00"), onset),
        ("reminder", local("2026-01-23 13:00"), onset),
        ("final_call", local("2026-01-23 15:00"), onset),
    ]


def test_a_lingering_cold_that_has_silently_moved_to_a_later_night_does_not_cry_at_once_either():
    keeper = opened(lows=(0.0, -14.0))
    assert keeper.kinds(TUESDAY, weather(0.0, 0.0, -14.0)) == []
    assert keeper.kinds(local("2026-01-21 08:00"), weather(0.0, 0.0, 0.0, -14.0)) == []
    assert keeper.kinds(local("2026-01-21 23:00"), weather(0.0, 0.0, 0.0, -11.5)) == []
    assert keeper.the_alert().state is AlertState.PREPARE


def test_cold_that_moved_later_in_silence_and_then_eased_is_cancelled_not_expired():
    keeper = opened(lows=(0.0, -14.0))
    assert keeper.kinds(local("2026-01-20 12:00"), weather(0.0, 0.0, -14.0)) == []
    assert keeper.kinds(local("2026-01-22 02:00"), weather(0.0)) == ["cancelled"]


def test_an_alert_that_nobody_watched_over_its_spell_expires():
    keeper = opened(lows=(0.0, -14.0))
    assert keeper.kinds(local("2026-01-23 12:00"), weather(0.0)) == ["expired"]


# Reports


def test_a_task_reported_done_is_silent_until_the_all_clear():
    keeper = opened(lows=(0.0, -14.0))
    keeper.done("figs-2026-01-21", TUESDAY + HOUR)
    assert keeper.the_alert().state is AlertState.DONE
    assert keeper.conditions["figs"] == Condition(cover=Cover.IN_PLACE, cover_since=TUESDAY + HOUR)
    now = TUESDAY + HOUR
    while now < local("2026-01-22 06:00"):
        now += HOUR
        assert keeper.kinds(now, weather(0.0, -14.0)) == []
    assert keeper.kinds(local("2026-01-22 07:00"), weather(0.0, -14.0)) == ["all_clear"]
    assert keeper.the_alert().outcome is Outcome.DONE
    assert keeper.the_alert().announced.response_type is ResponseType.ALL_CLEAR


def test_a_done_task_is_cleared_when_the_forecast_eases():
    keeper = opened()
    keeper.done("figs-2026-01-22", TUESDAY)
    assert keeper.kinds(TUESDAY + HOUR, weather(0.0)) == ["all_clear"]


def test_a_group_marked_in_place_counts_as_done_without_the_alert_being_named():
    keeper = opened()
    keeper.mark("figs", TUESDAY, cover=Cover.IN_PLACE)
    decision = keeper.look(TUESDAY + HOUR, weather(0.0, 0.0, -14.0))
    assert [step.event for step in decision.transitions] == [Event.REPORTED_DONE]
    assert not decision.notices
    assert keeper.the_alert().state is AlertState.DONE


def test_a_mark_and_an_eased_forecast_at_once_give_the_all_clear_at_once_and_nothing_later():
    keeper = opened()
    keeper.mark("figs", TUESDAY, cover=Cover.IN_PLACE)
    assert keeper.kinds(TUESDAY + HOUR, weather(0.0)) == ["all_clear"]
    assert keeper.kinds(TUESDAY + HOUR, weather(0.0)) == []


def test_a_wrapped_group_is_judged_with_the_credit_of_its_wrap():
    keeper = Keeper(make_garden(FIGS))
    keeper.mark("figs", TUESDAY, cover=Cover.IN_PLACE)
    assert keeper.kinds(TUESDAY, weather(-14.9)) == []
    assert keeper.kinds(TUESDAY, weather(-15.1)) == ["opened"]
    assert keeper.the_alert().action is Action.REINFORCE
    (assessment,) = keeper.look(TUESDAY, weather(-15.1)).assessments
    assert assessment.threshold.gain == pytest.approx(5.0 / 1.8)


def test_a_wrap_in_place_that_will_not_do_is_told_beside_the_task_that_is_done():
    keeper = opened()
    keeper.done("figs-2026-01-22", TUESDAY)
    assert keeper.kinds(TUESDAY + HOUR, weather(0.0, 0.0, -18.0)) == ["opened"]
    assert [alert.action for alert in keeper.open_alerts] == [Action.WRAP, Action.REINFORCE]
    keeper.done("figs-2026-01-22-2", TUESDAY + 2 * HOUR)
    assert keeper.conditions["figs"].cover_since == TUESDAY
    assert keeper.kinds(TUESDAY + 3 * HOUR, weather(0.0, 0.0, -18.0)) == []
    assert keeper.kinds(local("2026-01-23 07:00"), weather(0.0, 0.0, -18.0)) == ["all_clear", "all_clear"]


def test_a_reinforced_cover_stays_done_even_if_it_is_taken_off():
    keeper = Keeper(make_garden(FIGS))
    keeper.mark("figs", TUESDAY, cover=Cover.IN_PLACE)
    assert keeper.kinds(TUESDAY, weather(0.0, 0.0, -18.0)) == ["opened"]
    keeper.done("figs-2026-01-22", TUESDAY)
    keeper.mark("figs", TUESDAY, cover=Cover.OFF)
    decision = keeper.look(TUESDAY, weather(0.0, 0.0, -18.0))
    assert [(notice.kind.value, notice.alert.action) for notice in decision.notices] == [("opened", Action.WRAP)]


def test_pots_in_store_are_threatened_by_no_outdoor_cold():
    keeper = opened(POTS)
    keeper.done("pots-2026-01-22", TUESDAY)
    decision = keeper.look(TUESDAY, weather(-30.0, -30.0, -30.0))
    assert not decision.assessments
    assert not decision.notices


def test_a_task_that_is_undone_is_called_for_again():
    keeper = opened(lows=(-14.0,))
    keeper.done("figs-2026-01-20", TUESDAY)
    keeper.mark("figs", TUESDAY + HOUR, cover=Cover.OFF)
    decision = keeper.look(TUESDAY + HOUR, weather(-14.0))
    (notice,) = decision.notices
    assert notice.kind.value == "act"
    assert [step.event for step in decision.transitions] == [Event.UNDONE]
    assert keeper.the_alert().state is AlertState.EXECUTE
    assert keeper.kinds(local("2026-01-20 12:50"), weather(-14.0)) == ["reminder"]


def test_not_this_time_stops_reminders_and_the_end_is_told_briefly():
    keeper = opened(lows=(0.0, -14.0))
    keeper.done("figs-2026-01-21", TUESDAY, declined=True)
    assert keeper.conditions["figs"] == Condition()
    now = TUESDAY
    while now < local("2026-01-22 06:00"):
        now += HOUR
        assert keeper.kinds(now, weather(0.0, -14.7)) == []
    assert keeper.kinds(local("2026-01-22 07:00"), weather(0.0, -14.0)) == ["closed"]
    assert keeper.the_alert().outcome is Outcome.DECLINED


def test_a_declined_task_is_not_told_of_an_earlier_onset_or_a_lower_minimum_alone():
    keeper = opened(lows=(0.0, 0.0, -12.5))
    keeper.done("figs-2026-01-22", TUESDAY, declined=True)
    assert keeper.kinds(TUESDAY, weather(0.0, -12.5, -14.5)) == []


def test_a_declined_task_speaks_up_when_the_spell_becomes_more_severe():
    keeper = opened(lows=(0.0, -14.0))
    keeper.done("figs-2026-01-21", TUESDAY, declined=True)
    decision = keeper.look(TUESDAY + HOUR, weather(0.0, -15.5))
    (notice,) = decision.notices
    assert notice.kind.value == "changed"
    assert notice.changes == (Change.MORE_SEVERE,)
    assert keeper.the_alert().state is AlertState.EXECUTE
    assert keeper.the_alert().announced.severity is Severity.SEVERE
    assert keeper.the_alert().worst_severity is Severity.SEVERE
    keeper.done("figs-2026-01-21", TUESDAY + HOUR)
    assert keeper.the_alert().state is AlertState.DONE


def test_a_declined_task_may_be_done_after_all():
    keeper = opened()
    keeper.done("figs-2026-01-22", TUESDAY, declined=True)
    keeper.done("figs-2026-01-22", TUESDAY)
    assert keeper.the_alert().state is AlertState.DONE


def test_severity_is_counted_from_the_worst_that_was_told():
    keeper = opened(lows=(0.0, -15.5))
    assert keeper.the_alert().announced.severity is Severity.SEVERE
    assert keeper.kinds(local("2026-01-20 17:10"), weather(0.0, -14.0)) == ["act"]
    assert keeper.the_alert().announced.severity is Severity.MODERATE
    assert keeper.the_alert().worst_severity is Severity.SEVERE
    decision = keeper.look(local("2026-01-20 18:00"), weather(0.0, -14.9))
    assert not decision.notices


# Growth


def test_a_bare_group_past_the_last_freeze_date_is_judged_as_growing():
    keeper = Keeper(make_garden(FIGS))
    now = local("2026-05-02 08:00")
    assert keeper.kinds(now, nights(date(2026, 5, 2), [-2.0, 5.0, 5.0])) == ["opened"]
    alert = keeper.the_alert()
    assert (alert.action, alert.rule) == (Action.SHIELD, Rule.SPRING_FROST)


def test_budbreak_before_the_last_freeze_date_asks_for_a_shield_for_the_night():
    keeper = Keeper(make_garden(FIGS))
    now = local("2026-04-10 08:00")
    frost = nights(date(2026, 4, 10), [-2.0, 5.0, 5.0])
    assert keeper.kinds(now, frost) == []
    keeper.mark("figs", now, stage=Stage.BUDBREAK)
    assert keeper.kinds(now, frost) == ["opened"]
    assert keeper.the_alert().action is Action.SHIELD


def test_a_shield_reported_done_changes_no_condition():
    keeper = Keeper(make_garden(FIGS))
    now = local("2026-05-02 08:00")
    keeper.look(now, nights(date(2026, 5, 2), [-2.0, 5.0, 5.0]))
    keeper.done("figs-2026-05-02", now)
    assert keeper.conditions["figs"] == Condition()
    assert keeper.kinds(now + HOUR, nights(date(2026, 5, 2), [-2.0, 5.0, 5.0])) == []


def test_the_task_does_not_change_its_name_when_the_last_freeze_date_passes_while_it_is_open():
    tender = replace(FIGS, hardiness_class="tender_evergreen")
    keeper = Keeper(make_garden(tender, site=make_site(last_freeze=MonthDay(4, 25))))
    frost = nights(date(2026, 4, 24), [5.0, -4.0, 5.0, 5.0])
    assert keeper.kinds(local("2026-04-24 08:00"), frost) == ["opened"]
    assert keeper.the_alert().action is Action.WRAP
    assert keeper.kinds(local("2026-04-25 01:00"), frost) == ["act"]
    assert [alert.action for alert in keeper.open_alerts] == [Action.WRAP]


def test_clustered_pots_are_warned_of_a_late_frost():
    pots = replace(POTS, protection=Protection.CLUSTER)
    keeper = Keeper(make_garden(pots))
    keeper.mark("pots", local("2026-01-20 12:00"), cover=Cover.IN_PLACE)
    assert keeper.kinds(local("2026-05-02 08:00"), nights(date(2026, 5, 2), [-3.0, 5.0, 5.0])) == ["opened"]
    assert keeper.the_alert().rule is Rule.SPRING_FROST


def test_a_cold_that_eases_to_a_frost_which_still_threatens_growth_is_not_called_off():
    keeper = Keeper(make_garden(POTS))
    now = local("2026-04-10 08:00")
    assert keeper.kinds(now, nights(date(2026, 4, 10), [-10.0, 5.0, 5.0])) == ["opened"]
    assert keeper.the_alert().rule is Rule.CONTAINER_ROOTS
    keeper.mark("pots", now, cover=Cover.LIFTED)
    decision = keeper.look(now + HOUR, nights(date(2026, 4, 10), [-5.0, 5.0, 5.0]))
    assert [notice.kind.value for notice in decision.notices] == ["changed"]
    assert keeper.the_alert().is_open


# The whole


def test_a_matter_of_cold_without_a_spell_is_a_bug():
    keeper = opened()
    alert = keeper.the_alert()
    keeper.alerts = {alert.alert_id: replace(alert, announced=replace(alert.announced, onset=None))}
    with pytest.raises(ValueError, match="figs-2026-01-22 is a matter of cold without a spell"):
        keeper.look(TUESDAY, weather(0.0))


def test_the_same_arguments_give_the_same_decision():
    keeper = Keeper(make_garden(FIGS, POTS))
    forecast = weather(0.0, -14.0)
    first = keeper.look(TUESDAY, forecast)
    assert first.transitions == Keeper(make_garden(FIGS, POTS)).look(TUESDAY, forecast).transitions


def test_work_long_before_the_cold_needs_no_grit_and_work_close_to_it_does():
    far = Keeper(make_garden()).look(TUESDAY, weather(0.0, 0.0, -14.0)).notices[0]
    near = Keeper(make_garden()).look(TUESDAY, weather(0.0, -14.0)).notices[0]
    assert far.task is not None
    assert near.task is not None
    assert [caution.value for caution in far.task.cautions] == ["heaters", "ladder"]
    assert [caution.value for caution in near.task.cautions] == ["heaters", "ladder"]
    close = Keeper(make_garden()).look(TUESDAY, weather(-14.0)).notices[0]
    assert close.task is not None
    assert [caution.value for caution in close.task.cautions] == ["heaters", "ladder", "ice"]


def test_an_in_ground_group_has_no_rule_of_container_roots():
    keeper = Keeper(make_garden(replace(FIGS, growing=Growing.IN_GROUND)))
    assert [item.threshold.rule for item in keeper.look(TUESDAY, weather(0.0)).assessments] == [Rule.WOOD]
