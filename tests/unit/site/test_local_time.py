"""Local times of day as instants."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from alertd.site import QuietHours, Slot, instant_of, is_day_due, last_day_with, next_time_of
from tests.fakes.garden import make_site

BERLIN = make_site(time_zone=ZoneInfo("Europe/Berlin"))
NIGHT = QuietHours(time(22), time(6, 30))


def utc(text):
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def berlin(text):
    return datetime.fromisoformat(text).replace(tzinfo=BERLIN.time_zone).astimezone(UTC)


@pytest.mark.parametrize(
    ("zone", "day", "clock", "instant"),
    [
        ("Europe/Berlin", date(2027, 1, 5), time(7), "2027-01-05T06:00"),
        ("Europe/Berlin", date(2027, 3, 28), time(1, 59), "2027-03-28T00:59"),
        ("Europe/Berlin", date(2027, 3, 28), time(2), "2027-03-28T01:00"),
        ("Europe/Berlin", date(2027, 3, 28), time(2, 59), "2027-03-28T01:00"),
        ("Europe/Berlin", date(2027, 3, 28), time(3), "2027-03-28T01:00"),
        ("Europe/Berlin", date(2026, 10, 25), time(2, 30), "2026-10-25T00:30"),
        ("Australia/Lord_Howe", date(2026, 10, 4), time(2, 15), "2026-10-03T15:30"),
        ("Antarctica/Troll", date(2026, 3, 29), time(2, 30), "2026-03-29T01:00"),
        ("America/Havana", date(2026, 3, 8), time(0, 30), "2026-03-08T05:00"),
        ("Asia/Kathmandu", date(2026, 3, 8), time(7), "2026-03-08T01:15"),
    ],
)
def test_a_time_of_day_is_the_first_of_two_and_the_instant_after_the_gap_if_there_is_none(zone, day, clock, instant):
    assert instant_of(ZoneInfo(zone), day, clock) == utc(instant)


def test_the_last_day_is_today_from_the_very_minute_on():
    assert last_day_with(BERLIN, time(7), berlin("2026-11-05T06:59")) == date(2026, 11, 4)
    assert last_day_with(BERLIN, time(7), berlin("2026-11-05T07:00")) == date(2026, 11, 5)
    assert last_day_with(BERLIN, time(0), berlin("2026-11-05T00:00")) == date(2026, 11, 5)


def test_where_clocks_go_back_over_midnight_the_day_that_has_begun_stays_begun():
    # St John's changed at one minute past midnight until 2011: Sunday's first minute came twice.
    site = replace(BERLIN, time_zone=ZoneInfo("America/St_Johns"))
    assert last_day_with(site, time(0), utc("2010-11-07T02:45")) == date(2010, 11, 7)
    assert site.local(utc("2010-11-07T02:45")).date() == date(2010, 11, 6)
    assert next_time_of(site, time(0), utc("2010-11-07T02:45")) == utc("2010-11-08T03:30")
    quiet = QuietHours(time(0), time(6))
    assert quiet.at(site, utc("2010-11-07T02:45")) == Slot(utc("2010-11-07T02:30"), utc("2010-11-07T09:30"))


def test_the_next_time_is_later_than_now():
    assert next_time_of(BERLIN, time(7), berlin("2026-11-05T06:59")) == berlin("2026-11-05T07:00")
    assert next_time_of(BERLIN, time(7), berlin("2026-11-05T07:00")) == berlin("2026-11-06T07:00")


def test_a_day_is_due_once_also_when_the_clock_is_set_back_but_not_silenced_by_a_clock_that_was_wrong():
    day = date(2026, 11, 5)
    assert is_day_due(day, None)
    assert is_day_due(day, day - timedelta(days=1))
    assert not is_day_due(day, day)
    assert not is_day_due(day, day + timedelta(days=1))
    assert is_day_due(day, date(2038, 1, 19))


def test_quiet_hours_cross_midnight():
    tonight = Slot(berlin("2026-11-05T22:00"), berlin("2026-11-06T06:30"))
    assert NIGHT.at(BERLIN, berlin("2026-11-05T21:59")) is None
    assert NIGHT.at(BERLIN, berlin("2026-11-05T22:00")) == tonight
    assert NIGHT.at(BERLIN, berlin("2026-11-06T00:00")) == tonight
    assert NIGHT.at(BERLIN, berlin("2026-11-06T06:29")) == tonight
    assert NIGHT.at(BERLIN, berlin("2026-11-06T06:30")) is None
    assert NIGHT.has(time(22))
    assert NIGHT.has(time(6, 29))
    assert not NIGHT.has(time(6, 30))
    assert not NIGHT.has(time(12))


def test_quiet_hours_lie_within_a_day():
    noon = QuietHours(time(12), time(14))
    assert noon.at(BERLIN, berlin("2026-11-05T12:00")) == Slot(berlin("2026-11-05T12:00"), berlin("2026-11-05T14:00"))
    assert noon.at(BERLIN, berlin("2026-11-05T14:00")) is None
    assert noon.has(time(13))
    assert not noon.has(time(14))


def test_quiet_hours_in_a_gap_of_the_clock_are_not():
    lost = QuietHours(time(2, 10), time(2, 50))
    assert lost.at(BERLIN, utc("2027-03-28T01:00")) is None
    assert lost.at(BERLIN, utc("2027-03-28T00:59")) is None


def test_quiet_hours_over_a_change_of_the_clock_end_by_the_clock():
    assert NIGHT.at(BERLIN, utc("2027-03-28T00:00")) == Slot(utc("2027-03-27T21:00"), utc("2027-03-28T04:30"))
    assert NIGHT.at(BERLIN, utc("2026-10-25T00:00")) == Slot(utc("2026-10-24T20:00"), utc("2026-10-25T05:30"))


def test_quiet_hours_that_could_be_a_whole_day_are_refused():
    with pytest.raises(ValueError, match="different times"):
        QuietHours(time(6), time(6))
