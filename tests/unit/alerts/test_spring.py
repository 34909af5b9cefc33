from dataclasses import replace
from datetime import date, timedelta

import pytest

from alertd.alerts import AlertState, Event, Outcome
from alertd.core import ResponseType, Severity, Urgency
from alertd.hardiness import HardinessClass
from alertd.plan import Action
from alertd.risk import Rule, RuleSettings
from alertd.site import Condition, Cover, MonthDay, Protection, Stage
from tests.fakes.garden import FIGS, POTS, Keeper, local, make_garden, make_rules, make_site, nights

DAY = date(2026, 4, 26)
SUNDAY = local("2026-04-26 09:00")
JANUARY = local("2026-01-10 09:00")
HOUR, WHOLE_DAY = timedelta(hours=1), timedelta(days=1)


def mild(now, *lows):
    """Weather from yesterday's evening on, for eight nights."""
    first = now.astimezone(make_site().time_zone).date() - WHOLE_DAY
    return nights(first, [5.0, *lows, *[5.0] * (8 - len(lows))], by_day=14.0)


def covered(group=FIGS, **changes):
    keeper = Keeper(make_garden(group, **changes))
    keeper.mark(group.group_id, JANUARY, cover=Cover.IN_PLACE)
    return keeper


def test_nothing_is_uncovered_before_the_last_freeze_date():
    keeper = covered()
    assert keeper.kinds(local("2026-04-24 23:50"), mild(SUNDAY)) == []
    assert keeper.kinds(local("2026-04-25 06:59"), mild(SUNDAY)) == [], "nobody is invited in the night"
    assert keeper.kinds(local("2026-04-25 07:00"), mild(SUNDAY)) == ["opened"]


@pytest.mark.parametrize("protection", [Protection.WRAP, Protection.MULCH_RING, Protection.BEND_AND_MULCH])
def test_past_the_last_freeze_date_people_are_invited_to_open_covers(protection):
    keeper = covered(replace(FIGS, protection=protection))
    decision = keeper.look(SUNDAY, mild(SUNDAY))
    (notice,) = decision.notices
    alert = notice.alert
    assert (alert.alert_id, alert.action, alert.rule) == ("figs-2026-04-26", Action.OPEN_COVER, Rule.UNCOVER)
    assert alert.state is AlertState.EXECUTE
    told = alert.announced
    assert told.response_type is ResponseType.ALL_CLEAR
    assert told.severity is Severity.MINOR
    assert told.urgency is Urgency.FUTURE
    assert told.probability == 0.0
    assert told.onset is told.start_by is told.minimum is None
    assert notice.task is not None
    assert notice.task.start_by is None
    assert keeper.kinds(SUNDAY, mild(SUNDAY)) == []
    assert keeper.kinds(SUNDAY + 3 * WHOLE_DAY, mild(SUNDAY + 3 * WHOLE_DAY)) == []


def test_a_frost_within_the_horizon_or_a_forecast_too_short_to_see_it_keeps_the_covers_on():
    keeper = covered()
    assert keeper.kinds(SUNDAY, mild(SUNDAY, 5.0, 5.0, 5.0, -1.2)) == []
    assert keeper.kinds(SUNDAY, mild(SUNDAY).window(SUNDAY - WHOLE_DAY, SUNDAY + timedelta(hours=100))) == []
    assert keeper.kinds(SUNDAY, mild(SUNDAY, 5.0, 5.0, 5.0, -1.0)) == ["opened"]


def test_pots_in_store_are_brought_out():
    keeper = covered(POTS)
    assert keeper.kinds(SUNDAY, mild(SUNDAY)) == ["opened"]
    alert = keeper.the_alert()
    assert (alert.action, alert.rule) == (Action.BRING_OUT, Rule.BRING_OUT)
    keeper.done(alert.alert_id, SUNDAY)
    assert keeper.conditions["pots"].cover is Cover.LIFTED
    assert keeper.kinds(SUNDAY + HOUR, mild(SUNDAY)) == ["all_clear"]


@pytest.mark.parametrize("protection", [Protection.CLUSTER, Protection.NONE])
def test_what_has_no_cover_is_not_invited_to_be_uncovered(protection):
    keeper = covered(replace(POTS, protection=protection))
    assert keeper.kinds(SUNDAY, mild(SUNDAY)) == []


@pytest.mark.parametrize("cover", [Cover.OFF, Cover.LIFTED])
def test_a_group_that_stands_uncovered_is_not_invited(cover):
    for group in (FIGS, POTS):
        keeper = Keeper(make_garden(group))
        keeper.mark(group.group_id, JANUARY, cover=cover)
        assert keeper.kinds(SUNDAY, mild(SUNDAY)) == []


def test_a_rule_of_spring_that_is_switched_off_invites_nobody():
    keeper = covered(rules=make_rules(uncover=RuleSettings(enabled=False)))
    assert keeper.kinds(SUNDAY, mild(SUNDAY)) == []


def test_covers_come_off_in_steps_and_go_on_again_for_a_late_frost():
    keeper = covered()
    told, now = [], SUNDAY

    def look(*lows):
        told.extend(
            (notice.kind.value, notice.alert.action.value) for notice in keeper.look(now, mild(now, *lows)).notices
        )

    look()
    keeper.done("figs-2026-04-26", now)
    assert keeper.conditions["figs"].cover is Cover.OPENED
    for _ in range(5):
        now += WHOLE_DAY
        look()
    assert now == local("2026-05-01 09:00")
    keeper.done("figs-2026-05-01", now)
    assert keeper.conditions["figs"].cover is Cover.LIFTED
    now += HOUR
    look(5.0, -3.0)
    assert keeper.alerts["figs-2026-05-02"].rule is Rule.SPRING_FROST
    keeper.done("figs-2026-05-02", now)
    assert keeper.conditions["figs"] == Condition(Cover.IN_PLACE, Stage.BUDBREAK, now, now)
    now += HOUR
    look(5.0, -3.0)
    now += 2 * WHOLE_DAY
    look()
    look()
    assert told == [
        ("opened", "open_cover"),
        ("all_clear", "open_cover"),
        ("opened", "lift_cover"),
        ("opened", "cover_again"),
        ("all_clear", "lift_cover"),
        ("all_clear", "cover_again"),
        ("opened", "open_cover"),
    ]


def test_a_cover_that_is_lifted_before_anybody_asked_is_only_noted():
    keeper = covered()
    assert keeper.kinds(SUNDAY, mild(SUNDAY)) == ["opened"]
    keeper.mark("figs", SUNDAY, cover=Cover.LIFTED)
    decision = keeper.look(SUNDAY + HOUR, mild(SUNDAY))
    assert [step.event for step in decision.transitions] == [Event.REPORTED_DONE, Event.PASSED]
    assert [notice.kind.value for notice in decision.notices] == ["all_clear"]
    assert keeper.kinds(SUNDAY + HOUR, mild(SUNDAY)) == []
    assert keeper.the_alert().outcome is Outcome.DONE


def test_pots_brought_out_are_moved_in_again_before_a_late_frost():
    keeper = covered(POTS)
    keeper.look(SUNDAY, mild(SUNDAY))
    keeper.done("pots-2026-04-26", SUNDAY)
    now = SUNDAY + WHOLE_DAY
    assert keeper.kinds(now, mild(now, 5.0, -3.0)) == ["opened", "all_clear"]
    alert = keeper.open_alerts[0]
    assert (alert.action, alert.rule) == (Action.MOVE_IN, Rule.SPRING_FROST)
    keeper.done(alert.alert_id, now)
    assert keeper.conditions["pots"].cover is Cover.IN_PLACE
    assert keeper.kinds(now + HOUR, mild(now, 5.0, -3.0)) == []
    later = now + 2 * WHOLE_DAY
    assert keeper.kinds(later, mild(later)) == ["all_clear", "opened"]
    assert keeper.open_alerts[0].action is Action.BRING_OUT


def test_an_invitation_waits_when_frost_returns_and_is_made_again():
    keeper = covered()
    assert keeper.kinds(SUNDAY, mild(SUNDAY)) == ["opened"]
    assert keeper.kinds(SUNDAY + HOUR, mild(SUNDAY, 5.0, -2.0)) == ["cancelled"]
    assert keeper.the_alert().outcome is Outcome.CANCELLED
    assert keeper.kinds(SUNDAY + 2 * HOUR, mild(SUNDAY, 5.0, -2.0)) == []
    later = SUNDAY + 3 * WHOLE_DAY
    assert keeper.kinds(later, mild(later)) == ["opened"]


def test_probabilities_between_closing_and_opening_change_nothing():
    settings = RuleSettings(horizon=timedelta(hours=120), probability_open=0.5, probability_close=0.2)
    keeper = covered(rules=make_rules(uncover=settings))
    start = mild(SUNDAY)

    def ensemble(frosty, of=10):
        values = start.air_temperature.repeat(of, axis=0)
        values[:frosty, 60:62] = -2.0
        return replace(start, variables={"air_temperature": values})

    assert keeper.kinds(SUNDAY, ensemble(3)) == []
    assert keeper.kinds(SUNDAY, ensemble(2)) == ["opened"]
    assert keeper.the_alert().announced.probability == pytest.approx(0.2)
    assert keeper.kinds(SUNDAY, ensemble(4)) == []
    assert keeper.kinds(SUNDAY, ensemble(5)) == ["cancelled"]


def test_an_invitation_that_nobody_answers_lapses_and_is_not_repeated_this_season():
    keeper = covered()
    assert keeper.kinds(SUNDAY, mild(SUNDAY)) == ["opened"]
    almost = SUNDAY + timedelta(days=21) - HOUR
    assert keeper.kinds(almost, mild(almost)) == []
    assert keeper.kinds(almost + HOUR, mild(almost)) == ["expired"]
    assert keeper.the_alert().outcome is Outcome.EXPIRED
    assert keeper.kinds(almost + WHOLE_DAY, mild(almost + WHOLE_DAY)) == []


def test_a_declined_invitation_closes_and_is_not_repeated_this_season():
    keeper = covered()
    keeper.look(SUNDAY, mild(SUNDAY))
    keeper.done("figs-2026-04-26", SUNDAY, declined=True)
    assert keeper.kinds(SUNDAY + HOUR, mild(SUNDAY)) == ["closed"]
    assert keeper.kinds(SUNDAY + WHOLE_DAY, mild(SUNDAY + WHOLE_DAY)) == []


def test_last_springs_unanswered_invitation_does_not_silence_this_springs():
    keeper = covered()
    keeper.look(SUNDAY, mild(SUNDAY))
    keeper.done("figs-2026-04-26", SUNDAY, declined=True)
    keeper.look(SUNDAY + HOUR, mild(SUNDAY))
    next_spring = local("2027-04-26 09:00")
    keeper.mark("figs", local("2027-01-10 09:00"), cover=Cover.IN_PLACE)
    assert keeper.kinds(next_spring, mild(next_spring)) == ["opened"]


def test_where_the_watch_is_blind_nothing_is_called_safe_and_no_invitation_is_taken_back():
    keeper = covered()
    assert keeper.kinds(SUNDAY) == ["opened"]  # that the watch is blind
    assert [alert.rule for alert in keeper.open_alerts] == [Rule.BLIND]
    keeper = covered()
    keeper.look(SUNDAY, mild(SUNDAY))
    keeper.look(SUNDAY + HOUR)
    assert keeper.alerts["figs-2026-04-26"].is_open


def test_a_rule_switched_off_under_an_open_invitation_lets_it_lapse_and_does_not_say_that_it_was_done():
    keeper = covered()
    keeper.look(SUNDAY, mild(SUNDAY))
    keeper.garden = replace(keeper.garden, rules=make_rules(uncover=RuleSettings(enabled=False)))
    assert keeper.kinds(SUNDAY + HOUR, mild(SUNDAY)) == ["expired"]
    assert keeper.kinds(SUNDAY + HOUR, mild(SUNDAY)) == []


def test_covers_closed_again_by_hand_take_back_the_invitation_to_lift_them():
    keeper = Keeper(make_garden(FIGS))
    keeper.mark("figs", SUNDAY, cover=Cover.OPENED)
    friday = SUNDAY + 5 * WHOLE_DAY
    assert keeper.kinds(friday - HOUR, mild(friday)) == []
    assert keeper.kinds(friday, mild(friday)) == ["opened"]
    assert keeper.the_alert().action is Action.LIFT_COVER
    keeper.mark("figs", friday, cover=Cover.IN_PLACE)
    decision = keeper.look(friday + HOUR, mild(friday))
    assert [(notice.kind.value, notice.alert.action.value) for notice in decision.notices] == [
        ("cancelled", "lift_cover"),
        ("opened", "open_cover"),
    ]


def test_opened_without_a_date_is_not_lifted():
    keeper = Keeper(make_garden(FIGS), conditions={"figs": Condition(cover=Cover.OPENED)})
    assert keeper.kinds(SUNDAY, mild(SUNDAY)) == []


def test_nobody_is_invited_to_uncover_while_cold_is_told():
    odd = HardinessClass("odd", wood=0.0, roots=None, spring_limit=-6.0, provenance="assumed")
    group = replace(FIGS, hardiness_class="odd")
    garden = make_garden(group, classes={"odd": odd})
    keeper = Keeper(garden)
    keeper.mark("figs", JANUARY, cover=Cover.IN_PLACE)
    decision = keeper.look(SUNDAY, mild(SUNDAY, -4.0))
    assert [notice.alert.action for notice in decision.notices] == [Action.REINFORCE]
    later = SUNDAY + 2 * WHOLE_DAY
    assert keeper.kinds(later, mild(later)) == ["expired", "opened"]
    assert len(keeper.alerts) == 2


def test_an_opened_cover_that_is_reported_opened_once_more_waits_for_its_days_again():
    keeper = Keeper(make_garden(FIGS))
    keeper.mark("figs", SUNDAY, cover=Cover.OPENED)
    friday = SUNDAY + 5 * WHOLE_DAY
    assert keeper.kinds(friday, mild(friday)) == ["opened"]
    keeper.mark("figs", friday, cover=Cover.OPENED)
    assert keeper.kinds(friday + HOUR, mild(friday)) == ["cancelled"]
    later = friday + 5 * WHOLE_DAY
    assert keeper.kinds(later, mild(later)) == ["opened"]


def test_an_invitation_that_is_open_at_midsummer_lapses_and_is_not_said_to_be_done():
    keeper = covered(site=make_site(last_freeze=MonthDay(7, 20)))
    july = local("2026-07-21 09:00")
    assert keeper.kinds(july, mild(july)) == ["opened"]
    later = local("2026-07-24 00:00")
    assert keeper.kinds(later, mild(later)) == ["expired"]


# Seasons


def test_last_winters_wrap_is_forgotten_at_midsummer():
    keeper = covered()
    frost = nights(date(2026, 11, 20), [-13.5, 5.0, 5.0])
    assert keeper.kinds(local("2026-11-20 08:00"), frost) == ["opened"]
    assert keeper.the_alert().action is Action.WRAP
    condition = keeper.look(local("2026-11-20 08:00"), frost).conditions["figs"]
    assert condition == Condition()


def test_in_the_southern_hemisphere_the_winter_lies_in_the_middle_of_the_year():
    site = make_site(latitude=-43.5, longitude=-75.0, last_freeze=MonthDay(10, 20))
    keeper = Keeper(make_garden(FIGS, site=site))
    keeper.mark("figs", local("2026-06-10 09:00"), cover=Cover.IN_PLACE)
    july = nights(date(2026, 7, 23), [-14.0, 5.0, 5.0])
    assert keeper.kinds(local("2026-07-23 08:00"), july) == []
    assert keeper.kinds(local("2026-07-24 08:00"), july) == []
    assert keeper.look(local("2026-07-24 08:00"), july).conditions["figs"].cover is Cover.IN_PLACE
    october = local("2026-10-20 09:00")
    assert keeper.kinds(october - WHOLE_DAY, mild(october)) == []
    assert keeper.kinds(october, mild(october)) == ["opened"]
    assert keeper.the_alert().action is Action.OPEN_COVER
    january = local("2027-01-24 09:00")
    assert keeper.look(january, mild(january)).conditions["figs"].cover is Cover.OFF


def test_covers_closed_again_by_hand_are_invited_off_in_the_evaluation_that_ends_the_first_invitation():
    keeper = covered()
    assert keeper.kinds(SUNDAY, mild(SUNDAY)) == ["opened"]
    (alert,) = keeper.alerts.values()
    keeper.done(alert.alert_id, SUNDAY)
    keeper.mark("figs", SUNDAY + timedelta(minutes=10), cover=Cover.IN_PLACE)
    later = SUNDAY + timedelta(hours=1)
    assert keeper.kinds(later, mild(later)) == ["all_clear", "opened"]
    assert keeper.kinds(later, mild(later)) == []
