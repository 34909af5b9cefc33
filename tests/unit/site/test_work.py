from datetime import time, timedelta
from zoneinfo import ZoneInfo

import pytest

from alertd.site import WorkHours, daylight, is_sociable, working_slots
from tests.fakes.garden import local, make_site

DARK = WorkHours(daylight_only=False)


def slots(start, end, work=DARK, **site):
    site = make_site(**site)
    return [
        (site.local(slot.start).strftime("%d %H:%M"), site.local(slot.end).strftime("%d %H:%M"))
        for slot in working_slots(site, work, local(start, site.time_zone), local(end, site.time_zone))
    ]


@pytest.mark.parametrize(("earliest", "latest"), [(time(8), time(8)), (time(20), time(7))])
def test_working_hours_that_hold_nothing_are_refused(earliest, latest):
    with pytest.raises(ValueError, match=f"working hours must begin before they end, not {earliest} to {latest}"):
        WorkHours(earliest=earliest, latest=latest)


def test_somebody_must_work():
    with pytest.raises(ValueError, match="at least one person must work, not 0"):
        WorkHours(people=0)


def test_slots_are_cut_to_the_stretch_that_is_asked_for():
    assert slots("2026-01-20 09:30", "2026-01-22 08:00") == [
        ("20 09:30", "20 20:00"),
        ("21 07:00", "21 20:00"),
        ("22 07:00", "22 08:00"),
    ]
    assert slots("2026-01-20 20:00", "2026-01-21 07:00") == []
    assert slots("2026-01-20 21:00", "2026-01-20 20:00") == []
    assert slots("2026-01-20 09:00", "2026-01-20 09:00") == []


def test_work_stops_at_sunset_and_waits_for_sunrise_where_daylight_is_asked_for():
    (slot,) = working_slots(make_site(), WorkHours(), local("2026-01-20 00:00"), local("2026-01-20 23:00"))
    light = daylight(40.0, -75.0, make_site().local(slot.start).date())
    assert (slot.start, slot.end) == (light.sunrise, light.sunset)
    assert slot.length == slot.end - slot.start


def test_hours_narrower_than_daylight_stand():
    assert slots("2026-06-20 00:00", "2026-06-21 00:00", WorkHours(time(9), time(17))) == [("20 09:00", "20 17:00")]


def test_hours_that_daylight_never_reaches_hold_no_work():
    assert slots("2026-01-20 00:00", "2026-01-21 00:00", WorkHours(time(5), time(6))) == []


def test_where_the_sun_does_not_rise_the_hours_stand_alone():
    tromso = {"latitude": 69.6, "longitude": 18.9, "time_zone": ZoneInfo("Europe/Oslo")}
    assert slots("2026-12-20 00:00", "2026-12-21 00:00", WorkHours(), **tromso) == [("20 07:00", "20 20:00")]
    assert slots("2026-06-20 00:00", "2026-06-21 00:00", WorkHours(), **tromso) == [("20 07:00", "20 20:00")]


@pytest.mark.parametrize(
    ("day", "hours"),
    [("2026-03-08", 3.0), ("2026-11-01", 5.0), ("2026-01-20", 4.0)],
)
def test_hours_across_a_change_of_clocks_are_as_long_as_they_are(day, hours):
    work = WorkHours(time(0), time(4), daylight_only=False)
    (slot,) = working_slots(make_site(), work, local(f"{day} 00:00"), local(f"{day} 12:00"))
    assert slot.length == timedelta(hours=hours)


@pytest.mark.parametrize(
    ("zone", "latitude", "longitude"),
    [
        ("Pacific/Chatham", -44.0, -176.5),
        ("Pacific/Kiritimati", 1.9, -157.4),
        ("Pacific/Apia", -13.8, -171.8),
        ("Pacific/Auckland", -43.5, 172.6),
        ("Asia/Kamchatka", 53.0, 158.6),
        ("America/Adak", 51.9, -176.6),
        ("Asia/Shanghai", 39.5, 76.0),
    ],
)
def test_the_light_of_a_local_day_is_found_on_either_side_of_the_date_line(zone, latitude, longitude):
    site = {"zone": zone, "latitude": latitude, "longitude": longitude}
    place = make_site(latitude=latitude, longitude=longitude, time_zone=ZoneInfo(zone))
    found = working_slots(
        place, WorkHours(), local("2026-06-20 00:00", place.time_zone), local("2026-06-21 00:00", place.time_zone)
    )
    assert len(found) == 1, site
    assert found[0].length > timedelta(hours=7)


def test_people_may_be_told_what_does_not_press_between_their_earliest_and_latest_hour() -> None:
    site, work = make_site(), WorkHours()
    told = [is_sociable(site, work, local(f"2026-01-20 {text}")) for text in ("06:59", "07:00", "19:59", "20:00")]
    assert told == [False, True, True, False]
