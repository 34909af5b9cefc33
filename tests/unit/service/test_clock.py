from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alertd.service.clock import CLOCK_TOLERANCE, Moment, clock_step, is_due, is_new_day, pause_after

NOW = datetime(2026, 1, 22, 9, tzinfo=UTC)
HOUR = timedelta(hours=1)
SECOND = timedelta(seconds=1)


def test_the_first_evaluation_is_due_at_the_start_and_so_after_every_restart():
    assert is_due(NOW, None, HOUR, None)


def test_the_next_one_is_due_when_the_pause_is_over():
    assert not is_due(NOW + HOUR - SECOND, NOW, HOUR, None)
    assert is_due(NOW + HOUR, NOW, HOUR, None)


def test_a_call_is_not_kept_waiting_for_the_pause():
    call = NOW + timedelta(minutes=20)
    assert not is_due(call - SECOND, NOW, HOUR, call)
    assert is_due(call, NOW, HOUR, call)


def test_a_clock_that_is_set_forward_makes_it_due():
    assert is_due(NOW + SECOND + HOUR, NOW, HOUR, None)


def test_a_clock_that_is_set_back_before_the_last_evaluation_makes_it_due():
    assert is_due(NOW + SECOND - HOUR, NOW, HOUR, None)


@pytest.mark.parametrize("change", [datetime(2027, 3, 28, 1, tzinfo=UTC), datetime(2026, 10, 25, 1, tzinfo=UTC)])
def test_daylight_saving_changes_nothing_even_for_times_in_a_local_zone(change):
    zone = ZoneInfo("Europe/Berlin")
    for minutes in range(-180, 180, 15):
        last = (change + timedelta(minutes=minutes)).astimezone(zone)
        just_before, after = ((last.astimezone(UTC) + wait).astimezone(zone) for wait in (HOUR - SECOND, HOUR))
        assert not is_due(just_before, last, HOUR, None)
        assert is_due(after, last, HOUR, None)
        assert is_due(after, last, 5 * HOUR, after)
        assert not is_due(just_before, last, 5 * HOUR, after)


@given(
    steps=st.lists(st.timedeltas(timedelta(days=-400), timedelta(days=400)), max_size=8),
    every=st.timedeltas(timedelta(seconds=1), timedelta(days=1)),
)
def test_however_the_clock_is_set_the_next_evaluation_is_never_further_than_the_pause(steps, every):
    now, last = datetime(2026, 1, 22, 9, tzinfo=UTC), None
    for step in steps:
        now += step
        if is_due(now, last, every, None):
            last = now
        assert timedelta(0) <= now - last < every
        assert is_due(last + every, last, every, None)


def test_after_failures_it_looks_sooner_and_then_ever_more_seldom():
    minute = timedelta(minutes=1)
    pauses = [pause_after(failures, HOUR) for failures in range(10)]
    assert pauses == [HOUR, minute, 2 * minute, 4 * minute, 8 * minute, 16 * minute, 32 * minute, HOUR, HOUR, HOUR]
    assert pause_after(10**9, HOUR) == HOUR
    assert pause_after(3, timedelta(seconds=5)) == timedelta(seconds=5)


@pytest.mark.parametrize("set_by", [HOUR, -HOUR, timedelta(days=20000), 2 * CLOCK_TOLERANCE, -2 * CLOCK_TOLERANCE])
def test_a_clock_that_somebody_sets_is_noticed_with_how_far(set_by):
    before = Moment(NOW, 1000.0)
    after = Moment(NOW + timedelta(seconds=0.5) + set_by, 1000.5)
    assert clock_step(before, after) == set_by


def test_a_clock_that_runs_by_itself_is_no_step():
    assert clock_step(Moment(NOW, 5.0), Moment(NOW + HOUR, 3605.0)) == timedelta(0)
    assert clock_step(Moment(NOW, 5.0), Moment(NOW + HOUR + CLOCK_TOLERANCE, 3605.0)) == timedelta(0)


def test_each_day_is_new_once():
    day = date(2026, 1, 22)
    assert is_new_day(day, None)
    assert is_new_day(day, date(2026, 1, 21))
    assert not is_new_day(day, day)


def test_a_clock_set_back_over_midnight_makes_no_second_line_but_one_from_the_far_future_is_not_believed():
    day = date(2026, 1, 22)
    assert not is_new_day(day, date(2026, 1, 23))
    assert is_new_day(day, date(2026, 1, 24))
    assert is_new_day(day, date(2037, 1, 1))
