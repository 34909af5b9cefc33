import numpy as np

from alertd.sources.metno.hourly import filled, filled_axis, spread_amounts

HOUR = 3600


def test_instants_that_are_not_on_the_hour_stay_and_hours_between_them_are_added():
    axis = filled_axis(np.array([600, 600 + 3 * HOUR]))
    assert axis.tolist() == [600, HOUR, 2 * HOUR, 3 * HOUR, 600 + 3 * HOUR]


def test_nothing_is_added_across_more_than_six_hours():
    assert filled_axis(np.array([0, 7 * HOUR])).tolist() == [0, 7 * HOUR]


def test_values_before_the_first_and_after_the_last_are_missing():
    seconds = np.array([0, HOUR, 2 * HOUR])
    result = filled(seconds, np.array([np.nan, 4.0, np.nan]), seconds)
    assert np.array_equal(result, [np.nan, 4.0, np.nan], equal_nan=True)


def test_without_any_value_all_are_missing():
    seconds = np.array([0, HOUR])
    assert np.isnan(filled(seconds, np.full(2, np.nan), seconds)).all()


def test_the_sum_of_amounts_is_kept():
    seconds = np.array([0, HOUR, 7 * HOUR, 13 * HOUR])
    amounts, lengths = np.array([1.0, 6.0, 3.0, 9.0]), np.array([1, 6, 6, 6]) * HOUR
    spread = spread_amounts(seconds, amounts, lengths, filled_axis(seconds))
    assert np.isnan(spread[0])
    assert np.nansum(spread) == 10.0  # what falls after the last instant is on no axis


def test_an_amount_that_does_not_reach_the_next_time_says_nothing_there():
    seconds = np.array([0, 6 * HOUR])
    spread = spread_amounts(seconds, np.array([1.0, 1.0]), np.array([HOUR, HOUR]), filled_axis(seconds))
    assert spread[1] == 1.0
    assert np.isnan(spread[2:]).all()


def test_an_instant_off_the_hour_gets_its_share_of_an_amount():
    seconds = np.array([0, 5 * HOUR + HOUR // 2])
    spread = spread_amounts(seconds, np.array([6.0, 0.0]), np.array([6, 6]) * HOUR, filled_axis(seconds))
    assert spread[1:].tolist() == [1.0, 1.0, 1.0, 1.0, 1.0, 0.5]
