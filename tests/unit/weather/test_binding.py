from datetime import UTC, datetime, timedelta

import numpy as np

from alertd.weather import PeriodMinimum, bind_minima, unbound_minima
from tests.fakes.weather import hourly_series

START = datetime(2026, 1, 23, tzinfo=UTC)


def minimum(first: float, last: float, temperature: float) -> PeriodMinimum:
    return PeriodMinimum(START + timedelta(hours=first), START + timedelta(hours=last), temperature)


def test_the_coldest_hour_gets_the_whole_deficit_and_the_warmest_none():
    bound = bind_minima(hourly_series(START, [9.0, 0.0, -2.0, -4.0, 9.0]), [minimum(0, 3, -6.0)])
    assert bound.air_temperature.tolist() == [[9.0, 0.0, -3.0, -6.0, 9.0]]


def test_the_start_of_a_period_is_outside_and_its_end_inside():
    bound = bind_minima(hourly_series(START, [-9.0, 0.0, 1.0, -9.0]), [minimum(0, 2, -4.0)])
    assert bound.air_temperature.tolist() == [[-9.0, -4.0, 1.0, -9.0]]


def test_a_flat_period_is_lowered_whole():
    bound = bind_minima(hourly_series(START, [5.0, 2.0, 2.0]), [minimum(0, 2, -1.0)])
    assert bound.air_temperature.tolist() == [[5.0, -1.0, -1.0]]


def test_nothing_is_raised_and_an_unchanged_series_is_the_same():
    series = hourly_series(START, [5.0, -2.0, -3.0])
    assert bind_minima(series, [minimum(0, 2, -3.0), minimum(0, 2, 4.0)]) is series
    assert bind_minima(series, []) is series


def test_each_realization_is_bound_by_itself_and_missing_stays_missing():
    series = hourly_series(START, [[9.0, 0.0, 2.0], [9.0, -8.0, 2.0], [9.0, 4.0, np.nan], [np.nan] * 3])
    bound = bind_minima(series, [minimum(0, 2, -2.0)])
    expected = [[9.0, -2.0, 2.0], [9.0, -8.0, 2.0], [9.0, -2.0, np.nan], [np.nan] * 3]
    np.testing.assert_array_equal(bound.air_temperature, expected)


def test_a_period_of_which_less_than_half_is_shown_is_left_alone_and_named():
    series = hourly_series(START, [5.0, 4.0, 3.0])
    half, less, outside = minimum(0, 4, 0.0), minimum(0, 5, -9.0), minimum(10, 16, -9.0)
    assert unbound_minima(series, [less, half, outside]) == (less, outside)
    assert bind_minima(series, [less, half, outside]).air_temperature.tolist() == [[5.0, 4.0, 0.0]]


def test_values_within_one_hour_count_once():
    series = hourly_series(START, [5.0, 4.0, 3.0])
    dense = type(series)(
        series.times[0] + np.arange(4) * np.timedelta64(900, "s"), {"air_temperature": np.ones((1, 4))}
    )
    assert len(unbound_minima(dense, [minimum(0, 3, -1.0)])) == 1
    assert unbound_minima(dense, [minimum(0, 2, -1.0)]) == ()


def test_an_hour_of_a_period_ends_with_its_last_minute():
    series = hourly_series(START, [5.0, 4.0])
    halves = type(series)(series.times[0] + np.array([1800, 3600]), {"air_temperature": np.ones((1, 2))})
    assert len(unbound_minima(halves, [minimum(0, 3, -1.0)])) == 1


def test_missing_values_do_not_cover_a_period():
    series = hourly_series(START, [5.0, np.nan, np.nan, np.nan, 1.0])
    assert len(unbound_minima(series, [minimum(0, 4, -1.0)])) == 1


def test_the_dew_point_follows_only_where_it_would_lie_above():
    series = hourly_series(START, [5.0, 2.0, 0.0, 9.0], dew_point_temperature=[6.0, -8.0, -1.0, np.nan])
    bound = bind_minima(series, [minimum(0, 3, -4.0)])
    np.testing.assert_array_equal(bound.variables["dew_point_temperature"], [[6.0, -8.0, -4.0, np.nan]])


def test_overlapping_periods_are_applied_in_order_of_their_ends():
    series = hourly_series(START, [9.0, 4.0, 2.0, 1.0])
    minima = [minimum(0, 3, -4.0), minimum(0, 2, 0.0)]
    assert bind_minima(series, minima).air_temperature.tolist() == [[9.0, 4.0, -4.0, -2.0]]
    assert bind_minima(series, minima[::-1]).air_temperature.tolist() == [[9.0, 4.0, -4.0, -2.0]]
