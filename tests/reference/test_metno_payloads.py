"""Answers of MET Norway that were recorded from the real service, with values read off by hand.

They are no part of the project; the tests run where the folder of recorded answers is.
"""

import json
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from alertd.core import SourceMalformed, to_datetime64
from alertd.sources.metno import explain_failure, parse_locationforecast
from alertd.weather import PeriodMinimum

RECORDED = Path(os.environ.get("RECORDED_PAYLOADS", Path(__file__).parents[3] / "shared" / "payloads")) / "metno"
pytestmark = pytest.mark.skipif(not RECORDED.is_dir(), reason="no recorded answers; set RECORDED_PAYLOADS")

HOUR = timedelta(hours=1)


def recorded(name):
    return (RECORDED / name).read_bytes()


def at(forecast, name, *time):
    [place] = np.flatnonzero(forecast.series.times == to_datetime64(datetime(*time, tzinfo=UTC)))
    return forecast.series.variables[name][0, place]


@pytest.fixture
def germany():
    return parse_locationforecast(recorded("complete_53.5N13E_2022-08-02.json"), 53.5, 13.0, 61.0)


@pytest.fixture
def norway():
    return parse_locationforecast(
        recorded("complete_60N10E_2024-02-24_TRIMMED_6steps_subfreezing.json"), 60.0, 10.0, 139.0
    )


def test_times_and_reference_time_are_those_of_the_answer(germany):
    assert germany.updated == datetime(2022, 8, 2, 15, 41, 37, tzinfo=UTC)
    assert germany.series.times[0] == np.datetime64("2022-08-02T16:00:00")
    assert germany.series.times[-1] == np.datetime64("2022-08-11T18:00:00")
    assert (np.diff(germany.series.times) == np.timedelta64(1, "h")).all()
    assert germany.findings == ()


def test_hourly_values_are_in_celsius_metres_per_second_and_percent(germany):
    assert at(germany, "air_temperature", 2022, 8, 2, 16) == 25.4
    assert at(germany, "dew_point_temperature", 2022, 8, 2, 16) == 7.4
    assert at(germany, "wind_speed", 2022, 8, 2, 16) == 3.1
    assert at(germany, "cloud_area_fraction", 2022, 8, 2, 16) == 97.7


def test_the_minimum_of_a_night_in_the_hourly_part_is_stated_twice(germany):
    # 16.5 °C at 03 and 04 UTC; next_6_hours of 00 UTC says 16.5 °C too.
    night = germany.series.window(datetime(2022, 8, 2, 21, tzinfo=UTC), datetime(2022, 8, 3, 9, tzinfo=UTC))
    assert night.air_temperature.min() == 16.5
    midnight = datetime(2022, 8, 3, tzinfo=UTC)
    assert PeriodMinimum(midnight, midnight + 6 * HOUR, 16.5) in germany.minima


def test_the_minimum_of_a_night_in_the_six_hourly_part_is_stated_only_beside_the_instants(germany):
    # 9 to 10 August: 19.9, 14.9, 16.5 °C at 18, 00, 06 UTC; the minima after 18 and 00 UTC are 14.8 and 13.1 °C.
    night = germany.series.window(datetime(2022, 8, 9, 18, tzinfo=UTC), datetime(2022, 8, 10, 7, tzinfo=UTC))
    assert night.air_temperature.min() == 14.9
    midnight = datetime(2022, 8, 10, tzinfo=UTC)
    assert PeriodMinimum(midnight - 6 * HOUR, midnight, 14.8) in germany.minima
    assert PeriodMinimum(midnight, midnight + 6 * HOUR, 13.1) in germany.minima
    assert at(germany, "air_temperature", 2022, 8, 10, 3) == pytest.approx((14.9 + 16.5) / 2.0)


def test_percentiles_become_standard_deviations(germany):
    # 24.7 to 26.2 °C at the first step, 18.1 to 24.8 °C at the last.
    assert germany.error[[0, -1]] == pytest.approx(np.array([1.5, 6.7]) / 2.5632)


def test_precipitation_of_six_hours_is_spread_evenly(germany):
    # 2.7 mm from 06 to 12 UTC on 5 August
    day = germany.series.window(datetime(2022, 8, 5, 7, tzinfo=UTC), datetime(2022, 8, 5, 13, tzinfo=UTC))
    assert day.variables["precipitation_amount"][0] == pytest.approx(np.full(6, 0.45))


def test_stated_minima_are_the_minima_of_the_hours_after_their_start(germany):
    series = germany.series
    hourly = [minimum for minimum in germany.minima if minimum.end < datetime(2022, 8, 5, tzinfo=UTC)]
    assert len(hourly) == 50
    for minimum in hourly:
        values = series.window(minimum.start + HOUR, minimum.end + HOUR).air_temperature
        assert values.min() == minimum.air_temperature


def test_frost_is_read_as_frost(norway):
    assert norway.series.air_temperature[0].tolist() == [4.3, 2.9, 1.4, 0.6, -0.8, -0.6]
    assert min(minimum.air_temperature for minimum in norway.minima) == -0.8
    assert norway.error[0] == pytest.approx(1.7 / 2.5632)


def test_a_compact_answer_has_less_and_is_read_too():
    document = json.loads(recorded("compact_NYC_2020-07_with_headers.json"))["data"]
    forecast = parse_locationforecast(json.dumps(document).encode(), 40.7, -74.0, 10.0)
    assert forecast.series.air_temperature[0, 0] == 26.5
    assert forecast.series.air_temperature[0, -1] == 24.7
    assert "dew_point_temperature" not in forecast.series.variables
    assert forecast.minima == ()
    assert forecast.error is None


def test_an_error_inside_an_answer_is_told():
    with pytest.raises(SourceMalformed, match="no data at the given location"):
        parse_locationforecast(recorded("errors/200_body_with_meta_error_forti.json"), 59.93, 10.72, 100.0)


def test_a_refusal_in_plain_text_is_told():
    text = explain_failure(400, {}, recorded("errors/400_missing_lat_lon_2024-06-29.txt"))
    assert "Mandatory parameters 'lat', 'lon' missing" in text
