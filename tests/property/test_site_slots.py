"""Slots of work on any day of any zone."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones

from hypothesis import given, settings
from hypothesis import strategies as st

from alertd.site import MonthDay, Sun, WorkHours, daylight, working_slots
from tests.fakes.garden import make_site

ZONES = sorted(
    name for name in available_timezones() if "/" in name and not name.startswith(("Etc/", "posix/", "right/"))
)
instants = st.integers(1_700_000_000, 1_900_000_000).map(lambda seconds: datetime.fromtimestamp(seconds, tz=UTC))


@given(st.sampled_from(ZONES), st.floats(-66.0, 66.0), instants, st.integers(0, 96), st.booleans())
@settings(max_examples=300, deadline=None)
def test_slots_lie_apart_in_order_within_hours_and_light(zone, latitude, start, hours, daylight_only):
    offset = start.astimezone(ZoneInfo(zone)).utcoffset() / timedelta(hours=1)
    longitude = (15.0 * offset + 180.0) % 360.0 - 180.0  # a place to which the zone's time fits
    site = make_site(latitude=latitude, longitude=longitude, time_zone=ZoneInfo(zone))
    work = WorkHours(time(7), time(20), daylight_only=daylight_only)
    end = start + timedelta(hours=hours)
    slots = working_slots(site, work, start, end)
    edges = [start, *(edge for slot in slots for edge in (slot.start, slot.end)), end]
    assert edges == sorted(edges)
    assert all(slot.start < slot.end for slot in slots)
    for slot in slots:
        first, last = site.local(slot.start), site.local(slot.end)
        assert first.date() == last.date()
        assert work.earliest <= first.time()
        assert last.time() <= work.latest
        if daylight_only:
            days = [daylight(latitude, longitude, first.date() + timedelta(days=day)) for day in (-1, 0, 1)]
            assert any(
                light.sun is not Sun.RISES or light.sunrise <= slot.start < slot.end <= light.sunset for light in days
            )
    whole_days = hours // 24
    assert len(slots) >= whole_days


@given(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0), st.dates())
@settings(deadline=None)
def test_the_sun_rises_before_it_sets_or_not_at_all(latitude, longitude, day):
    if not 1 < day.year < 9999:
        return
    light = daylight(latitude, longitude, day)
    if light.sun is Sun.RISES:
        assert timedelta(0) < light.sunset - light.sunrise < timedelta(days=1, minutes=30)
    else:
        assert light.sunrise is light.sunset is None
        assert abs(latitude) > 65.0


@given(st.floats(-60.0, 60.0), st.sampled_from(ZONES), instants, st.integers(1, 12), st.integers(1, 28))
@settings(deadline=None)
def test_a_season_holds_now_and_each_has_one_last_freeze_date(latitude, zone, now, month, day):
    site = make_site(latitude=latitude, time_zone=ZoneInfo(zone), last_freeze=MonthDay(month, day))
    start = site.season_start(now)
    assert start <= now < start + timedelta(days=367)
    assert site.season_start(start) == start
    if site.is_past_last_freeze(now):
        assert site.is_past_last_freeze(site.season_start(start + timedelta(days=370)) - timedelta(hours=1))
