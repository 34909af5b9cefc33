from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.weather import Check, QualitySettings, Series, check_quality
from tests.fakes.weather import hourly_series

START = datetime(2026, 1, 23, tzinfo=UTC)


def kept(values, **others) -> list[float | None]:
    report = check_quality(hourly_series(START, values, **others))
    return [None if np.isnan(value) else value for value in report.series.air_temperature[0].tolist()]


def daily_wave(count: int) -> np.ndarray:
    return 5.0 * np.sin(np.arange(count) * 2 * np.pi / 24) + np.arange(count) * 0.01


def test_clean_weather_passes_as_the_same_series():
    series = hourly_series(START, daily_wave(240), wind_speed=np.ones(240))
    report = check_quality(series)
    assert report.series is series
    assert report.findings == ()
    assert report.is_usable


def test_an_impossible_temperature_becomes_missing_and_is_reported_in_one_line():
    values = daily_wave(48)
    values[7] = -999.0
    report = check_quality(hourly_series(START, values))
    assert np.isnan(report.series.air_temperature[0, 7])
    (finding,) = report.findings
    assert (finding.check, finding.variable, finding.count) == (Check.PHYSICAL_RANGE, "air_temperature", 1)
    assert finding.first == finding.last == START + timedelta(hours=7)
    assert finding.text == ("air_temperature: values outside -90 to 60 °C, left out: 1, 2026-01-23T07:00:00Z")


def test_kelvin_taken_for_celsius_is_refused_whole():
    report = check_quality(hourly_series(START, daily_wave(48) + 273.15))
    assert not report.is_usable
    assert (
        report.reason == "air_temperature: 100% of the values are outside -90 to 60 °C; state the unit that they are in"
    )


def test_a_wrong_unit_of_wind_costs_only_the_wind():
    report = check_quality(hourly_series(START, daily_wave(48), wind_speed=np.full(48, 400.0)))
    assert report.is_usable
    assert "wind_speed" not in report.series.variables
    (finding,) = report.findings
    assert (finding.check, finding.variable, finding.count) == (Check.PHYSICAL_RANGE, "wind_speed", 48)
    assert "ignored" in finding.text


def test_weather_without_any_temperature_is_refused():
    report = check_quality(hourly_series(START, [np.nan, np.nan]))
    assert "no usable value" in report.reason
    assert not report.is_usable


def test_an_empty_series_is_refused():
    assert not check_quality(hourly_series(START, [[]])).is_usable


@pytest.mark.parametrize("run", [1, 2, 3])
def test_a_short_run_between_a_jump_and_a_jump_back_is_dropped(run):
    values = [14.0, 14.1, *[-10.5 + k / 10 for k in range(run)], 14.2, 14.3]
    assert kept(values) == [14.0, 14.1, *[None] * run, 14.2, 14.3]


def test_a_longer_cold_stretch_is_kept():
    values = [14.0, 14.1, -10.0, -10.1, -10.2, -10.3, 14.2, 14.3]
    assert kept(values) == values


def test_a_front_that_stays_cold_is_kept():
    values = [14.0, 14.1, 1.0, 0.5, 0.0, -0.5]
    assert kept(values) == values


def test_a_jump_beside_the_first_or_last_value_drops_it():
    assert kept([-20.0, 1.0, 1.1, 1.2, 1.3, 1.4, 30.0]) == [None, 1.0, 1.1, 1.2, 1.3, 1.4, None]


def test_a_fault_in_steps_is_dropped_step_by_step():
    assert kept([14.0, 14.1, 0.0, -20.0, 14.2, 14.3]) == [14.0, 14.1, None, None, 14.2, 14.3]


def test_a_missing_hour_does_not_hide_a_fault_and_a_long_gap_is_no_jump():
    assert kept([14.0, np.nan, -10.0, np.nan, 14.0, 14.1]) == [14.0, None, None, None, 14.0, 14.1]
    far = [14.0, 14.1, np.nan, np.nan, -10.0, np.nan, np.nan, 14.0, 14.1]
    assert kept(far) == [None if np.isnan(value) else value for value in far]


def test_only_the_realization_with_the_fault_loses_a_value():
    values = np.tile(daily_wave(24), (3, 1))
    values[1, 10] = 40.0
    values[2, 5] = np.nan
    report = check_quality(hourly_series(START, values))
    assert np.argwhere(np.isnan(report.series.air_temperature)).tolist() == [[1, 10], [2, 5]]
    assert report.findings[0].check is Check.RATE_OF_CHANGE


def test_a_value_that_never_changes_is_dropped_and_others_stay():
    values = daily_wave(100)
    values[20:60] = 1.25
    report = check_quality(hourly_series(START, values))
    assert np.flatnonzero(np.isnan(report.series.air_temperature[0])).tolist() == list(range(20, 60))
    assert [finding.check for finding in report.findings] == [Check.STUCK, Check.GAP]
    assert report.findings[0].text.startswith("air_temperature: values the same for more than 30 h, left out: 40,")


def test_thirty_equal_hours_are_still_weather():
    values = daily_wave(100)
    values[20:51] = 1.25
    assert check_quality(hourly_series(START, values)).findings == ()


def test_few_equal_values_far_apart_are_still_weather():
    times = np.datetime64("2026-01-01", "s") + np.arange(10) * np.timedelta64(6, "h")
    report = check_quality(Series(times, {"air_temperature": np.ones((1, 10))}))
    assert [finding.check for finding in report.findings] == [Check.GAP]


def test_a_dew_point_above_the_air_is_dropped():
    report = check_quality(hourly_series(START, [1.0, 2.0], dew_point_temperature=[3.5, 3.9]))
    np.testing.assert_array_equal(report.series.variables["dew_point_temperature"], [[np.nan, 3.9]])
    assert [finding.check for finding in report.findings] == [Check.DEW_POINT]


def test_gaps_are_reported_with_start_and_length():
    values = daily_wave(48)
    values[10:15] = np.nan
    values[30:33] = np.nan
    (finding,) = check_quality(hourly_series(START, values)).findings
    assert (finding.check, finding.count) == (Check.GAP, 2)
    assert (finding.first, finding.last) == (START + timedelta(hours=9), START + timedelta(hours=33))
    assert finding.text == (
        "air_temperature: gaps longer than 3 h: 2, the longest 6 h from 2026-01-23T09:00:00Z, "
        "4 h from 2026-01-24T05:00:00Z"
    )


@pytest.mark.parametrize("limit", [{"largest_step": 0.0}, {"spike_values": 0}, {"gap_time": timedelta(0)}])
def test_limits_must_be_positive(limit):
    with pytest.raises(ValueError, match="must be positive"):
        QualitySettings(**limit)
