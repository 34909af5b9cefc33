"""The weather of the days before: measured, else as it was last forecast."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.weather import KEPT_AHEAD, PAST_LENGTH, Series, kept_text, parse_kept, past_weather, weather_to_keep

NOW = datetime(2026, 1, 20, 16, 57, tzinfo=UTC)
HOUR = datetime(2026, 1, 20, 16, tzinfo=UTC)


def series(first, values, **more):
    start = np.datetime64(first.replace(tzinfo=None), "s")
    rows = np.atleast_2d(np.array(values, dtype=float))
    times = start + np.arange(rows.shape[1]) * np.timedelta64(3600, "s")
    return Series(times, {"air_temperature": rows, **{k: np.atleast_2d(np.array(v, float)) for k, v in more.items()}})


def test_nothing_is_known_where_nothing_says_anything():
    assert past_weather(NOW, []) is None
    assert past_weather(NOW, [series(HOUR + timedelta(days=2), [1.0, 2.0])]) is None
    assert past_weather(NOW, [series(HOUR - timedelta(hours=1), [np.nan, np.nan])]) is None


def test_the_hours_of_a_forecast_that_have_passed_count():
    past = past_weather(NOW, [series(HOUR - timedelta(hours=2), [-3.0, -4.0, -5.0, -6.0])])
    assert past.times[-1] == np.datetime64("2026-01-20T16:00:00")
    assert past.air_temperature.tolist() == [[-3.0, -4.0, -5.0]]


def test_the_median_of_an_ensemble_and_the_mean_of_several_sources_count():
    ensemble = series(HOUR, [[-1.0], [-2.0], [-9.0]])
    other = series(HOUR, [-4.0], wind_speed=[2.0])
    past = past_weather(NOW, [ensemble, other])
    assert past.air_temperature.tolist() == [[-3.0]]
    assert past.variables["wind_speed"].tolist() == [[2.0]]


def test_the_median_leaves_missing_realizations_out():
    past = past_weather(NOW, [series(HOUR - timedelta(hours=1), [[-1.0, 1.0], [-4.0, np.nan], [np.nan, np.nan]])])
    assert past.air_temperature.tolist() == [[-2.5, 1.0]]


def test_what_was_kept_fills_what_no_source_tells():
    kept = series(HOUR - timedelta(hours=2), [-7.0, -8.0, -9.0], cloud_area_fraction=[10.0, 20.0, 30.0])
    past = past_weather(NOW, [series(HOUR, [-5.0])], kept)
    assert past.air_temperature.tolist() == [[-7.0, -8.0, -5.0]]
    assert past.variables["cloud_area_fraction"].tolist() == [[10.0, 20.0, 30.0]]


def test_own_thermometers_take_the_place_of_what_was_forecast():
    seen = series(HOUR - timedelta(hours=1), [[-10.0, np.nan], [-12.0, np.nan]])
    past = past_weather(NOW, [series(HOUR - timedelta(hours=1), [-5.0, -6.0])], observed=seen)
    assert past.air_temperature.tolist() == [[-11.0, -6.0]]
    alone = past_weather(NOW, [], observed=seen)
    assert alone.air_temperature[0, 0] == -11.0


def test_no_more_is_remembered_than_a_root_ball_remembers():
    past = past_weather(NOW, [series(HOUR - timedelta(days=40), np.zeros(24 * 40 + 1))])
    assert past.n_times == PAST_LENGTH // timedelta(hours=1) + 1


def test_six_hourly_values_are_filled_up_to_the_present_hour():
    times = np.array(["2026-01-20T12:00:00", "2026-01-20T18:00:00"], dtype="datetime64[s]")
    coarse = Series(times, {"air_temperature": np.array([[0.0, -6.0]])})
    assert past_weather(NOW, [coarse]).air_temperature.tolist() == [[0.0, -1.0, -2.0, -3.0, -4.0]]


def test_what_is_kept_is_the_past_and_some_hours_ahead():
    past = series(HOUR - timedelta(hours=1), [-1.0, -2.0], wind_speed=[3.0, 4.0])
    ahead = series(HOUR + timedelta(hours=1), np.vstack([np.full(100, -5.0), np.full(100, -7.0)]))
    kept = weather_to_keep(NOW, past, ahead)
    assert kept.n_times == 2 + KEPT_AHEAD // timedelta(hours=1)
    assert kept.air_temperature[0, :3].tolist() == [-1.0, -2.0, -6.0]
    assert np.isnan(kept.variables["wind_speed"][0, 2:]).all()


def test_what_is_kept_where_one_side_is_unknown():
    one = series(HOUR, [-1.0])
    assert weather_to_keep(NOW, None, None) is None
    assert weather_to_keep(NOW, one, None) is one
    assert weather_to_keep(NOW, None, series(HOUR + timedelta(hours=1), [-5.0])).air_temperature.tolist() == [[-5.0]]


def test_what_is_kept_survives_as_text():
    kept = series(HOUR, [-1.234, np.nan], dew_point_temperature=[-5.0, -6.0])
    again = parse_kept(kept_text(kept))
    assert (again.times == kept.times).all()
    np.testing.assert_array_equal(again.air_temperature, [[-1.23, np.nan]])
    np.testing.assert_array_equal(again.variables["dew_point_temperature"], [[-5.0, -6.0]])


@pytest.mark.parametrize(
    "text", [None, "", "{", "[]", "{}", '{"times":[1,2]}', '{"times":[1],"air_temperature":["x"]}', '{"times":"x"}',
             '{"times":[1e400],"air_temperature":[1]}', '{"times":[99999999999999999999],"air_temperature":[1]}',
             '{"times":[2,1],"air_temperature":[0,0]}']
)  # fmt: skip
def test_spoilt_text_holds_nothing(text):
    assert parse_kept(text) is None
