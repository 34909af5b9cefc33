"""The time axis is UTC: no change of clocks, end of year, leap day or place on Earth moves a value."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alertd.core import to_datetime64
from alertd.sources.metno import parse_locationforecast
from alertd.sources.position import coordinate_text
from tests.fakes.metno import body, location_forecast, step_times

HOUR = timedelta(hours=1)

#: Midnights, local time, of days that are hard: clocks change, the year ends, a day is inserted.
HARD_DAYS = [
    datetime(2026, 3, 8, tzinfo=ZoneInfo("America/Chicago")),
    datetime(2026, 11, 1, tzinfo=ZoneInfo("America/Chicago")),
    datetime(2026, 3, 29, tzinfo=ZoneInfo("Europe/Oslo")),
    datetime(2026, 10, 25, tzinfo=ZoneInfo("Europe/Oslo")),
    datetime(2026, 4, 5, tzinfo=ZoneInfo("Australia/Lord_Howe")),
    datetime(2026, 9, 27, tzinfo=ZoneInfo("Pacific/Auckland")),
    datetime(2026, 12, 31, tzinfo=ZoneInfo("Asia/Kathmandu")),
    datetime(2028, 2, 28, tzinfo=ZoneInfo("America/St_Johns")),
    datetime(2100, 2, 28, tzinfo=UTC),
]

hard_starts = st.builds(
    lambda day, hours: (day.astimezone(UTC) + timedelta(hours=hours)).replace(minute=0),
    st.sampled_from(HARD_DAYS),
    st.integers(-30, 30),
)
temperatures = st.integers(-400, 300).map(lambda tenths: tenths / 10.0)


def walk(seed):
    """Return a temperature that changes by at most 6 °C from hour to hour."""
    return lambda time: 10.0 * np.sin(time.timestamp() / 3600.0 * 0.3 + seed) - 5.0


def parsed(times, place=(47.0, 11.0, 600.0), **options):
    latitude, longitude, altitude = place
    document = location_forecast(
        latitude=latitude, longitude=longitude, altitude=altitude, updated=times[0] - HOUR, times=times, **options
    )
    return parse_locationforecast(body(document), *place)


@given(hard_starts, st.integers(1, 65), st.integers(0, 12), st.floats(0.0, 6.0))
@settings(max_examples=150)
def test_the_axis_is_every_hour_of_utc_and_instants_keep_their_values(start, hourly, six_hourly, seed):
    times = step_times(start, hourly, six_hourly)
    temperature = walk(seed)
    series = parsed(times, temperature=temperature).series
    assert (np.diff(series.times) == np.timedelta64(1, "h")).all()
    assert (series.times[0], series.times[-1]) == (to_datetime64(times[0]), to_datetime64(times[-1]))
    places = np.searchsorted(series.times, [to_datetime64(time) for time in times])
    assert series.air_temperature[0, places].tolist() == [round(float(temperature(time)), 1) for time in times]


@given(hard_starts, st.integers(1, 12), st.floats(0.0, 6.0))
def test_filled_values_lie_between_the_instants_around_them(start, six_hourly, seed):
    times = step_times(start, 3, six_hourly)
    series = parsed(times, temperature=walk(seed)).series
    for earlier, later in pairwise(times):
        values = series.window(earlier, later + HOUR).air_temperature[0]
        assert (values >= min(values[0], values[-1]) - 1e-9).all()
        assert (values <= max(values[0], values[-1]) + 1e-9).all()


@given(hard_starts, st.integers(7, 65), st.integers(0, 12))
def test_minima_cover_six_hours_of_utc_after_a_step_and_are_as_cold_as_every_value_in_them(start, hourly, six_hourly):
    times = step_times(start, hourly, six_hourly)
    forecast = parsed(times, temperature=walk(1.0))
    assert forecast.minima
    for minimum in forecast.minima:
        assert minimum.start in times
        assert minimum.end - minimum.start == 6 * HOUR
        inside = forecast.series.window(minimum.start + HOUR, minimum.end + HOUR).air_temperature
        assert minimum.air_temperature <= inside[0, -1]


@given(hard_starts, st.integers(1, 40), st.integers(0, 12))
def test_no_precipitation_is_lost_or_counted_twice(start, hourly, six_hourly):
    times = step_times(start, hourly, six_hourly)
    series = parsed(times).series
    amounts = series.variables.get("precipitation_amount")
    hours = (times[-1] - times[0]) / HOUR
    total = 0.0 if amounts is None else np.nansum(amounts)
    assert total == pytest.approx(0.1 * hours)


latitudes = st.floats(-90.0, 90.0) | st.sampled_from([-90.0, 90.0, 0.0, 89.99995])
longitudes = st.floats(-180.0, 180.0) | st.sampled_from([-180.0, 180.0, 179.99995, -179.99995, 0.0])


@given(latitudes, longitudes, st.integers(-400, 5000))
def test_the_answer_to_a_question_of_four_decimals_is_for_the_place_asked(latitude, longitude, altitude):
    asked = (float(coordinate_text(latitude)), float(coordinate_text(longitude)), float(altitude))
    assert abs(asked[0] - latitude) < 1e-4
    assert abs(asked[0]) <= abs(latitude)
    assert parsed(step_times(hourly=3, six_hourly=0), asked).series.n_times > 3


@given(st.floats(-89.0, 89.0))
def test_both_sides_of_the_date_line_are_one_place(latitude):
    document = location_forecast(latitude=latitude, longitude=-180.0, altitude=None)
    assert parse_locationforecast(body(document), latitude, 180.0, 0.0).series.n_times


@given(longitudes, longitudes, st.sampled_from([-90.0, 90.0]))
def test_at_a_pole_every_longitude_is_the_place(asked, answered, pole):
    document = location_forecast(latitude=pole, longitude=answered, altitude=None)
    assert parse_locationforecast(body(document), pole, asked, 0.0).series.n_times
