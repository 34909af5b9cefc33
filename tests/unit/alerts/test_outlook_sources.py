"""What becomes of forecasts of several services before anything is judged on them."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from alertd.alerts import Garden, Refusal, outlook
from alertd.core import TemperatureUnit
from alertd.hardiness import BUILT_IN_CLASSES
from alertd.risk import Rules, RuleSettings
from alertd.site import Growing, MonthDay, Protection, Site, TreeGroup, WorkHours
from alertd.weather import Forecast, PeriodMinimum, Series, default_error
from tests.fakes.weather import hourly_series

NOW = datetime(2026, 1, 23, tzinfo=UTC)
HOUR = timedelta(hours=1)
REACH = timedelta(hours=120)


def garden(*, is_exact: bool) -> Garden:
    site = Site("Hillside", 40.0, -75.0, 60.0, ZoneInfo("America/New_York"), "keeper@example.org", MonthDay(4, 25))
    figs = TreeGroup("figs", "the figs", Growing.IN_GROUND, 3, "figs", "fig", Protection.WRAP)
    rule = RuleSettings()
    rules = Rules(rule, rule, rule, rule, rule, container_threshold=-9.4, credits={"wrap": 2.8, "cluster": 1.0})
    return Garden(
        site,
        TemperatureUnit.CELSIUS,
        WorkHours(),
        (figs,),
        {each.name: each for each in BUILT_IN_CLASSES},
        rules,
        stale_after=timedelta(hours=12),
        is_exact=is_exact,
    )


def forecast(source="north", values=None, made=NOW, start=NOW, **changes) -> Forecast:
    series = hourly_series(start, np.full(72, 5.0) if values is None else values)
    return Forecast(source, made, NOW, series, **changes)


def look(*forecasts, failures=(), is_exact=True, observed=None):
    return outlook(NOW, garden(is_exact=is_exact), forecasts, failures, REACH, observed)


def test_a_stored_answer_is_used_while_it_is_fresh_and_its_problem_is_told():
    view = look(forecast(made=NOW - 11 * HOUR, problem="the service answers 503"))
    assert [each.source for each in view.used] == ["north"]
    assert view.refused == (Refusal("north", "the service answers 503", is_used=True),)


def test_a_stored_answer_that_is_stale_is_refused_with_both_reasons():
    view = look(forecast(made=NOW - 13 * HOUR, problem="the service answers 503"))
    assert view.series is None
    reason = "stale: made 13 h ago, allowed are 12 h (no newer one: the service answers 503)"
    assert view.refused == (Refusal("north", reason),)


def test_a_failure_of_a_source_whose_older_answer_is_used_says_so():
    failures = [Refusal("north", "no answer"), Refusal("south", "no answer")]
    assert look(forecast("north"), failures=failures).refused == (
        Refusal("north", "no answer", is_used=True),
        Refusal("south", "no answer", is_used=False),
    )


@pytest.mark.parametrize(("ahead", "is_used"), [(timedelta(minutes=60), True), (timedelta(minutes=61), False)])
def test_a_forecast_from_more_than_an_hour_ahead_is_refused(ahead, is_used):
    view = look(forecast(made=NOW + ahead))
    assert bool(view.used) is is_used
    assert [each.reason for each in view.refused] == ([] if is_used else ["made 1 h in the future: a clock is wrong"])


def test_a_forecast_may_end_before_the_reach():
    view = look(forecast(values=np.full(60, 5.0)))
    assert view.series.n_times == 60
    assert view.refused == ()


def test_a_forecast_that_does_not_show_the_next_nights_is_refused():
    (refusal,) = look(forecast(values=np.full(30, 5.0))).refused
    assert refusal == Refusal("north", "incomplete: 19 h without values within the next 48 h")


def test_minima_bind_before_the_past_is_cut_off():
    values = [5.0, 4.0, 3.0, 2.0] + [9.0] * 60
    minimum = PeriodMinimum(NOW - 3 * HOUR, NOW + 2 * HOUR, -1.0)
    view = look(forecast(values=values, start=NOW - 2 * HOUR, minima=(minimum,)))
    assert view.series.times[0] == np.datetime64("2026-01-23T00:00:00")
    bound = view.series.air_temperature[0]
    assert bound[2:4].tolist() == [9.0, 9.0]
    assert bound[0] == pytest.approx(3.0 - 3.0 * 6.0 / 7.0)
    assert bound[1] == -1.0
    assert view.unbound == ()


def test_a_six_hourly_forecast_is_filled_and_bound_by_its_minima():
    times = np.datetime64(NOW.replace(tzinfo=None), "s") + np.arange(13) * np.timedelta64(6, "h")
    series = Series(times, {"air_temperature": np.full((1, 13), 4.0)})
    minimum = PeriodMinimum(NOW + 6 * HOUR, NOW + 12 * HOUR, 1.0)
    view = look(Forecast("coarse", NOW, NOW, series, minima=(minimum,)))
    assert view.series.n_times == 73
    assert view.series.air_temperature[0, 6:14].tolist() == [4.0, *[1.0] * 6, 4.0]


def test_minima_within_reach_that_bind_nothing_are_named():
    ended, ahead, beyond = (
        PeriodMinimum(NOW + first * HOUR, NOW + (first + 12) * HOUR, -9.0) for first in (-12, 70, 120)
    )
    view = look(forecast(minima=(ended, ahead, beyond)))
    assert view.unbound == (("north", ahead),)


def test_a_bound_forecast_is_dressed_with_its_own_error_around_the_minimum():
    values = np.append([5.0, 0.0], np.full(70, 5.0))
    error = np.full(72, 4.0)
    minimum = PeriodMinimum(NOW, NOW + 2 * HOUR, -2.0)
    dressed = look(forecast(values=values, error=error, minima=(minimum,)), is_exact=False).series
    assert dressed.n_realizations == 51
    assert np.median(dressed.air_temperature[:, 1]) == -2.0
    assert dressed.air_temperature.std(axis=0)[1] == pytest.approx(4.0, rel=0.05)


def test_the_error_follows_the_window():
    error = np.append([np.nan] * 5, np.full(67, 4.0))
    dressed = look(forecast(start=NOW - 4 * HOUR, error=error), is_exact=False).series
    spread = dressed.air_temperature.std(axis=0)
    assert spread[0] == pytest.approx(float(default_error(0)), rel=0.05)
    assert spread[1] == pytest.approx(4.0, rel=0.05)


def test_sources_count_by_their_weights_and_say_what_each_says():
    view = look(forecast("north", np.full(72, -4.0), weight=3.0), forecast("south", np.full(72, 2.0)))
    assert np.count_nonzero(view.series.air_temperature[:, 0] == -4.0) == 3 * view.series.n_realizations / 4
    assert view.merged.medians == (("north", -4.0), ("south", 2.0))


def test_observations_are_handed_through_and_part_of_no_forecast():
    observed = hourly_series(NOW - 3 * HOUR, [-30.0, -30.0, -30.0])
    view = look(forecast(), observed=observed)
    assert view.observed is observed
    assert view.series.air_temperature.min() == 5.0
    assert look(forecast()).observed is None
    assert look(observed=observed).series is None
