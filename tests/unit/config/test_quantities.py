from datetime import time, timedelta

import pytest

from alertd.config.quantities import length_of_time, month_day, time_of_day, time_zone
from alertd.site import MonthDay


@pytest.mark.parametrize(
    ("text", "length"),
    [
        ("90s", timedelta(seconds=90)),
        ("30min", timedelta(minutes=30)),
        ("72h", timedelta(days=3)),
        ("2d", timedelta(days=2)),
        ("1.5 h", timedelta(minutes=90)),
        ("0s", timedelta(0)),
    ],
)
def test_a_length_of_time_is_a_number_and_a_unit(text, length):
    assert length_of_time(text) == length


@pytest.mark.parametrize(
    "text", ["", "72", "h", "-1h", "1h30min", "1 hour", "1m", "1e3s", "\u0663h", "2D", " 2d", "2d\n", "1.h"]
)
def test_other_texts_are_no_lengths_of_time(text):
    with pytest.raises(ValueError, match="not a length of time"):
        length_of_time(text)


def test_the_longest_text_still_is_a_length_of_time():
    assert length_of_time("999999999.9d") > timedelta(days=999_999_999)


def test_a_time_of_day_has_hours_and_minutes():
    assert time_of_day("00:00") == time(0, 0)
    assert time_of_day("23:59") == time(23, 59)


@pytest.mark.parametrize(
    "text", ["24:00", "7:00", "07:60", "07:00:00", "7 am", "", "07:00\n", "\u0660\u0667:\u0660\u0660"]
)
def test_other_texts_are_no_times_of_day(text):
    with pytest.raises(ValueError, match="not a time of day"):
        time_of_day(text)


def test_a_day_of_the_year_has_month_and_day():
    assert month_day("04-25") == MonthDay(4, 25)
    assert month_day("12-31") == MonthDay(12, 31)


@pytest.mark.parametrize("text", ["02-29", "02-30", "04-31", "13-01", "00-10", "1-1", "2026-04-25", "", "04-25\n"])
def test_days_that_not_every_year_has_are_refused(text):
    with pytest.raises(ValueError, match=r"not a month and a day|day is out of range"):
        month_day(text)


def test_a_time_zone_is_known_by_its_iana_name():
    assert time_zone("Europe/Berlin").key == "Europe/Berlin"


@pytest.mark.parametrize("text", ["", "Mars/Olympus", "America", "../UTC", "/etc/passwd", "a\0b", "x" * 5000, "\ud800"])
def test_other_texts_are_no_time_zones(text):
    with pytest.raises(ValueError, match="not a time zone"):
        time_zone(text)
