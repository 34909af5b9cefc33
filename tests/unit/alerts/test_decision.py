import itertools
from dataclasses import replace
from datetime import date, timedelta

from alertd.alerts import SITE, State, next_call
from alertd.risk import RuleSettings
from alertd.site import Condition, Cover
from tests.fakes.garden import FIGS, POTS, Keeper, local, make_garden, make_rules, nights

DAY = date(2026, 1, 20)
TUESDAY = local("2026-01-20 08:00")
HOUR = timedelta(hours=1)


def weather(*lows):
    return nights(DAY, [*lows, *[0.0] * (9 - len(lows))])


def test_an_alert_of_a_group_that_left_the_configuration_is_cancelled_once():
    keeper = Keeper(make_garden(FIGS, POTS))
    keeper.look(TUESDAY, weather(0.0, -14.0))
    keeper.garden = make_garden(FIGS)
    decision = keeper.look(TUESDAY + HOUR, weather(0.0, -14.0))
    assert [(notice.kind.value, notice.alert.alert_id) for notice in decision.notices] == [
        ("cancelled", "pots-2026-01-21")
    ]
    assert keeper.kinds(TUESDAY + HOUR, weather(0.0, -14.0)) == []


def test_a_blind_watch_is_no_group_that_left():
    keeper = Keeper(make_garden(FIGS))
    keeper.look(TUESDAY)
    assert keeper.the_alert().group == SITE
    assert keeper.kinds(TUESDAY + HOUR) == []


def test_a_group_without_a_report_is_bare_and_dormant():
    decision = Keeper(make_garden(FIGS)).look(TUESDAY, weather(0.0))
    assert decision.conditions == {"figs": Condition()}


def test_the_next_call_is_the_next_reminder_or_final_call_of_an_open_alert():
    keeper = Keeper(make_garden(FIGS, POTS))
    assert next_call(keeper.garden, keeper.state, TUESDAY) is None
    keeper.look(TUESDAY, weather(-14.0))
    calls, now = [], TUESDAY
    while (call := next_call(keeper.garden, keeper.state, now)) is not None:
        calls.append(call)
        now = call
    assert calls == [local(f"2026-01-20 {text}") for text in ("11:40", "13:40", "14:00", "16:00")]
    ended = tuple(replace(alert, state=alert.state.ENDED) for alert in keeper.state.alerts)
    assert next_call(keeper.garden, State({}, ended), TUESDAY) is None


def test_a_matter_without_a_latest_start_calls_nobody():
    keeper = Keeper(make_garden())
    keeper.look(TUESDAY)
    assert next_call(keeper.garden, keeper.state, TUESDAY) is None


def test_a_rule_that_looks_far_ahead_sees_far_ahead():
    rules = make_rules(wood=RuleSettings(horizon=timedelta(hours=180)))
    night = weather(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, -14.0)
    keeper = Keeper(make_garden(rules=rules))
    assert keeper.kinds(TUESDAY, night) == ["opened"]
    assert keeper.the_alert().announced.end == local("2026-01-27 06:00")


def test_changed_alerts_are_each_told_of_once_as_they_stand_now():
    keeper = Keeper(make_garden(FIGS, POTS))
    keeper.look(TUESDAY, weather(0.0, 0.0, -13.0))
    keeper.mark("figs", TUESDAY, cover=Cover.IN_PLACE)
    decision = keeper.look(TUESDAY + HOUR, weather(0.0, 0.0, -13.0, -13.0))
    assert {alert.alert_id: alert.state.value for alert in decision.changed_alerts} == {
        "figs-2026-01-22": "done",
        "pots-2026-01-22": "prepare",
    }
    assert {alert.end for alert in decision.changed_alerts} == {local("2026-01-24 06:00")}
    assert not decision.notices


def test_one_crew_is_told_to_begin_early_enough_for_all_its_groups():
    rows = [replace(FIGS, group_id=f"row-{number}", name=f"row {number}") for number in range(3)]
    keeper = Keeper(make_garden(*rows))
    decision = keeper.look(TUESDAY, weather(-14.0))
    tasks = [notice.task for notice in decision.notices]
    starts = [task.start_by for task in tasks]
    # Three rows of 2 h 15 min each before nightfall at about 17:05: one after the other, in the order of the file.
    assert starts == [local(f"2026-01-20 {text}") for text in ("10:00", "12:20", "14:40")]
    for earlier, later in itertools.pairwise(tasks):
        assert earlier.start_by + earlier.effort <= later.start_by


def test_work_that_is_done_gives_its_hours_back_to_the_crew():
    keeper = Keeper(make_garden(FIGS, POTS))
    keeper.look(TUESDAY, weather(0.0, 0.0, -14.0))
    first = keeper.alerts["figs-2026-01-22"].announced.start_by
    keeper.done("pots-2026-01-22", TUESDAY)
    decision = keeper.look(local("2026-01-21 17:10"), weather(0.0, 0.0, -14.0))
    (notice,) = decision.notices
    assert notice.kind.value == "act"
    assert notice.alert.announced.start_by > first


def test_a_decision_holds_every_open_alert_as_it_stands_whether_or_not_there_is_news():
    keeper = Keeper(make_garden(FIGS, POTS))
    first = keeper.look(TUESDAY, weather(0.0, -14.0))
    later = keeper.look(TUESDAY + HOUR, weather(0.0, -13.5))
    assert later.notices == ()
    for decision in (first, later):
        assert [each.alert.alert_id for each in decision.standings] == ["figs-2026-01-21", "pots-2026-01-21"]
        assert decision.ended == ()
    figs, _ = later.standings
    assert (figs.spell.minimum, figs.alert.announced.minimum) == (-13.5, -14.0)
    assert figs.task.start_by == figs.alert.announced.start_by
    assert figs.threshold.rule.value == "wood"


def test_a_decision_holds_what_has_ended_this_season():
    keeper = Keeper(make_garden(FIGS))
    keeper.look(TUESDAY, weather(0.0, -14.0))
    for hours in (1, 2):
        decision = keeper.look(TUESDAY + hours * HOUR, weather(0.0))
        assert decision.standings == ()
        assert [each.alert_id for each in decision.ended] == ["figs-2026-01-21"]


def test_matters_without_cold_stand_in_a_decision_too():
    keeper = Keeper(make_garden(FIGS))
    (blind,) = keeper.look(TUESDAY).standings
    assert (blind.alert.group, blind.task, blind.threshold, blind.spell) == (SITE, None, None, None)
    may = local("2026-05-01 10:00")
    keeper = Keeper(make_garden(FIGS))
    keeper.mark("figs", may, cover=Cover.IN_PLACE)
    (invitation,) = keeper.look(may, nights(may.date(), [8.0] * 9, by_day=15.0)).standings
    assert (invitation.task.start_by, invitation.spell) == (None, None)
