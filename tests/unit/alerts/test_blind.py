from datetime import date, timedelta

import pytest

from alertd.alerts import SITE, AlertState, Outcome, Refusal, outlook
from alertd.core import MessageType, ResponseType, Severity, Urgency
from alertd.plan import Action
from alertd.risk import Rule
from tests.fakes.garden import FIGS, POTS, Keeper, local, make_forecast, make_garden, make_series, nights

DAY = date(2026, 1, 20)
TUESDAY = local("2026-01-20 08:00")
HOUR = timedelta(hours=1)


def weather(*lows):
    return nights(DAY, [*lows, *[0.0] * (8 - len(lows))])


def test_no_forecast_is_told_once_and_its_end_too():
    keeper = Keeper(make_garden(FIGS, POTS))
    assert keeper.kinds(TUESDAY) == ["opened"]
    alert = keeper.the_alert()
    assert (alert.alert_id, alert.group, alert.action, alert.rule) == (
        "site-2026-01-20",
        SITE,
        Action.LOOK_YOURSELF,
        Rule.BLIND,
    )
    told = alert.announced
    assert told.response_type is ResponseType.ASSESS
    assert told.severity is Severity.UNKNOWN
    assert told.urgency is Urgency.FUTURE
    assert told.start_by is told.onset is told.probability is None
    assert keeper.kinds(TUESDAY) == []
    assert keeper.kinds(TUESDAY + 40 * HOUR) == []
    assert keeper.kinds(TUESDAY + 41 * HOUR, weather(0.0)) == ["cancelled"]
    ended = keeper.the_alert()
    assert ended.outcome is Outcome.CANCELLED
    assert ended.announced.message_type is MessageType.CANCEL
    assert keeper.kinds(TUESDAY + 42 * HOUR, weather(0.0)) == []


def test_blind_again_on_the_same_day_is_another_matter():
    keeper = Keeper(make_garden())
    told = [keeper.kinds(TUESDAY + place * HOUR, *seen) for place, seen in enumerate([(), (weather(0.0),), ()])]
    assert told == [["opened"], ["cancelled"], ["opened"]]
    assert list(keeper.alerts) == ["site-2026-01-20", "site-2026-01-20-2"]


def test_a_forecast_is_stale_beyond_twelve_hours_by_its_own_reference_time():
    keeper = Keeper(make_garden())
    forecast = make_forecast(TUESDAY, weather(0.0))
    assert keeper.kinds(TUESDAY + 12 * HOUR, forecast) == []
    assert keeper.kinds(TUESDAY + 12 * HOUR + timedelta(seconds=1), forecast) == ["opened"]


def test_a_blind_watch_judges_nothing():
    decision = Keeper(make_garden()).look(TUESDAY)
    assert decision.outlook.series is None
    assert not decision.assessments


def test_an_alert_that_stands_in_prepare_goes_on_from_what_was_told_while_the_watch_is_blind():
    keeper = Keeper(make_garden())
    assert keeper.kinds(TUESDAY, weather(0.0, -14.0)) == ["opened"]
    now, told = TUESDAY, []
    while now < local("2026-01-22 12:00"):
        now += timedelta(minutes=10)
        decision = keeper.look(now)
        told += [(notice.kind.value, notice.alert.rule.value, now) for notice in decision.notices]
    assert told == [
        ("opened", "blind", TUESDAY + timedelta(minutes=10)),
        ("act", "wood", local("2026-01-20 17:10")),
        ("reminder", "wood", local("2026-01-21 12:50")),
        ("final_call", "wood", local("2026-01-21 14:50")),
        ("expired", "wood", local("2026-01-22 07:00")),
    ]
    alert = keeper.alerts["figs-2026-01-21"]
    assert [told.minimum for told in alert.history] == [-14.0] * 5
    assert alert.history[1].response_type is ResponseType.EXECUTE
    assert alert.history[1].start_by == local("2026-01-21 14:50")


def test_sight_again_finds_the_alert_as_it_stands():
    keeper = Keeper(make_garden())
    keeper.look(TUESDAY, weather(0.0, -14.0))
    keeper.look(TUESDAY + HOUR)
    assert keeper.kinds(TUESDAY + 2 * HOUR, weather(0.0, -14.0)) == ["cancelled"]
    assert keeper.alerts["figs-2026-01-21"].state is AlertState.PREPARE


def test_a_done_alert_is_cleared_after_its_spell_even_if_the_watch_stays_blind():
    keeper = Keeper(make_garden())
    keeper.look(TUESDAY, weather(-14.0))
    keeper.done("figs-2026-01-20", TUESDAY)
    assert keeper.kinds(local("2026-01-21 06:00")) == ["opened"]
    assert keeper.kinds(local("2026-01-21 06:59")) == [], "what does not press waits for the morning"
    assert keeper.kinds(local("2026-01-21 07:00")) == ["all_clear"]


# What is used and what is refused


def see(forecasts, *, now=TUESDAY, failures=(), **changes):
    return outlook(now, make_garden(**changes), forecasts, failures, timedelta(hours=120))


def test_one_usable_source_is_enough_and_the_others_are_named_with_their_reason():
    old = make_forecast(TUESDAY - 13.5 * HOUR, weather(0.0), "old")
    wrong_clock = make_forecast(TUESDAY + 13 * HOUR, weather(0.0), "ahead")
    short = make_forecast(TUESDAY, weather(0.0).window(TUESDAY, TUESDAY + 30 * HOUR), "short")
    good = make_forecast(TUESDAY, weather(0.0), "good")
    view = see([old, wrong_clock, short, good], failures=[Refusal("gone", "no answer")])
    assert view.used == (good,)
    assert {each.source: each.reason for each in view.refused} == {
        "gone": "no answer",
        "old": "stale: made 13.5 h ago, allowed are 12 h",
        "ahead": "made 13 h in the future: a clock is wrong",
        "short": "incomplete: 19 h without values within the next 48 h",
    }
    assert view.merged is not None
    assert view.merged.disagreement is None


def test_a_forecast_made_in_the_near_future_by_a_clock_that_is_a_little_fast_is_used():
    assert see([make_forecast(TUESDAY + HOUR, weather(0.0))]).series is not None


@pytest.mark.parametrize(("missing", "is_blind"), [(5, False), (6, True)])
def test_a_gap_in_which_a_night_could_hide_makes_a_forecast_unusable(missing, is_blind):
    values = weather(0.0).air_temperature.copy()
    values[0, 24 : 24 + missing] = float("nan")
    forecast = make_forecast(TUESDAY, make_series(local("2026-01-20 00:00"), values))
    assert (see([forecast]).series is None) == is_blind


def test_a_single_forecast_is_dressed_with_its_error_unless_forecasts_are_exact():
    single = make_forecast(TUESDAY, weather(0.0))
    exact, dressed = see([single]).series, see([single], is_exact=False).series
    assert exact is not None
    assert dressed is not None
    assert exact.n_realizations == 1
    assert dressed.n_realizations > 10
    ensemble = make_forecast(TUESDAY, make_series(local("2026-01-20 00:00"), weather(0.0).air_temperature.repeat(3, 0)))
    seen = see([ensemble], is_exact=False).series
    assert seen is not None
    assert seen.n_realizations == 3


def test_only_what_lies_ahead_and_within_reach_is_seen():
    series = see([make_forecast(TUESDAY, weather(0.0))]).series
    assert series is not None
    assert series.n_times == 120
    assert series.times[0] == make_series(TUESDAY, [0.0]).times[0]


def test_sources_that_disagree_are_measured():
    two = [make_forecast(TUESDAY, weather(-5.0), "one"), make_forecast(TUESDAY, weather(-8.0), "two")]
    view = see(two)
    assert view.merged is not None
    assert view.merged.disagreement == pytest.approx(3.0)


def test_no_source_at_all_is_blind():
    view = see([])
    assert view.merged is None
    assert view.series is None
