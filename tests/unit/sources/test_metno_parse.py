import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.core import SourceMalformed, to_datetime64
from alertd.sources.metno import parse_locationforecast
from alertd.weather import Check, PeriodMinimum
from tests.fakes.metno import START, UPDATED, body, cold_night, location_forecast, step_times

PLACE = (47.0123, -91.4567, 190.0)
HOUR = timedelta(hours=1)


def parsed(document):
    return parse_locationforecast(body(document), *PLACE)


def at(forecast, name, time):
    [place] = np.flatnonzero(forecast.series.times == to_datetime64(time))
    return forecast.series.variables[name][0, place]


def details(document, place, section="instant"):
    return document["properties"]["timeseries"][place]["data"][section]["details"]


def test_hourly_instants_stand_on_the_axis_as_they_are():
    forecast = parsed(location_forecast())
    for number in range(60):
        time = START + number * HOUR
        assert at(forecast, "air_temperature", time) == round(cold_night(time), 1)
    assert at(forecast, "wind_speed", START) == 2.3
    assert at(forecast, "cloud_area_fraction", START) == 12.5
    assert at(forecast, "dew_point_temperature", START) == pytest.approx(cold_night(START) - 3.0, abs=0.06)


def test_the_reference_time_is_the_time_of_the_update():
    assert parsed(location_forecast()).updated == UPDATED


def test_the_whole_axis_is_hourly_although_later_steps_are_six_hours_apart():
    forecast = parsed(location_forecast())
    times = step_times()
    expected = np.arange(to_datetime64(times[0]), to_datetime64(times[-1] + HOUR), np.timedelta64(1, "h"))
    assert np.array_equal(forecast.series.times, expected.astype("datetime64[s]"))
    assert not np.isnan(forecast.series.air_temperature).any()


def test_hours_between_six_hourly_instants_lie_on_the_line_between_them():
    forecast = parsed(location_forecast())
    midnight = datetime(2026, 1, 26, tzinfo=UTC)
    low, high = cold_night(midnight), cold_night(midnight + 6 * HOUR)
    assert at(forecast, "air_temperature", midnight + 2 * HOUR) == pytest.approx(low + (high - low) / 3.0, abs=0.06)


def test_six_hourly_minima_tell_of_the_cold_between_the_instants():
    forecast = parsed(location_forecast())
    midnight = datetime(2026, 1, 26, tzinfo=UTC)
    assert PeriodMinimum(midnight, midnight + 6 * HOUR, -14.0) in forecast.minima
    between = forecast.series.window(midnight, midnight + 7 * HOUR).air_temperature
    assert between.min() > -12.0  # the instants at 00 and 06 UTC have -11.7 °C


def test_a_minimum_excludes_its_start_and_includes_its_end():
    forecast = parsed(location_forecast())
    first = forecast.minima[0]
    assert (first.start, first.end) == (START, START + 6 * HOUR)
    assert first.air_temperature == min(round(cold_night(START + n * HOUR), 1) for n in range(1, 7))


def test_the_five_hourly_steps_before_the_six_hourly_part_have_no_minimum():
    starts = {minimum.start for minimum in parsed(location_forecast()).minima}
    change = datetime(2026, 1, 25, tzinfo=UTC)
    assert {change - n * HOUR for n in range(1, 6)}.isdisjoint(starts)
    assert {change - 6 * HOUR, change} <= starts


def test_percentiles_become_a_standard_deviation():
    forecast = parsed(location_forecast(spread=2.5632))
    assert forecast.error.shape == forecast.series.times.shape
    assert forecast.error == pytest.approx(np.ones(forecast.series.n_times), abs=1e-4)


def test_without_percentiles_the_source_states_no_error():
    assert parsed(location_forecast(spread=None)).error is None


def test_percentiles_that_are_missing_or_crossed_at_some_steps_leave_the_error_missing_there():
    document = location_forecast(times=step_times(hourly=24, six_hourly=0))
    del details(document, 5)["air_temperature_percentile_90"]
    details(document, 20)["air_temperature_percentile_10"] = 40.0
    for place in range(10, 18):
        del details(document, place)["air_temperature_percentile_10"]
    error = parsed(document).error
    assert np.isnan(error[10:17]).all()
    assert error[5] == pytest.approx(1.0, abs=1e-4)  # one missing hour is filled like any other value
    assert error[20] == pytest.approx(1.0, abs=1e-4)


def test_precipitation_is_what_fell_since_the_time_before():
    forecast = parsed(location_forecast())
    assert np.isnan(at(forecast, "precipitation_amount", START))
    assert at(forecast, "precipitation_amount", START + HOUR) == 0.1
    # 0.6 kg/m2 in six hours
    assert at(forecast, "precipitation_amount", datetime(2026, 1, 26, 2, tzinfo=UTC)) == pytest.approx(0.1)


def test_a_step_without_anything_is_a_gap_that_is_filled():
    document = location_forecast()
    document["properties"]["timeseries"][3]["data"] = {}
    forecast = parsed(document)
    expected = (cold_night(START + 2 * HOUR) + cold_night(START + 4 * HOUR)) / 2.0
    assert at(forecast, "air_temperature", START + 3 * HOUR) == pytest.approx(expected, abs=0.06)


def test_a_gap_of_more_than_six_hours_stays_missing_and_is_reported():
    times = step_times()
    forecast = parsed(location_forecast(times=times[:20] + times[40:]))
    gap = forecast.series.window(times[19] + HOUR, times[40])
    assert gap.n_times == 0
    assert [finding.check for finding in forecast.findings] == [Check.GAP]


def test_six_hourly_steps_alone_are_no_gap():
    assert parsed(location_forecast()).findings == ()


def test_keys_that_are_absent_or_null_are_missing_values():
    document = location_forecast()
    for entry in document["properties"]["timeseries"]:
        entry["data"]["instant"]["details"].pop("dew_point_temperature")
        entry["data"]["instant"]["details"]["wind_speed"] = None
    variables = parsed(document).series.variables
    assert "dew_point_temperature" not in variables
    assert "wind_speed" not in variables
    assert "cloud_area_fraction" in variables


def test_an_altitude_that_is_not_stated_is_not_doubted():
    assert parsed(location_forecast(altitude=None)).series.n_times


def test_a_value_that_cannot_be_true_is_left_out_and_reported():
    document = location_forecast()
    details(document, 7)["air_temperature"] = -120.0
    forecast = parsed(document)
    assert [finding.check for finding in forecast.findings] == [Check.PHYSICAL_RANGE]
    assert at(forecast, "air_temperature", START + 7 * HOUR) > -20.0


def test_a_minimum_that_cannot_be_true_is_left_out_and_reported():
    document = location_forecast()
    details(document, 0, "next_6_hours")["air_temperature_min"] = -120.0
    details(document, 1, "next_6_hours")["air_temperature_min"] = -55.0
    forecast = parsed(document)
    assert [finding.check for finding in forecast.findings] == [Check.PHYSICAL_RANGE, Check.RATE_OF_CHANGE]
    assert min(minimum.air_temperature for minimum in forecast.minima) == -14.0


def _in_fahrenheit(document):
    document["properties"]["meta"]["units"]["air_temperature"] = "fahrenheit"


def _without_unit(document):
    del document["properties"]["meta"]["units"]["wind_speed"]


def _minimum_in_kelvin(document):
    document["properties"]["meta"]["units"]["air_temperature_min"] = "K"


def _far_future(document):
    document["properties"]["timeseries"][-1]["time"] = "2027-01-22T08:00:00Z"


def _backwards(document):
    steps = document["properties"]["timeseries"]
    steps[4], steps[5] = steps[5], steps[4]


def _twice(document):
    document["properties"]["timeseries"][5]["time"] = document["properties"]["timeseries"][4]["time"]


def _no_time(document):
    document["properties"]["timeseries"][2]["time"] = "2026-01-22 in the morning"


def _no_year(document):
    document["properties"]["meta"]["updated_at"] = "9999-12-31T23:00:00Z"


def _text(document):
    details(document, 2)["air_temperature"] = "-3.0"


def _truth(document):
    details(document, 2)["air_temperature"] = True


def _too_warm(document):
    for place in range(len(step_times())):
        details(document, place)["air_temperature"] = 273.0


def _all_missing(document):
    for place in range(len(step_times())):
        del details(document, place)["air_temperature"]


def _nowhere(document):
    document["geometry"]["coordinates"] = []


def _off_the_earth(document):
    document["geometry"]["coordinates"] = [-191.4567, 47.0123]


def _no_step(document):
    document["properties"]["timeseries"] = []


def _steps_of_text(document):
    document["properties"]["timeseries"][1] = "2026-01-22T09:00:00Z"


def _details_of_text(document):
    document["properties"]["timeseries"][1]["data"]["instant"]["details"] = "cold"


def _no_meta(document):
    del document["properties"]["meta"]


@pytest.mark.parametrize(
    ("spoil", "reason"),
    [
        (_in_fahrenheit, "air_temperature is in 'fahrenheit', not in celsius"),
        (_without_unit, "wind_speed is in None, not in m/s"),
        (_minimum_in_kelvin, "air_temperature_min is in 'K', not in celsius"),
        (_far_future, "there is a step for 2027-01-22T08:00:00"),
        (_backwards, "follows that for"),
        (_twice, "the step for 2026-01-22T12:00:00+00:00 follows that for 2026-01-22T12:00:00+00:00"),
        (_no_time, "and no time"),
        (_no_year, "no forecast speaks of that year"),
        (_text, "instant air_temperature is '-3.0' and no number"),
        (_truth, "and no number"),
        (_too_warm, "air_temperature: 100% of the values are outside"),
        (_all_missing, "air_temperature: no usable value"),
        (_nowhere, "no position"),
        (_off_the_earth, "no position on Earth"),
        (_no_step, "holds no step"),
        (_steps_of_text, "a step is '2026-01-22T09:00:00Z' and no JSON object"),
        (_details_of_text, "details is 'cold' and no JSON object"),
        (_no_meta, "properties.meta is None and no JSON object"),
    ],
)
def test_an_answer_that_cannot_be_trusted_is_refused_with_one_clear_line(spoil, reason):
    document = location_forecast()
    spoil(document)
    with pytest.raises(SourceMalformed, match=re.escape(reason)) as caught:
        parsed(document)
    assert "\n" not in str(caught.value)
    assert ";" in str(caught.value)


def test_an_error_inside_an_answer_with_status_200_is_told_in_its_words():
    with pytest.raises(SourceMalformed, match="it answers 'no data at the given location'; check latitude"):
        parsed(location_forecast(error="no data at the given location"))


@pytest.mark.parametrize("altitude", [-200.0, 400.0])
def test_an_answer_for_another_altitude_is_refused(altitude):
    with pytest.raises(SourceMalformed, match="m above the sea, not of 190 m as asked for"):
        parsed(location_forecast(altitude=altitude))


def test_an_answer_for_another_place_is_refused():
    with pytest.raises(SourceMalformed, match="76 km from the place asked for"):
        parsed(location_forecast(longitude=-90.4567))


@pytest.mark.parametrize("length", [0, 1, 100, 5000])
def test_an_answer_that_was_cut_off_is_refused(length):
    with pytest.raises(SourceMalformed):
        parse_locationforecast(body(location_forecast())[:length], *PLACE)


def test_an_answer_of_one_step_is_read():
    forecast = parsed(location_forecast(times=[START]))
    assert forecast.series.n_times == 1
    assert forecast.minima == ()
