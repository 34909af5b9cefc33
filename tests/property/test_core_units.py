"""Units and instants there and back."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alertd.core import (
    TemperatureUnit,
    as_utc,
    celsius,
    celsius_difference,
    difference_in_unit,
    from_datetime64,
    in_unit,
    instant_text,
    parse_instant,
    temperature_text,
    to_datetime64,
)

temperatures = st.floats(-90.0, 60.0)
units = st.sampled_from(TemperatureUnit)
offsets = st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
instants = st.datetimes(datetime(1900, 1, 1), datetime(2200, 1, 1), timezones=offsets)  # noqa: DTZ001


@given(temperatures, units)
def test_a_temperature_survives_the_way_there_and_back(temperature, unit):
    assert celsius(in_unit(temperature, unit), unit) == pytest.approx(temperature, abs=1e-9)
    assert celsius_difference(difference_in_unit(temperature, unit), unit) == pytest.approx(temperature, abs=1e-9)


@given(temperatures, temperatures, units)
def test_a_difference_of_temperatures_is_the_difference(first, second, unit):
    difference = in_unit(first, unit) - in_unit(second, unit)
    assert difference_in_unit(first - second, unit) == pytest.approx(difference, abs=1e-9)


@given(temperatures, units)
def test_what_people_read_is_within_half_a_degree(temperature, unit):
    text = temperature_text(temperature, unit)
    number, symbol = text.split(" ")
    assert symbol == unit.symbol
    assert number != "-0"
    assert abs(int(number) - in_unit(temperature, unit)) <= 0.5


@given(instants)
def test_an_instant_survives_text_and_datetime64_in_whole_seconds(instant):
    whole = as_utc(instant).replace(microsecond=0)
    assert parse_instant(instant_text(instant)) == whole
    assert from_datetime64(to_datetime64(instant)) == whole
    assert as_utc(instant).tzinfo is UTC


@given(instants)
def test_an_instant_written_with_its_own_offset_is_read_exactly(instant):
    assert parse_instant(instant.isoformat()) == instant
