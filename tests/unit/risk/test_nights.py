"""The nights ahead, one by one."""

from datetime import date, timedelta

import numpy as np
import pytest

from alertd.core import from_datetime64
from alertd.risk import Assessment, assess, cold_thresholds, nights_ahead
from alertd.site import Condition
from alertd.thermal import Model
from alertd.weather import Series
from tests.fakes.felt import felt_with, threshold_with
from tests.fakes.garden import POTS, local, make_garden, nights

GARDEN = make_garden(POTS)
MONDAY = date(2026, 1, 19)
GAP = timedelta(hours=6)


def assessed(series, now):
    of_class = GARDEN.classes[POTS.hardiness_class]
    thresholds = cold_thresholds(POTS, Condition(), of_class, GARDEN.rules, growing=False)
    return [assess("pots", each, series, now) for each in thresholds]


def seen(series, now, most=5):
    return nights_ahead(GARDEN.site, series, assessed(series, now), now, most=most, gap=GAP)


def test_each_night_has_its_lowest_and_whom_that_hurts():
    first, second, third = seen(nights(MONDAY, [-3.0, -10.0, 1.0]), local("2026-01-19 12:00"), most=3)
    assert (first.evening, first.minimum, first.threats) == (MONDAY, -3.0, (("pots", 0.0),))
    assert (second.evening, second.minimum, second.threats) == (date(2026, 1, 20), -10.0, (("pots", 1.0),))
    assert third.minimum == third.minimum_low == third.minimum_high == 1.0


def test_the_share_of_realizations_is_the_probability_and_the_lowest_group_comes_first():
    series = nights(MONDAY, [-5.0])
    members = np.vstack([series.air_temperature - spread for spread in (0.0, 2.0, 4.0, 5.0, 8.0)])
    (night,) = seen(Series(series.times, {"air_temperature": members}), local("2026-01-19 12:00"), most=1)
    assert night.minimum == -9.0
    assert night.minimum_low == pytest.approx(-12.4)
    assert night.threats == (("pots", 0.4),)


def test_a_member_without_values_counts_for_nothing():
    series = nights(MONDAY, [-10.0])
    members = np.vstack([series.air_temperature, series.air_temperature, np.full_like(series.air_temperature, np.nan)])
    (night,) = seen(Series(series.times, {"air_temperature": members}), local("2026-01-19 12:00"), most=1)
    assert night.threats == (("pots", 1.0),)


def test_nights_end_where_the_forecast_does():
    weather = nights(MONDAY, [-3.0, -4.0])
    assert [each.minimum for each in seen(weather, local("2026-01-19 12:00"))] == [-3.0, -4.0]


def test_a_hole_in_the_forecast_is_not_bridged():
    weather = nights(MONDAY, [-3.0, -4.0, -5.0])
    values = weather.air_temperature.copy()
    values[0, 46:56] = np.nan
    assert [
        each.evening for each in seen(Series(weather.times, {"air_temperature": values}), local("2026-01-19 12:00"))
    ] == [MONDAY]


@pytest.mark.parametrize(("clock", "evening", "low"), [("05:59", 19, -3.0), ("06:00", 20, -4.0), ("23:30", 20, -4.0)])
def test_until_six_the_night_that_is_on_is_the_first(clock, evening, low):
    night = seen(nights(MONDAY, [-3.0, -4.0, -5.0]), local(f"2026-01-20 {clock}"))[0]
    assert (night.evening.day, night.minimum) == (evening, low)


def with_roots(series, now, temperature):
    """Return the assessments, and one more by a model that has the root balls at some temperatures."""
    felt = felt_with(Model.ROOT_BALL, from_datetime64(series.times[0]), temperature, spread=2.0)
    return [*assessed(series, now), Assessment("pots", threshold_with(felt), ())]


def test_a_model_counts_with_all_its_draws():
    series, noon = nights(MONDAY, [-3.0]), local("2026-01-19 12:00")
    judged = with_roots(series, noon, np.full(series.n_times, -5.5))
    (night,) = nights_ahead(GARDEN.site, series, judged, noon, most=1, gap=GAP)
    assert night.threats == (("pots", 0.6),)


def test_a_model_that_knows_nothing_of_a_night_leaves_it_to_the_air():
    series, noon = nights(MONDAY, [-3.0]), local("2026-01-19 12:00")
    values = np.full(series.n_times, np.nan)
    values[0] = -9.0
    judged = with_roots(series, noon, values)
    (night,) = nights_ahead(GARDEN.site, series, judged, noon, most=1, gap=GAP)
    assert night.threats == (("pots", 0.0),)
