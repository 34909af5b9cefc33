"""Test messages by the calendar, in every time zone and on every day that clocks are changed."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, available_timezones

from hypothesis import given
from hypothesis import strategies as st

from alertd.service.rehearsal import due_day, following_day, has_none_yet

ZONES = sorted(available_timezones() - {"localtime"})
DAY = timedelta(days=1)
STEP = timedelta(minutes=20)


def is_wanted(day: date, rhythm: str) -> bool:
    return day.day == 1 if rhythm == "monthly" else day.weekday() == 0


@given(
    zone=st.sampled_from(ZONES),
    first=st.dates(date(2020, 1, 1), date(2037, 12, 1)),
    clock=st.times(time(0, 0), time(23, 30)),
    rhythm=st.sampled_from(["weekly", "monthly"]),
)
def test_each_wanted_day_has_its_letters_exactly_once_and_not_before_its_time(zone, first, clock, rhythm):
    where = ZoneInfo(zone)
    now = datetime(first.year, first.month, first.day, tzinfo=UTC)
    end = now + (35 if rhythm == "monthly" else 15) * DAY
    last = due_day(now.astimezone(where), clock, rhythm)
    written = []
    while now < end:
        local = now.astimezone(where)
        due = due_day(local, clock, rhythm)
        if has_none_yet(due, last, local.date()):
            written.append(due)
            last = due
            assert local.date() == due
            assert local.time() >= clock
        now += STEP
    assert written == sorted(set(written))
    assert all(is_wanted(day, rhythm) for day in written)
    surely_over = [first + day * DAY for day in range(2, (end.date() - first).days - 1)]
    assert [day for day in surely_over if is_wanted(day, rhythm) and day not in written] == []


@given(day=st.dates(date(2020, 1, 1), date(2037, 12, 1)), rhythm=st.sampled_from(["weekly", "monthly"]))
def test_the_day_that_a_letter_promises_is_the_next_one_that_is_due(day, rhythm):
    due = due_day(datetime.combine(day, time(12)), time(7), rhythm)
    promised = following_day(due, rhythm)
    assert due <= day < promised
    assert due_day(datetime.combine(promised, time(7)), time(7), rhythm) == promised
    assert due_day(datetime.combine(promised, time(6, 59)), time(7), rhythm) == due
