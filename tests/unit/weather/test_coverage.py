from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.weather import longest_gap
from tests.fakes.weather import hourly_series

START = datetime(2026, 1, 23, tzinfo=UTC)
HOUR = timedelta(hours=1)


def test_a_full_window_has_gaps_of_one_step():
    assert longest_gap(hourly_series(START, np.zeros(25)), START, START + 24 * HOUR) == HOUR


def test_the_edges_of_the_window_count():
    series = hourly_series(START, np.zeros(5))
    assert longest_gap(series, START - 3 * HOUR, START + 2 * HOUR) == 3 * HOUR
    assert longest_gap(series, START, START + 24 * HOUR) == 20 * HOUR


def test_missing_values_are_a_gap():
    assert longest_gap(hourly_series(START, [0.0, np.nan, np.nan, 0.0]), START, START + 3 * HOUR) == 3 * HOUR


def test_half_of_the_realizations_is_enough_and_less_is_not():
    values = [[0.0, 0.0, 0.0], [0.0, np.nan, 0.0]]
    assert longest_gap(hourly_series(START, values), START, START + 2 * HOUR) == HOUR
    values.append([0.0, np.nan, 0.0])
    assert longest_gap(hourly_series(START, values), START, START + 2 * HOUR) == 2 * HOUR


def test_a_window_of_which_nothing_is_known_is_all_gap():
    series = hourly_series(START, [np.nan])
    assert longest_gap(series, START, START + 48 * HOUR) == 48 * HOUR


def test_a_window_must_not_end_before_it_starts():
    with pytest.raises(ValueError, match="before it starts"):
        longest_gap(hourly_series(START, [1.0]), START, START - HOUR)
