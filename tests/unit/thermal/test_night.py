import numpy as np
import pytest

from alertd.thermal.night import (
    NIGHT_PARAMETERS,
    cloud_or_assumed,
    cooling_trend,
    dew_point_or_assumed,
    fit_minimum_regression,
)

HOURS = np.arange(72)


def days_with_range(daily_range):
    return -5.0 + daily_range / 2.0 * np.cos(2.0 * np.pi * (HOURS - 14) / 24.0)[None, :]


def test_a_missing_dew_point_is_the_coming_minimum():
    air = days_with_range(10.0)
    assumed, is_assumed = dew_point_or_assumed(air, None)
    assert is_assumed.all()
    assert assumed == pytest.approx(-10.0, abs=1e-9)
    dry, _ = dew_point_or_assumed(air, None, dew_point_below_minimum=2.0)
    assert dry == pytest.approx(assumed - 2.0)
    damp, _ = dew_point_or_assumed(air, None, dew_point_below_minimum=-2.0)
    assert (damp <= air).all()


def test_only_what_is_missing_is_assumed():
    air = days_with_range(10.0)
    known = np.where(HOURS < 5, -7.0, np.nan)[None, :]
    dew, is_assumed = dew_point_or_assumed(air, known)
    assert (dew[0, :5] == -7.0).all()
    assert is_assumed.tolist() == [[False] * 5 + [True] * 67]
    cloud, is_assumed = cloud_or_assumed(air, np.where(HOURS < 5, 0.9, np.nan)[None, :])
    assert (cloud[0, :5] == 0.9).all()
    assert is_assumed.tolist() == [[False] * 5 + [True] * 67]


def test_a_colder_night_ahead_is_seen_a_day_before():
    air = np.where(HOURS == 50, -20.0, 0.0)[None, :]
    dew, _ = dew_point_or_assumed(air, None)
    assert (dew[0, :27] == 0.0).all()
    assert (dew[0, 27:51] == -20.0).all()
    assert (dew[0, 51:] == -20.0).all()  # the last day of a series is looked at as a whole


@pytest.mark.parametrize(("daily_range", "cloud"), [(24.0, 0.0), (16.0, 0.236), (5.0, 0.840), (0.0, 1.0)])
def test_the_less_a_day_ranges_the_cloudier_it_is_taken(daily_range, cloud):
    assumed, _ = cloud_or_assumed(days_with_range(daily_range), None)
    assert assumed == pytest.approx(cloud, abs=2e-3)


def test_the_error_of_a_cloud_keeps_it_between_nothing_and_all():
    for error in (-1.0, -0.3, 0.3, 1.0):
        assumed, _ = cloud_or_assumed(days_with_range(10.0), None, cloud_error=error)
        assert ((assumed >= 0.0) & (assumed <= 1.0)).all()
    assert {parameter.name for parameter in NIGHT_PARAMETERS} == {"dew_point_below_minimum", "cloud_error"}


def test_a_hole_in_the_air_temperature_is_looked_over_and_stays_a_hole_if_it_is_a_day():
    air = days_with_range(10.0)
    air[0, 20:22] = np.nan
    dew, _ = dew_point_or_assumed(air, None)
    assert np.isnan(dew[0]).sum() == 2
    cloud, _ = cloud_or_assumed(air, None)
    assert not np.isnan(cloud).any()
    nothing = np.full((1, 30), np.nan)
    assert np.isnan(cloud_or_assumed(nothing, None)[0]).all()
    assert np.isnan(dew_point_or_assumed(nothing, None)[0]).all()


def test_a_series_shorter_than_a_day_is_looked_at_as_a_whole():
    dew, _ = dew_point_or_assumed(np.array([[3.0, -1.0, 2.0]]), None)
    assert (dew == -1.0).all()


def test_before_and_after_the_trend_its_ends_hold():
    assert cooling_trend(2.0, -6.0, 14.0, np.array([0.0, 2.0, 14.0, 20.0])).tolist() == [2.0, 2.0, -6.0, -6.0]


def test_a_night_of_two_hours_is_refused():
    with pytest.raises(ValueError, match=r"a night of 2\.0 h is too short"):
        cooling_trend(2.0, -6.0, 2.0, 1.0)


NIGHTS = (np.array([3.0, 1.0, 2.0]), np.array([-4.0, -2.0, -3.0]), np.array([-3.0, -5.0, -4.5]))


def test_a_regression_from_too_little_is_refused():
    with pytest.raises(ValueError, match="three nights or more"):
        fit_minimum_regression(*(values[:2] for values in NIGHTS))
    with pytest.raises(ValueError, match="three nights or more"):
        fit_minimum_regression(NIGHTS[0][:2], NIGHTS[1], NIGHTS[2])
    with pytest.raises(ValueError, match="finite"):
        fit_minimum_regression(np.array([3.0, np.nan, 2.0]), NIGHTS[1], NIGHTS[2])
    with pytest.raises(ValueError, match=r"nights that differ, not 1\.0 °C"):
        fit_minimum_regression(np.ones(3), NIGHTS[1], NIGHTS[2])


def test_nights_on_a_line_are_found_without_a_spread():
    evening = np.array([0.0, 2.0, 4.0, 6.0])
    dew = np.array([-1.0, -3.0, -3.0, -1.0])  # uncorrelated with the evening, so that both steps are exact
    regression = fit_minimum_regression(evening, dew, 0.5 * evening + 0.2 * dew - 6.0)
    assert regression.spread == pytest.approx(0.0, abs=1e-12)
    assert regression.minimum(np.array([10.0]), -2.0)[0] == pytest.approx(-1.4)
