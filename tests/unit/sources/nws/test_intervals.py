"""Intervals and what holds over them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.core import SourceMalformed
from alertd.sources.nws.intervals import HourlyValues, parse_interval

NOW = datetime(2026, 1, 22, 17, 12, 50, tzinfo=UTC)
DAY = datetime(2024, 1, 11, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "start", "end"),
    [
        ("2024-01-11T11:00:00+00:00/PT1H", DAY + timedelta(hours=11), DAY + timedelta(hours=12)),
        ("2024-01-11T11:00:00Z/P1DT4H", DAY + timedelta(hours=11), DAY + timedelta(hours=39)),
        ("2024-01-11T11:00:00+00:00/P7DT14H", DAY + timedelta(hours=11), DAY + timedelta(days=8, hours=1)),
        ("2024-01-11T06:00:00-05:00/PT90M", DAY + timedelta(hours=11), DAY + timedelta(hours=12, minutes=30)),
        ("2024-01-11T11:00:00Z/2024-01-12T00:00:00+0000", DAY + timedelta(hours=11), DAY + timedelta(days=1)),
        ("2024-01-10T19:00:00-05/P1D", DAY, DAY + timedelta(days=1)),
        ("PT6H/2024-01-11T18:00:00Z", DAY + timedelta(hours=12), DAY + timedelta(hours=18)),
        ("NOW/PT30S", NOW, NOW + timedelta(seconds=30)),
        ("P1D/NOW", NOW - timedelta(days=1), NOW),
        ("2026-01-22T17:00:00Z/NOW", NOW - timedelta(seconds=770), NOW),
        ("2024-02-28T12:00:00Z/P1D", datetime(2024, 2, 28, 12, tzinfo=UTC), datetime(2024, 2, 29, 12, tzinfo=UTC)),
        ("2025-12-31T23:00:00Z/PT2H", datetime(2025, 12, 31, 23, tzinfo=UTC), datetime(2026, 1, 1, 1, tzinfo=UTC)),
    ],
)
def test_an_interval_is_read_in_each_of_its_forms(text, start, end):
    assert parse_interval(text, NOW, "temperature") == (start, end)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "/",
        "NOW",
        "NOW/",
        "NOW/NOW",
        "2024-01-11T11:00:00Z",
        "2024-01-11T11:00:00/PT1H",  # no offset
        "2024-01-11/PT1H",
        "2024-01-11T11:00:00Z/P",
        "2024-01-11T11:00:00Z/PT",
        "2024-01-11T11:00:00Z/P1DT",
        "2024-01-11T11:00:00Z/PT0H",
        "2024-01-11T11:00:00Z/PT1.5H",
        "2024-01-11T11:00:00Z/-PT1H",
        "2024-01-11T11:00:00Z/P1M",
        "2024-01-11T11:00:00Z/P1Y",
        "2024-01-11T11:00:00Z/P32D",
        "2024-01-11T11:00:00Z/P999999D",
        "2024-01-11T11:00:00Z/PT1H/PT1H",
        "PT1H/PT1H",
        "2024-01-11T11:00:00Z/2024-01-11T10:00:00Z",
        "2024-01-11T11:00:00Z/PT\u0661H",  # a digit of another script
        "9999-12-31T23:00:00Z/PT1H",
        "0001-01-01T00:00:00+14:00/PT1H",
        "P31D/1990-01-01T00:00:00Z\x00",
    ],
)
def test_what_is_no_interval_is_refused_by_name(text):
    with pytest.raises(SourceMalformed, match=r"^skyCover\.validTime"):
        parse_interval(text, NOW, "skyCover.validTime")


@pytest.mark.parametrize("value", [None, 5, ["2024-01-11T11:00:00Z/PT1H"]])
def test_an_interval_that_is_no_text_is_refused(value):
    with pytest.raises(SourceMalformed, match="and not text"):
        parse_interval(value, NOW, "skyCover")


def _hour(hourly, instant):
    return int(np.flatnonzero(hourly.hours == np.datetime64(instant.replace(tzinfo=None), "s"))[0])


def test_hours_reach_from_two_days_before_to_sixteen_days_after():
    hourly = HourlyValues(NOW)
    assert hourly.hours[0] == np.datetime64("2026-01-20T18:00:00")
    assert hourly.hours[-1] == np.datetime64("2026-02-07T17:00:00")
    assert HourlyValues(DAY).hours[0] == np.datetime64("2024-01-09T00:00:00")


def test_a_state_holds_from_its_start_to_before_its_end():
    hourly = HourlyValues(DAY)
    values = hourly.of_states([(DAY + timedelta(hours=1), DAY + timedelta(hours=4), 7.0)])
    first = _hour(hourly, DAY)
    assert values[first : first + 5].tolist() == pytest.approx([np.nan, 7.0, 7.0, 7.0, np.nan], nan_ok=True)
    assert np.count_nonzero(~np.isnan(values)) == 3


def test_a_state_between_two_whole_hours_fills_none():
    hourly = HourlyValues(DAY)
    values = hourly.of_states([(DAY + timedelta(minutes=10), DAY + timedelta(minutes=50), 7.0)])
    assert np.isnan(values).all()


def test_what_lies_outside_the_hours_is_dropped():
    hourly = HourlyValues(DAY)
    far = [(DAY + timedelta(days=days), DAY + timedelta(days=days + 1), 1.0) for days in (-9, 20)]
    assert np.isnan(hourly.of_states(far)).all()


def test_of_overlapping_states_the_last_or_the_colder_one_counts():
    hourly = HourlyValues(DAY)
    overlapping = [(DAY, DAY + timedelta(hours=2), -4.0), (DAY + timedelta(hours=1), DAY + timedelta(hours=3), 2.0)]
    first = _hour(hourly, DAY)
    assert hourly.of_states(overlapping)[first : first + 3].tolist() == [-4.0, 2.0, 2.0]
    assert hourly.of_states(overlapping, is_colder_kept=True)[first : first + 3].tolist() == [-4.0, -4.0, 2.0]


def test_a_null_over_a_known_temperature_does_not_hide_it():
    hourly = HourlyValues(DAY)
    states = [(DAY, DAY + timedelta(hours=1), -4.0), (DAY, DAY + timedelta(hours=1), np.nan)]
    assert hourly.of_states(states, is_colder_kept=True)[_hour(hourly, DAY)] == -4.0


def test_only_amounts_of_one_hour_become_hourly_amounts_at_their_end():
    hourly = HourlyValues(DAY)
    amounts = [
        (DAY, DAY + timedelta(hours=1), 0.5),
        (DAY + timedelta(hours=1), DAY + timedelta(hours=7), 6.0),
        (DAY + timedelta(minutes=430), DAY + timedelta(minutes=490), 9.0),  # an hour, but no hour of the clock
    ]
    values = hourly.of_hourly_amounts(amounts)
    assert values[_hour(hourly, DAY + timedelta(hours=1))] == 0.5
    assert np.count_nonzero(~np.isnan(values)) == 1
