"""What of a forecast is still to come."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from alertd.core import SourceUnavailable
from alertd.sources.nws.source import minima_ahead, without_past
from alertd.weather import PeriodMinimum, Series

NIGHT = PeriodMinimum(datetime(2026, 1, 23, 0, tzinfo=UTC), datetime(2026, 1, 23, 14, tzinfo=UTC), -9.0)


def series(*celsius, start="2026-01-23T00"):
    times = np.datetime64(start, "s") + np.arange(len(celsius)) * np.timedelta64(3600, "s")
    return Series(times, {"air_temperature": np.array([celsius], dtype=np.float64)})


def at(hour, day=23):
    return datetime(2026, 1, day, hour, 30, tzinfo=UTC)


#: Coldest at 10:00.
HOURS = series(-1, -2, -3, -4, -5, -5, -6, -6, -7, -7, -8, -6, -4, -2, 0, 1)


def test_the_minimum_of_a_night_that_has_not_begun_is_ahead():
    assert minima_ahead([NIGHT], HOURS, at(20, day=22)) == (NIGHT,)


def test_the_minimum_is_ahead_until_the_coldest_hour_is_over():
    assert minima_ahead([NIGHT], HOURS, at(9)) == (NIGHT,)
    assert minima_ahead([NIGHT], HOURS, at(10)) == ()


def test_the_minimum_of_a_night_that_is_over_is_none():
    assert minima_ahead([NIGHT], HOURS, at(14)) == ()
    assert minima_ahead([NIGHT], series(-1), datetime(2026, 1, 23, 14, tzinfo=UTC)) == ()


def test_equally_cold_hours_ahead_keep_the_minimum():
    """28.0 and 28.4 °F, both written as 28, may be either way round."""
    flat = series(*([-8.0] * 10 + [-7.8] * 6))
    assert minima_ahead([NIGHT], flat, at(11)) == (NIGHT,)


def test_without_hours_to_compare_the_minimum_is_kept():
    assert minima_ahead([NIGHT], series(-1, start="2026-01-25T00"), at(9)) == (NIGHT,)
    missing = series(*([np.nan] * 10 + [-7.8] * 6))
    assert minima_ahead([NIGHT], missing, at(9)) == (NIGHT,)


def test_hours_of_the_past_are_dropped_and_the_running_one_is_kept():
    assert without_past(HOURS, at(9)).times[0] == np.datetime64("2026-01-23T10:00:00")
    assert without_past(HOURS, datetime(2026, 1, 23, 9, tzinfo=UTC)).n_times == 7


def test_a_forecast_that_has_ended_is_of_no_use():
    with pytest.raises(SourceUnavailable, match="ends at 2026-01-23T15:00:00Z"):
        without_past(HOURS, at(15))
