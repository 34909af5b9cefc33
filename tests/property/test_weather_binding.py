from datetime import UTC, datetime, timedelta

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from alertd.weather import PeriodMinimum, bind_minima, unbound_minima
from tests.fakes.weather import hourly_series

START = datetime(2026, 1, 23, tzinfo=UTC)
HOURS = 40
VALUE = st.one_of(st.just(np.nan), st.sampled_from([0.0, -3.5]), st.floats(-40.0, 40.0))


@st.composite
def series_of_hours(draw):
    return hourly_series(START, draw(arrays.arrays(np.float64, (draw(st.integers(1, 3)), HOURS), elements=VALUE)))


@st.composite
def periods(draw):
    start = START + timedelta(minutes=draw(st.integers(-600, 60 * HOURS)))
    length = timedelta(minutes=draw(st.sampled_from([60, 360, 720, 840, 1440, 1441])))
    return PeriodMinimum(start, start + length, draw(st.floats(-60.0, 40.0)))


def inside(series, period):
    edges = [np.datetime64(each.replace(tzinfo=None), "s") for each in (period.start, period.end)]
    return (series.times > edges[0]) & (series.times <= edges[1])


@given(series_of_hours(), st.lists(periods(), max_size=6))
def test_no_value_is_raised_made_up_or_taken_away(series, minima):
    bound = bind_minima(series, minima).air_temperature
    np.testing.assert_array_equal(np.isnan(bound), np.isnan(series.air_temperature))
    present = ~np.isnan(bound)
    assert np.all(bound[present] <= series.air_temperature[present])


@given(series_of_hours(), periods())
def test_the_lowest_of_a_period_is_the_minimum_where_it_was_above_it(series, period):
    bound = bind_minima(series, [period])
    if unbound_minima(series, [period]):
        assert bound is series
        return
    place = inside(series, period)
    for before, after in zip(series.air_temperature[:, place], bound.air_temperature[:, place], strict=True):
        if not np.isnan(before).all():
            assert np.nanmin(after) == min(np.nanmin(before), period.air_temperature)
            assert np.nanmax(after) == np.nanmax(before) or np.nanmin(before) == np.nanmax(before)


@given(series_of_hours(), st.lists(periods(), max_size=6))
def test_hours_outside_all_periods_are_untouched(series, minima):
    others = ~np.any([inside(series, period) for period in minima] or [np.zeros(HOURS, bool)], axis=0)
    bound = bind_minima(series, minima)
    np.testing.assert_array_equal(bound.air_temperature[:, others], series.air_temperature[:, others])


@given(series_of_hours(), st.lists(periods(), max_size=6))
def test_binding_twice_changes_nothing_more(series, minima):
    once = bind_minima(series, minima)
    assert bind_minima(once, minima) is once


@given(series_of_hours(), periods())
def test_the_order_of_the_hours_is_kept(series, period):
    place = inside(series, period)
    bound = bind_minima(series, [period]).air_temperature[:, place]
    for before, after in zip(series.air_temperature[:, place], bound, strict=True):
        order = np.argsort(before[~np.isnan(before)], kind="stable")
        assert np.all(np.diff(after[~np.isnan(after)][order]) >= -1e-9)
