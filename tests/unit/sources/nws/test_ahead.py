"""What of a forecast is still to come."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.core import SourceUnavailable
from alertd.sources.nws.ahead import minima_ahead, without_past
from alertd.weather import PeriodMinimum, Series, bind_minima, unbound_minima

NIGHT = PeriodMinimum(datetime(2026, 1, 23, 0, tzinfo=UTC), datetime(2026, 1, 23, 14, tzinfo=UTC), -9.0)
NEXT_NIGHT = PeriodMinimum(datetime(2026, 1, 24, 0, tzinfo=UTC), datetime(2026, 1, 24, 14, tzinfo=UTC), -7.0)


def series(*celsius, start="2026-01-23T00"):
    times = np.datetime64(start, "s") + np.arange(len(celsius)) * np.timedelta64(3600, "s")
    return Series(times, {"air_temperature": np.array([celsius], dtype=np.float64)})


def at(hour, day=23):
    return datetime(2026, 1, day, hour, 30, tzinfo=UTC)


#: Coldest at 10:00.
HOURS = series(-1, -2, -3, -4, -5, -5, -6, -6, -7, -7, -8, -6, -4, -2, 0, 1)


def part(first, hours=HOURS):
    """Return the hours from one of the day on: a forecast that shows nothing before it."""
    return hours.window(datetime(2026, 1, 23, first, tzinfo=UTC), datetime(2026, 1, 25, tzinfo=UTC))


def night_from(hour, temperature=-9.0):
    """Return the part of the night that begins at an hour."""
    return PeriodMinimum(datetime(2026, 1, 23, hour, tzinfo=UTC), NIGHT.end, temperature)


def bound(minima, hours, now):
    """Return air temperatures of the day by hour as people are told them, from an hour before `now` on."""
    ahead = minima_ahead(minima, hours, now)
    left = without_past(hours, now - timedelta(hours=1), ahead)
    assert unbound_minima(left, ahead) == ()
    told = bind_minima(left, ahead).window(now - timedelta(hours=1), datetime(2026, 1, 26, tzinfo=UTC))
    return {
        int((time - np.datetime64("2026-01-23T00", "s")) // np.timedelta64(1, "h")): value
        for time, value in zip(told.times, told.air_temperature[0], strict=True)
    }


def test_a_minimum_counts_until_its_period_ends():
    assert minima_ahead([NIGHT], HOURS, at(20, day=22)) == (NIGHT,)
    assert minima_ahead([NIGHT], HOURS, at(9)) == (NIGHT,)
    assert minima_ahead([NIGHT], HOURS, at(13)) == (NIGHT,)
    assert minima_ahead([NIGHT], HOURS, datetime(2026, 1, 23, 14, tzinfo=UTC)) == ()
    assert minima_ahead([NIGHT], series(-1), datetime(2026, 1, 23, 14, tzinfo=UTC)) == ()


def test_the_hours_of_a_night_that_are_ahead_are_told_alike_all_night_long():
    before = bound([NIGHT], HOURS, at(20, day=22))
    assert before[10] == -9.0
    for hour in range(14):
        told = bound([NIGHT], HOURS, at(hour))
        assert told == {each: before[each] for each in range(hour, 16)}


def test_the_dawn_is_as_cold_as_stated_until_it_comes():
    """Six of fourteen hours are left, too few for a minimum to bind if no others are shown."""
    assert bound([NIGHT], HOURS, at(9))[10] == -9.0


def test_after_the_dawn_no_hour_is_as_cold_as_it_was():
    told = bound([NIGHT], HOURS, at(12))
    assert -4.8 < told[12] < -4.0
    assert told[14] == 0.0


def test_a_cut_night_whose_dawn_is_ahead_keeps_its_minimum():
    """The period begins where the layers begin, and goes on getting colder."""
    minima = [night_from(5), NEXT_NIGHT]
    assert minima_ahead(minima, part(5), at(5)) == tuple(minima)
    assert bound([night_from(5), NEXT_NIGHT], with_next_night(5), at(5))[10] == -9.0


def with_next_night(first):
    """Return the hours from one of the day on, and those of the next night."""
    both = series(*HOURS.air_temperature[0], *[1.0] * 9, *[-4.0] * 14)
    return part(first, both)


def test_a_cut_night_whose_dawn_was_cut_away_makes_no_hour_falsely_cold():
    """From 11:00 on it only gets warmer, and the -9 °C are those of an hour that the layers do not show any more."""
    hours = with_next_night(11)
    for now in (at(10), at(11), at(12), at(13)):
        assert minima_ahead([night_from(11), NEXT_NIGHT], hours, now) == (NEXT_NIGHT,)
    assert bound([night_from(11), NEXT_NIGHT], hours, at(11))[12] == -4.0
    # the next night is no less cold for that
    assert min(bound([night_from(11), NEXT_NIGHT], hours, at(11)).values()) == -7.0


def test_a_night_that_was_kept_whole_though_its_dawn_is_over_makes_no_hour_falsely_cold():
    assert minima_ahead([NIGHT], part(11), at(11)) == ()
    assert minima_ahead([NIGHT, NEXT_NIGHT], part(11), at(11)) == (NEXT_NIGHT,)
    assert minima_ahead([NIGHT], part(14), at(13)) == ()


def test_a_night_that_was_kept_whole_and_whose_dawn_is_ahead_binds_what_the_layers_show():
    (kept,) = minima_ahead([NIGHT], part(8), at(8))
    assert (kept.start.hour, kept.end, kept.air_temperature) == (7, NIGHT.end, -9.0)
    assert bound([NIGHT], part(8), at(8))[10] == -9.0


def test_a_whole_night_that_begins_with_the_layers_is_not_taken_for_a_cut_one():
    """A night that gets warmer from its first hour on; nothing of it was cut away."""
    warming = series(*range(-5, 11))
    assert minima_ahead([NIGHT, NEXT_NIGHT], warming, at(0)) == (NIGHT, NEXT_NIGHT)


def test_a_short_night_that_does_not_begin_with_the_layers_is_not_taken_for_a_cut_one():
    """The last period of all ends with the layers."""
    last = PeriodMinimum(datetime(2026, 1, 23, 12, tzinfo=UTC), datetime(2026, 1, 23, 15, tzinfo=UTC), -9.0)
    before = PeriodMinimum(datetime(2026, 1, 22, 0, tzinfo=UTC), datetime(2026, 1, 22, 14, tzinfo=UTC), 0.0)
    assert minima_ahead([before, last], part(8), at(8)) == (last,)


def test_a_night_without_another_to_compare_is_not_taken_for_a_cut_one():
    assert minima_ahead([night_from(11)], part(11), at(11)) == (night_from(11),)


def test_equally_cold_hours_ahead_keep_the_minimum_of_a_cut_night():
    """28.0 and 28.4 °F, both written as 28, may be either way round."""
    flat = series(-8.0, *([-7.8] * 6), start="2026-01-23T08")
    assert minima_ahead([night_from(8), NEXT_NIGHT], flat, at(8)) == (night_from(8), NEXT_NIGHT)


def test_a_night_of_which_hours_are_unseen_and_yet_to_come_keeps_its_minimum():
    assert minima_ahead([NIGHT], part(11), at(9)) == (NIGHT,)
    assert minima_ahead([NIGHT], series(-1, start="2026-01-25T00"), at(9)) == (NIGHT,)


def test_hours_without_a_value_show_nothing():
    missing = series(*([np.nan] * 11), *HOURS.air_temperature[0, 11:])
    assert minima_ahead([NIGHT], missing, at(11)) == ()
    assert minima_ahead([NIGHT], series(*[np.nan] * 16), at(11)) == (NIGHT,)


def test_hours_of_the_past_are_dropped_and_the_running_one_is_kept():
    assert without_past(HOURS, at(9)).times[0] == np.datetime64("2026-01-23T10:00:00")
    assert without_past(HOURS, datetime(2026, 1, 23, 9, tzinfo=UTC)).n_times == 7


def test_hours_of_a_night_that_is_running_are_kept():
    assert without_past(HOURS, at(9), [night_from(3), NEXT_NIGHT]).times[0] == np.datetime64("2026-01-23T03:00:00")
    assert without_past(HOURS, at(9), [NEXT_NIGHT]).times[0] == np.datetime64("2026-01-23T10:00:00")


def test_a_forecast_that_has_ended_is_of_no_use():
    with pytest.raises(SourceUnavailable, match="ends at 2026-01-23T15:00:00Z"):
        without_past(HOURS, at(15))
    with pytest.raises(SourceUnavailable, match="ends at 2026-01-23T15:00:00Z"):
        without_past(HOURS, at(15), [NIGHT])
