"""The demo's winter and its forecasts are invented, believable, and the same everywhere."""

import hashlib
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.core import from_datetime64, to_datetime64
from alertd.hindcast.demo import demo_weather
from alertd.hindcast.demo.script import BUST, SCRIPTED_DAYS, TIME_ZONE
from alertd.hindcast.demo.weather import RUN_EVERY, RUN_TAKES, RUNS_PER_DAY
from alertd.weather import check_quality

WEATHER = demo_weather()
HOUR = timedelta(hours=1)


def fahrenheit(celsius):
    return celsius * 1.8 + 32.0


def local_times(series):
    return [from_datetime64(time).astimezone(TIME_ZONE) for time in series.times]


def lowest_of(day):
    start = datetime(day.year, day.month, day.day, tzinfo=TIME_ZONE)
    return float(fahrenheit(WEATHER.truth.window(start, start + 12 * HOUR).air_temperature.min()))


def test_the_winter_is_the_same_everywhere():
    rounded = np.round(WEATHER.truth.air_temperature * 10.0).astype("<i2")
    assert hashlib.sha256(rounded.tobytes()).hexdigest()[:16] == "fb5d05594d3f4678"


def test_the_forecasts_are_the_same_everywhere():
    digest = hashlib.sha256()
    for run in range(0, WEATHER.n_runs, 40):
        digest.update(np.round(WEATHER.forecast_of_run(run)[1].air_temperature * 10.0).astype("<i2").tobytes())
    assert digest.hexdigest()[:16] == "a72feccd2060e6f5"


def test_another_seed_makes_another_winter_with_the_same_scripted_nights():
    other = demo_weather(1)
    difference = np.abs(other.truth.air_temperature - WEATHER.truth.air_temperature)[0]
    night = to_datetime64(datetime(2026, 1, 23, 12, tzinfo=UTC))
    assert difference.max() > 5.0
    assert difference[WEATHER.truth.times == night][0] < 1.0


def test_quality_control_finds_nothing():
    assert check_quality(WEATHER.truth).findings == ()
    assert check_quality(WEATHER.forecast_of_run(400)[1]).findings == ()


def test_the_winter_is_hourly_from_the_first_day_to_the_last():
    winter = WEATHER.winter()
    times = local_times(winter)
    assert times[0] == datetime(2025, 10, 1, tzinfo=TIME_ZONE)
    assert times[-1] == datetime(2026, 5, 20, 23, tzinfo=TIME_ZONE)
    assert set(np.diff(winter.times)) == {np.timedelta64(3600, "s")}


@pytest.mark.parametrize("day", sorted(SCRIPTED_DAYS))
def test_scripted_days_are_as_written(day):
    assert lowest_of(day) == pytest.approx(SCRIPTED_DAYS[day].lowest, abs=2.5)


def test_most_days_are_coldest_around_sunrise_and_warmest_in_the_afternoon():
    winter = WEATHER.winter()
    air = winter.air_temperature[0]
    hours = np.array([time.hour for time in local_times(winter)])
    by_hour = [air[hours == hour].mean() for hour in range(24)]
    assert int(np.argmin(by_hour)) in range(5, 8)
    assert int(np.argmax(by_hour)) in range(14, 16)


def test_a_day_resembles_the_one_before():
    daily = fahrenheit(WEATHER.truth.air_temperature[0, : 230 * 24].reshape(-1, 24)).mean(axis=1)
    course = np.convolve(daily, np.ones(31) / 31.0, mode="valid")
    chance = daily[15:-15] - course
    assert np.corrcoef(chance[:-1], chance[1:])[0, 1] > 0.4


def test_a_forecast_is_had_an_hour_and_a_half_after_it_was_made_and_every_six_hours():
    made = datetime(2026, 1, 10, 6, tzinfo=UTC)
    assert WEATHER.forecast_at(made + RUN_TAKES)[0] == made
    assert WEATHER.forecast_at(made + RUN_TAKES - timedelta(seconds=1))[0] == made - RUN_EVERY
    assert RUNS_PER_DAY == 4


def test_a_forecast_reaches_seven_days():
    reference, series = WEATHER.forecast_at(datetime(2026, 5, 20, 23, tzinfo=UTC))
    assert from_datetime64(series.times[0]) == reference
    assert series.air_temperature.shape == (1, 168)


def errors():
    """Return the errors of all runs but those of the bust, shape (n_runs, 168)."""
    rows = []
    for run in range(WEATHER.n_runs):
        reference, series = WEATHER.forecast_of_run(run)
        if not BUST.first_run - timedelta(days=8) < reference <= BUST.last_run:
            truth = WEATHER.truth.window(reference, reference + 168 * HOUR)
            rows.append((series.air_temperature - truth.air_temperature)[0])
    return np.array(rows)


def test_errors_grow_with_lead_time():
    deviation = errors().std(axis=0)
    assert deviation[0] < deviation[24] < deviation[48] < deviation[120] < deviation[167]
    assert 0.5 < deviation[24] < 0.9
    assert 1.4 < deviation[120] < 2.4


def test_errors_are_smooth_in_lead_time_and_persist_from_run_to_run():
    by_run = errors()
    assert np.abs(np.diff(by_run, axis=1)).max() < 2.0
    same_valid_time = np.corrcoef(by_run[1:200, 60], by_run[0:199, 66])[0, 1]
    assert same_valid_time > 0.7


def seen(run_time):
    reference, series = WEATHER.forecast_at(run_time + RUN_TAKES)
    assert reference == run_time
    night = series.window(BUST.night - 9 * HOUR, BUST.night + 3 * HOUR)
    return float(fahrenheit(night.air_temperature.min()))


def test_the_scripted_forecast_threatens_for_two_days_and_eases_at_the_last_moment():
    truth = WEATHER.truth.window(BUST.night - 9 * HOUR, BUST.night + 3 * HOUR)
    assert fahrenheit(truth.air_temperature.min()) > 25.0
    assert max(seen(BUST.first_run + step * RUN_EVERY) for step in range(10)) < 16.0
    assert seen(BUST.last_run + RUN_EVERY) > 22.0
    assert 20 * HOUR < BUST.night - 3 * HOUR - (BUST.last_run + RUN_EVERY + RUN_TAKES) < 31 * HOUR


@pytest.mark.parametrize("when", [datetime(2025, 9, 30, tzinfo=UTC), datetime(2026, 6, 1, tzinfo=UTC)])
def test_there_is_no_forecast_outside_the_demo(when):
    with pytest.raises(ValueError, match="no forecast"):
        WEATHER.forecast_at(when)
