"""The time axis is UTC: no change of clocks, end of year or leap day moves a value, and no border divides the Earth."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from alertd.core import to_datetime64
from alertd.sources.mosmix import parse_station_forecast
from alertd.sources.position import great_circle_distance
from tests.fakes.mosmix import STATION, hours, kmz

HARD_DAYS = [
    datetime(2026, 3, 29, tzinfo=ZoneInfo("Europe/Berlin")),
    datetime(2026, 10, 25, tzinfo=ZoneInfo("Europe/Berlin")),
    datetime(2026, 11, 1, tzinfo=ZoneInfo("America/Chicago")),
    datetime(2026, 4, 5, tzinfo=ZoneInfo("Australia/Lord_Howe")),
    datetime(2026, 12, 31, tzinfo=ZoneInfo("Asia/Kathmandu")),
    datetime(2028, 2, 28, tzinfo=UTC),
]
starts = st.builds(
    lambda day, count: day.astimezone(UTC).replace(minute=0) + timedelta(hours=count),
    st.sampled_from(HARD_DAYS),
    st.integers(-30, 30),
)


@given(starts, st.integers(1, 100), st.data())
def test_values_stay_at_their_hour_of_utc_and_minima_cover_the_twelve_hours_before(start, count, data):
    place = data.draw(st.integers(0, count - 1))
    times = hours(count, start)
    air = [270.0 - number % 7 for number in range(count)]
    minima = [262.0 if number == place else None for number in range(count)]
    forecast = parse_station_forecast(kmz(times=times, issued=start, values={"TTT": air, "TN": minima}), STATION)
    assert forecast.series.times.tolist() == [to_datetime64(time).tolist() for time in times]
    assert np.allclose(forecast.series.air_temperature[0], np.array(air) - 273.15)
    # the period before the first hour is over
    expected = [] if place == 0 else [(times[place] - timedelta(hours=12), times[place])]
    assert [(minimum.start, minimum.end) for minimum in forecast.minima] == expected


places = st.tuples(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0))


@given(places, places)
def test_distance_is_the_same_both_ways_and_no_further_than_half_around_the_earth(one, other):
    distance = great_circle_distance(*one, *other)
    assert abs(distance - great_circle_distance(*other, *one)) < 1e-3
    assert 0.0 <= distance <= 20_015_115


@given(places, places, st.integers(-2, 2))
def test_a_turn_around_the_earth_changes_no_distance(one, other, turns):
    turned = (one[0], one[1] + 360.0 * turns)
    assert abs(great_circle_distance(*one, *other) - great_circle_distance(*turned, *other)) < 1.0
