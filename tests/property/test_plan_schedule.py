"""The latest start leaves time enough, worked out minute by minute."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from alertd.plan.schedule import START_STEP
from alertd.site import WorkHours, daylight, working_slots
from tests.fakes.garden import make_site, schedule

MINUTE = timedelta(minutes=1)

#: Zones with their place and a year's changes of clocks [UTC].
PLACES = {
    "America/New_York": (40.0, -75.0, ["2026-03-08 07:00", "2026-11-01 06:00"]),
    "Europe/Berlin": (52.5, 13.4, ["2026-03-29 01:00", "2026-10-25 01:00"]),
    "Australia/Lord_Howe": (-31.5, 159.1, ["2026-04-04 15:00", "2026-10-03 15:30"]),
    "Pacific/Chatham": (-44.0, -176.5, ["2026-04-04 14:00", "2026-09-26 14:00"]),
    "Asia/Tokyo": (35.7, 139.7, ["2026-01-20 00:00"]),
    "Africa/Casablanca": (33.5, -7.6, ["2026-02-15 02:00", "2026-03-22 02:00"]),
}


@st.composite
def plans(draw):
    zone = draw(st.sampled_from(sorted(PLACES)))
    latitude, longitude, changes = PLACES[zone]
    site = make_site(latitude=latitude, longitude=longitude, time_zone=ZoneInfo(zone))
    change = datetime.fromisoformat(draw(st.sampled_from(changes))).replace(tzinfo=UTC)
    earliest = draw(st.integers(0, 20 * 60))
    latest = draw(st.integers(earliest + 1, 24 * 60 - 1))
    work = WorkHours(time(*divmod(earliest, 60)), time(*divmod(latest, 60)), daylight_only=draw(st.booleans()))
    now = change + timedelta(minutes=draw(st.integers(-3 * 24 * 60, 24 * 60)))
    deadline = now + timedelta(minutes=draw(st.integers(-60, 4 * 24 * 60)))
    return site, work, now, deadline, timedelta(minutes=draw(st.integers(15, 12 * 60)))


def minutes_of_work(site, work, start, end):
    """Count the minutes in which people can work, one by one, from local clocks and the light of the day."""
    count, minute = 0, start
    while minute + MINUTE <= end:
        local = minute.astimezone(site.time_zone)
        is_light = True
        if work.daylight_only:
            lights = [
                daylight(site.latitude, site.longitude, local.date() + timedelta(days=day)) for day in (-2, -1, 0, 1)
            ]
            is_light = any(light.sunrise <= minute < light.sunset for light in lights)
        count += is_light and work.earliest <= local.time() < work.latest
        minute += MINUTE
    return count


@given(plans())
@settings(max_examples=60, deadline=None)
def test_from_the_latest_start_on_the_work_fits_before_the_deadline(plan):
    site, work, now, deadline, needed = plan
    found = schedule(site, work, now, deadline, needed)
    assert found.start_by >= now
    slots = working_slots(site, work, now, deadline)
    slack = 3 * (len(slots) + 1)  # [min] seconds of sunrise and sunset, and clocks that change within the hours
    available = minutes_of_work(site, work, now, deadline)
    if found.is_enough:
        assert found.start_by <= deadline
        assert minutes_of_work(site, work, found.start_by, deadline) * MINUTE >= needed - slack * MINUTE
        later = minutes_of_work(site, work, found.start_by + START_STEP + MINUTE, deadline)
        assert later * MINUTE < needed + slack * MINUTE
    else:
        assert found.start_by == now
        assert found.is_due
        assert available * MINUTE < needed + slack * MINUTE


@given(plans())
@settings(max_examples=200, deadline=None)
def test_the_work_fits_into_the_slots_from_the_latest_start_on(plan):
    site, work, now, deadline, needed = plan
    found = schedule(site, work, now, deadline, needed)
    left = sum((slot.length for slot in working_slots(site, work, found.start_by, deadline)), timedelta(0))
    assert (left >= needed) == found.is_enough


@given(plans(), st.integers(1, 600))
@settings(max_examples=200, deadline=None)
def test_an_earlier_deadline_or_more_work_never_allows_a_later_start(plan, minutes):
    site, work, now, deadline, needed = plan
    first = schedule(site, work, now, deadline, needed)
    assume(first.is_enough)
    for changed in (
        schedule(site, work, now, deadline - timedelta(minutes=minutes), needed),
        schedule(site, work, now, deadline, needed + timedelta(minutes=minutes)),
    ):
        assert changed.start_by <= first.start_by
        assert changed.is_due or not first.is_due


@given(plans())
@settings(max_examples=200, deadline=None)
def test_as_long_as_it_is_not_due_a_later_slot_does_and_from_then_on_it_stays_due(plan):
    site, work, now, deadline, needed = plan
    found = schedule(site, work, now, deadline, needed)
    slots = working_slots(site, work, now, deadline)
    if not found.is_due:
        rest = sum((slot.length for slot in slots[1:]), timedelta(0))
        assert rest >= needed
        assert schedule(site, work, slots[0].end, deadline, needed).start_by == found.start_by
    else:
        assert schedule(site, work, now + timedelta(minutes=30), deadline, needed).is_due
