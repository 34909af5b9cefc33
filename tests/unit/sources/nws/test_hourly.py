"""The hourly forecast."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from alertd.core import SourceMalformed
from alertd.sources.nws import parse_hourly
from tests.fakes import nws


def parsed(*periods, **changed):
    return parse_hourly(nws.body(nws.hourly(*periods, **changed)), 44.1234, -72.5)


def test_periods_become_hours_in_utc_and_celsius():
    forecast = parsed()
    assert forecast.forecast_reference_time == datetime(2026, 1, 22, 17, 12, 50, tzinfo=UTC)
    assert forecast.elevation == 300.0
    assert forecast.minima == ()
    assert forecast.cell is None
    assert forecast.series.times.tolist() == [datetime(2026, 1, 22, hour) for hour in range(18, 22)]  # noqa: DTZ001
    # 27, 26, 25, 24 °F
    assert forecast.series.air_temperature[0].tolist() == pytest.approx([-2.78, -3.33, -3.89, -4.44], abs=0.01)
    assert forecast.series.variables["dew_point_temperature"][0].tolist() == [-10.0] * 4
    # the middle of 5 to 10 mph: 7.5 mph = 3.35 m/s
    assert forecast.series.variables["wind_speed"][0].tolist() == pytest.approx([3.3528] * 4)


def test_local_times_are_read_with_their_offsets_over_the_change_of_the_clock():
    """In 2026 clocks in New York go from 01:59 EST to 03:00 EDT on 8 March."""
    hours = (
        ("2026-03-08T01:00:00-05:00", "2026-03-08T03:00:00-04:00"),
        ("2026-03-08T03:00:00-04:00", "2026-03-08T04:00:00-04:00"),
    )
    periods = [nws.period("08T01", 30, startTime=start, endTime=end) for start, end in hours]
    forecast = parsed(*periods, updateTime="2026-03-08T00:00:00Z")
    assert forecast.series.times.tolist() == [datetime(2026, 3, 8, hour) for hour in (6, 7)]  # noqa: DTZ001


@pytest.mark.parametrize(
    ("changed", "celsius"),
    [
        ({"temperature": 14, "temperatureUnit": "F"}, -10.0),
        ({"temperature": -10, "temperatureUnit": "C"}, -10.0),
        ({"temperature": {"unitCode": "wmoUnit:degC", "value": -10}, "temperatureUnit": None}, -10.0),
        ({"temperature": {"unitCode": "wmoUnit:degF", "value": 14}}, -10.0),
    ],
)
def test_a_temperature_is_a_number_beside_its_unit_or_an_object(changed, celsius):
    assert parsed(nws.period("22T13", 0, **changed)).series.air_temperature.item() == pytest.approx(celsius)


@pytest.mark.parametrize(
    ("wind", "metres_per_second"),
    [
        ("10 mph", 4.4704),
        ("5 to 10 mph", 3.3528),
        ("0 km/h", 0.0),
        ("36 km/h", 10.0),
        ("10 kt", 5.1444),
        ("1.5 m/s", 1.5),
        ({"unitCode": "wmoUnit:km_h-1", "value": 36}, 10.0),
        ({"unitCode": "wmoUnit:km_h-1", "minValue": 18, "maxValue": 36}, 7.5),
    ],
)
def test_wind_is_text_or_an_object(wind, metres_per_second):
    series = parsed(nws.period("22T13", 20, windSpeed=wind)).series
    assert series.variables["wind_speed"].item() == pytest.approx(metres_per_second, abs=1e-4)


@pytest.mark.parametrize("wind", [None, "", {"unitCode": "wmoUnit:km_h-1", "value": None}])
def test_missing_wind_is_left_out(wind):
    assert "wind_speed" not in parsed(nws.period("22T13", 20, windSpeed=wind)).series.variables


@pytest.mark.parametrize("wind", ["calm", "10", "10 knots", "-5 mph", "10 mph to 20 mph", 10, ["10 mph"]])
def test_wind_that_cannot_be_read_is_refused(wind):
    with pytest.raises(SourceMalformed, match="windSpeed"):
        parsed(nws.period("22T13", 20, windSpeed=wind))


def test_a_missing_temperature_is_missing():
    forecast = parsed(nws.period("22T13", 20), nws.period("22T14", None), nws.period("22T15", 20))
    assert np.isnan(forecast.series.air_temperature[0]).tolist() == [False, True, False]


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"temperatureUnit": "K9"}, "temperature has the unknown unit 'K9'"),
        ({"temperatureUnit": None}, "temperatureUnit"),
        ({"temperature": "20"}, "temperature is '20' and not a number"),
        ({"startTime": None}, "startTime"),
        ({"endTime": "2026-01-22T13:00:00-05:00"}, "does not end after it"),
        ({"endTime": "2029-01-22T13:00:00-05:00"}, "does not end after it"),
        ({"dewpoint": {"unitCode": "wmoUnit:rod", "value": 1}}, "dewpoint has the unknown unit 'wmoUnit:rod'"),
    ],
)
def test_a_period_that_cannot_be_read_is_named(changed, named):
    with pytest.raises(SourceMalformed, match=named):
        parsed(nws.period("22T13", 20, **changed))


def test_no_period_is_no_forecast():
    with pytest.raises(SourceMalformed, match="there is no air temperature"):
        parsed(periods=[])


def test_older_answers_name_their_time_otherwise():
    forecast = parsed(updateTime=..., updated="2026-01-22T15:00:00+00:00")
    assert forecast.forecast_reference_time == datetime(2026, 1, 22, 15, tzinfo=UTC)


def test_the_time_of_the_text_does_not_stand_for_that_of_the_forecast():
    with pytest.raises(SourceMalformed, match="updateTime"):
        parsed(updateTime=...)


def test_an_answer_for_another_place_is_refused_and_one_without_a_place_is_not():
    with pytest.raises(SourceMalformed, match="not for the position asked"):
        parse_hourly(nws.body(nws.hourly()), 44.1234, -80.0)
    assert parse_hourly(nws.body({**nws.hourly(), "geometry": None}), 44.1234, -80.0).series.n_times == 4
