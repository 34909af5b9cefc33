from datetime import timedelta

import numpy as np
import pytest

from alertd.thermal.forcing import SPIN_UP, forcing_of
from alertd.thermal.sky import sky_temperature
from alertd.weather import Series
from tests.fakes.cold_nights import HOUR, LATITUDE, LONGITUDE, NOON, series_of

BEFORE = SPIN_UP // timedelta(hours=1)
DAILY = 5.0 * np.sin(np.arange(48) / 24.0 * 2.0 * np.pi)


def forcing(ahead, past=None):
    return forcing_of(LATITUDE, LONGITUDE, ahead, past)


def bare(air, *, start=NOON, step=1):
    air = np.atleast_2d(np.asarray(air, dtype=np.float64))
    return Series(start + np.arange(air.shape[1]) * step * HOUR, {"air_temperature": air})


def test_the_axis_runs_hour_by_hour_from_the_days_before_to_the_last_hour():
    found = forcing(bare(DAILY))
    assert found.n_before == BEFORE
    assert found.times[BEFORE] == NOON
    assert found.times.size == BEFORE + 48
    assert np.all(np.diff(found.times) == HOUR)
    for values in (
        found.air_temperature,
        found.wind_speed,
        found.sun.top,
        found.sun.wall,
        found.sky_spread,
        found.snow,
    ):
        assert values.shape == (1, BEFORE + 48)


def test_weather_before_and_ahead_is_taken_as_it_is_told():
    past = series_of(np.arange(BEFORE) * 0.01, start=NOON - BEFORE * HOUR, wind=4.0, cloud=0.9, snow=0.1)
    ahead = series_of(np.array([DAILY, DAILY - 1.0]), wind=1.0, cloud=0.25, dew_point_depression=2.0, snow=0.2)
    found = forcing(ahead, past)
    assert found.n_members == 2
    assert found.missing == ()
    assert found.n_guessed == 0
    np.testing.assert_allclose(found.air_temperature[:, :BEFORE], np.repeat(past.air_temperature, 2, axis=0))
    np.testing.assert_allclose(found.air_temperature[:, BEFORE:], ahead.air_temperature)
    np.testing.assert_allclose(found.dew_point[:, BEFORE:], ahead.air_temperature - 2.0)
    for values, before, after in (
        (found.wind_speed, 4.0, 1.0),
        (found.cloud, 0.9, 0.25),
        (found.snow, 0.1, 0.2),
    ):
        np.testing.assert_allclose(values[:, :BEFORE], before)
        np.testing.assert_allclose(values[:, BEFORE:], after)
    sky, spread = sky_temperature(found.air_temperature, found.dew_point, found.cloud)
    np.testing.assert_array_equal(found.sky_temperature, sky)
    np.testing.assert_array_equal(found.sky_spread, spread)


def test_what_no_source_tells_is_assumed_and_named():
    found = forcing(bare(DAILY))
    assert found.missing == ("wind_speed", "cloud_area_fraction", "dew_point_temperature")
    assert (found.wind_speed == 2.0).all()
    assert (found.cloud <= 0.5).all()
    assert (found.snow == 0.0).all()


def test_without_clouds_half_the_sky_is_assumed_and_less_on_days_that_range_far():
    """A day may be even for its wind, under a clear sky: evenness alone is no sign of more cloud."""
    even, usual, far = (forcing(bare(0.1 * share * DAILY)).cloud for share in (0.0, 5.0, 20.0))
    assert (even == 0.5).all()
    assert (far < usual).all()
    assert far.max() < 0.3


def test_without_a_dew_point_the_coming_night_s_minimum_stands_in_or_what_is_drier():
    found = forcing(bare(DAILY))
    depression = found.air_temperature - found.dew_point
    assert depression.min() == pytest.approx(3.0)
    warmest = found.air_temperature[0, :24].argmax()
    assert found.dew_point[0, warmest] == pytest.approx(found.air_temperature.min())


def test_a_sky_whose_clouds_are_assumed_is_known_less_well():
    told = forcing(series_of(DAILY, cloud=0.5))
    assumed = forcing(
        Series(told.times[BEFORE:], {**series_of(DAILY).variables, "cloud_area_fraction": np.full((1, 48), np.nan)})
    )
    assert (assumed.sky_spread > told.sky_spread + 1.0).all()


def test_a_variable_that_is_missing_everywhere_counts_as_not_told():
    ahead = Series(bare(DAILY).times, {"air_temperature": DAILY[None], "wind_speed": np.full((1, 48), np.nan)})
    assert "wind_speed" in forcing(ahead).missing


def test_impossible_values_are_brought_to_the_nearest_possible_ones():
    found = forcing(series_of(DAILY, wind=-1.0, cloud=1.5, dew_point_depression=-4.0, snow=-0.1))
    assert (found.wind_speed == 0.0).all()
    assert (found.cloud == 1.0).all()
    np.testing.assert_array_equal(found.dew_point, found.air_temperature)
    assert (found.snow == 0.0).all()


def test_a_coarse_forecast_is_filled_to_whole_hours():
    found = forcing(bare([0.0, 3.0, -3.0], step=3))
    np.testing.assert_allclose(found.air_temperature[0, BEFORE:], [0, 1, 2, 3, 1, -1, -3])


def test_days_of_which_nothing_is_known_are_like_the_first_known_one_hour_by_hour():
    found = forcing(bare(DAILY))
    assert found.n_guessed == BEFORE
    np.testing.assert_allclose(found.air_temperature[0, :BEFORE], np.resize(DAILY[:24], BEFORE), atol=1e-12)


def test_guessed_days_keep_the_hours_of_the_day_wherever_the_known_ones_begin():
    """Of a past that begins 31 hours before the forecast, the hours before it continue its daily course."""
    course = 5.0 * np.cos(np.arange(BEFORE + 48) / 24.0 * 2.0 * np.pi)
    past = bare(course[BEFORE - 31 : BEFORE], start=NOON - 31 * HOUR)
    found = forcing(bare(course[BEFORE:]), past)
    np.testing.assert_allclose(found.air_temperature[0], course, atol=1e-9)
    assert found.n_guessed == BEFORE - 31
    assert found.is_guessed[: BEFORE - 31].all()


def test_a_short_gap_before_the_forecast_is_bridged_and_a_long_one_guessed():
    whole = bare(np.full(BEFORE, 4.0), start=NOON - BEFORE * HOUR)
    for missing, guessed in ((5, 0), (6, 6), (40, 40)):
        past = Series(whole.times[:-missing], {"air_temperature": whole.air_temperature[:, :-missing]})
        found = forcing(bare(np.full(48, -2.0)), past)
        assert found.n_guessed == guessed
        gap = found.air_temperature[0, BEFORE - missing : BEFORE]
        if guessed:
            assert (gap == -2.0).all()
        else:
            np.testing.assert_allclose(gap, 4.0 - np.arange(1, 6))


def test_days_before_a_forecast_of_a_few_hours_have_these_hours_and_are_else_as_it_ends():
    expected = np.full(24, 3.0)
    expected[:2] = (1.0, 2.0)
    found = forcing(bare([1.0, 2.0, 3.0])).air_temperature[0, :BEFORE]
    np.testing.assert_array_equal(found, np.tile(expected, BEFORE // 24))


def test_guessed_days_have_wind_cloud_and_snow_of_the_days_after_them_too():
    ahead = series_of(np.array([DAILY, DAILY]), wind=1.0, cloud=0.25, dew_point_depression=2.0, snow=0.2)
    ahead.variables["wind_speed"][1] = 3.0
    found = forcing(ahead)
    assert (found.wind_speed[:, :BEFORE] == 2.0).all()
    assert (found.cloud == 0.25).all()
    assert (found.snow == 0.2).all()
    np.testing.assert_allclose(found.air_temperature - found.dew_point, 2.0)


def test_the_days_before_are_the_same_for_all_realizations():
    air = np.array([DAILY - 8.0, DAILY, DAILY + 3.0])
    found = forcing(series_of(air), bare(DAILY[:30], start=NOON - 30 * HOUR))
    for values in (found.air_temperature, found.wind_speed, found.sky_temperature, found.sun.wall, found.snow):
        assert (values[:, :BEFORE] == values[:1, :BEFORE]).all()


def test_a_realization_that_falls_silent_goes_on_with_the_others_and_is_not_known():
    air = np.array([DAILY, DAILY + 2.0, DAILY + 4.0])
    air[2, 30:] = np.nan
    found = forcing(bare(air))
    np.testing.assert_allclose(found.air_temperature[2, BEFORE + 30 :], DAILY[30:] + 1.0)
    assert found.is_known[:, : BEFORE + 30].all()
    assert not found.is_known[2, BEFORE + 30 :].any()
    assert found.is_known[:2].all()


def test_a_past_with_several_realizations_is_refused():
    with pytest.raises(ValueError, match="2 realizations; they happened only once"):
        forcing(bare(DAILY), bare([DAILY, DAILY], start=NOON - 48 * HOUR))


@pytest.mark.parametrize(
    "ahead",
    [bare(np.full(5, np.nan)), bare(np.empty((1, 0))), bare([1.0], start=NOON + np.timedelta64(1800, "s"))],
)
def test_a_forecast_that_tells_no_temperature_of_any_hour_is_refused(ahead):
    with pytest.raises(ValueError, match="no forecast of the air temperature"):
        forcing(ahead)
