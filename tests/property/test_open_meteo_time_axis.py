"""The time axis is UTC: no change of clocks, end of year, leap day or place on Earth moves a value."""

import json
import math
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from alertd.core import SourceMalformed, to_datetime64
from alertd.sources.open_meteo import Asked, Model, RunStatus, blocked_until, parse_forecast, run_of
from alertd.sources.open_meteo.document import check_place
from alertd.sources.open_meteo.run_status import SPREADING
from tests.fakes.open_meteo import body, document, refusal

HOUR = timedelta(hours=1)
MODEL = Model("best_match")

#: Midnights, local time, of days that are hard: clocks change, the year ends, a day is inserted.
HARD_DAYS = [
    datetime(2026, 3, 8, tzinfo=ZoneInfo("America/New_York")),
    datetime(2026, 11, 1, tzinfo=ZoneInfo("America/New_York")),
    datetime(2026, 3, 29, tzinfo=ZoneInfo("Europe/Berlin")),
    datetime(2026, 10, 25, tzinfo=ZoneInfo("Europe/Berlin")),
    datetime(2026, 4, 5, tzinfo=ZoneInfo("Australia/Lord_Howe")),
    datetime(2026, 9, 27, tzinfo=ZoneInfo("Pacific/Auckland")),
    datetime(2026, 12, 31, tzinfo=ZoneInfo("Pacific/Kiritimati")),
    datetime(2028, 2, 28, tzinfo=ZoneInfo("America/St_Johns")),
    datetime(2100, 2, 28, tzinfo=UTC),
]

starts = st.builds(
    lambda day, hours: day.astimezone(UTC).replace(minute=0) + timedelta(hours=hours),
    st.sampled_from(HARD_DAYS),
    st.integers(-30, 30),
)
latitudes = st.one_of(st.sampled_from([-90.0, -89.9, 0.0, 89.9, 90.0]), st.floats(-90.0, 90.0))
longitudes = st.one_of(st.sampled_from([-180.0, -179.9, 0.0, 179.9, 180.0]), st.floats(-180.0, 180.0))
values = st.lists(st.one_of(st.none(), st.integers(-900, 500).map(lambda tenths: tenths / 10)), min_size=1, max_size=60)


def wrapped(longitude):
    """Return a longitude from -180 to below 180."""
    return (longitude + 180.0) % 360.0 - 180.0


@given(starts, st.sampled_from([900, 3600, 10800, 21600]), values, latitudes, longitudes)
def test_every_value_stays_at_its_instant(start, step, temperatures, latitude, longitude):
    assume(any(value is not None for value in temperatures))
    answer = body({"temperature_2m": temperatures}, start=start, step=step, latitude=latitude, longitude=longitude)
    series = parse_forecast(answer, Asked(latitude, longitude, 120.0), MODEL).series
    last = max(index for index, value in enumerate(temperatures) if value is not None)
    assert series.n_times == last + 1
    for index, value in enumerate(temperatures[: last + 1]):
        assert series.times[index] == to_datetime64(start + timedelta(seconds=step * index))
        found = series.air_temperature[0, index]
        assert np.isnan(found) if value is None else found == value


@given(starts, st.integers(1, 80))
def test_seconds_and_text_in_utc_mean_the_same(start, hours):
    answer = document({"temperature_2m": [1.5] * hours}, start=start)
    text = json.loads(json.dumps(answer))
    text["hourly_units"]["time"] = "iso8601"
    text["hourly"]["time"] = [f"{start + HOUR * index:%Y-%m-%dT%H:%M}" for index in range(hours)]
    asked = Asked(40.71, -74.0)
    one, other = (parse_forecast(json.dumps(each).encode(), asked, MODEL).series for each in (answer, text))
    assert (one.times == other.times).all()


@given(starts, st.integers(-14 * 3600, 14 * 3600).filter(bool))
def test_times_that_are_not_in_utc_are_refused(start, offset):
    answer = body({"temperature_2m": [1.0]}, start=start, utc_offset_seconds=offset)
    with pytest.raises(SourceMalformed, match="not in UTC"):
        parse_forecast(answer, Asked(40.71, -74.0), MODEL)


@given(latitudes, longitudes, st.floats(-0.49, 0.49), st.floats(-0.49, 0.49))
@example(-18.0, 179.9, 0.1, 0.3)
@example(-18.0, -179.9, 0.1, -0.3)
@example(90.0, 0.0, 0.0, 0.4)
def test_a_cell_close_by_is_the_asked_place_on_either_side_of_the_date_line(latitude, longitude, north, east):
    head = {
        "latitude": max(-90.0, min(90.0, latitude + north)),
        "longitude": wrapped(longitude + east),
        "utc_offset_seconds": 0,
    }
    assert check_place(head, Asked(latitude, longitude)) == ""


@given(latitudes, longitudes, st.floats(0.52, 180.0), st.booleans())
def test_a_cell_far_away_is_another_place(latitude, longitude, away, is_east):
    assume(not is_east or away * math.cos(math.radians(latitude)) > 0.51)
    head = {"latitude": latitude, "longitude": longitude, "utc_offset_seconds": 0}
    if is_east:
        head["longitude"] = wrapped(longitude + away)
    else:
        head["latitude"] = latitude + away
    with pytest.raises(SourceMalformed, match="not about the asked"):
        check_place(head, Asked(latitude, longitude))


@given(
    st.datetimes(datetime(2020, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC)),  # noqa: DTZ001
    st.sampled_from(["Minutely", "Hourly", "Daily"]),
)
def test_a_limit_is_over_at_the_next_full_minute_hour_or_day(now, name):
    until = blocked_until(429, refusal(f"{name} API request limit exceeded. Please try again."), now)
    window = {"Minutely": 60, "Hourly": 3600, "Daily": 86400}[name]
    assert timedelta(0) < until - now <= timedelta(seconds=window)
    assert until.timestamp() % window == 0


@given(
    starts,
    st.integers(0, 20 * 60),
    st.integers(1, 24),
    st.integers(-72 * 60, 72 * 60),
    st.integers(0, 600),
)
def test_an_answer_is_never_of_a_run_that_was_not_there_and_never_of_an_older_one_if_later(
    run, delay, interval, minutes, later
):
    status = RunStatus(run, run + timedelta(minutes=delay), timedelta(hours=interval))
    retrieved = run + timedelta(minutes=minutes)
    one = run_of(status, retrieved)
    assert one + timedelta(minutes=delay) + SPREADING <= retrieved
    assert one <= run_of(status, retrieved + timedelta(minutes=later)) <= run
    assert (run - one) % status.update_interval == timedelta(0)
