"""What a model says in few numbers."""

from __future__ import annotations

import numpy as np
import pytest

from alertd.thermal import Exposure, Model, Tissue
from alertd.thermal.lowest import figures_of, hours_past, lowest_median, lowest_of, median_at
from tests.fakes.felt import dip, felt_with, hours_from
from tests.fakes.garden import local

TUESDAY = local("2026-01-20 08:00")
TIMES = hours_from(TUESDAY, 6)


def exposure(*rows, times=TIMES):
    return Exposure(Tissue.ROOTS, times, np.array(rows, dtype=np.float64), 0.0)


def test_the_lowest_is_told_with_its_range_and_the_hour_of_the_median():
    found = lowest_of(exposure([0, -1, -4, -2, 0, 0], [0, -1, -6, -2, 0, 0], [0, -9, -8, -2, 0, 0]))
    assert found is not None
    assert found.temperature == -6.0
    assert found.low == pytest.approx(-8.7)
    assert found.high == pytest.approx(-4.2)
    assert found.time == TIMES[2]


def test_hours_and_realizations_of_which_nothing_is_known_do_not_count():
    nothing = np.full(6, np.nan)
    found = lowest_of(exposure([np.nan, -1, np.nan, -2, 0, 0], nothing))
    assert found is not None
    assert (found.temperature, found.time) == (-2.0, TIMES[3])
    assert lowest_of(exposure(nothing)) is None
    assert lowest_of(Exposure(Tissue.ROOTS, TIMES[:0], np.empty((3, 0)), 0.0)) is None


def felt(**medians):
    return felt_with(Model.ROOT_BALL, TUESDAY, dip(6, -5.0, 3), medians=medians)


def test_a_further_figure_has_its_lowest_in_the_time_that_counts():
    said = felt(core=np.array([-9.0, 0.0, -1.0, -2.0, np.nan, -3.0]))
    assert lowest_median(said, "core", TIMES[1], TIMES[4]) == (-2.0, TIMES[3])
    assert lowest_median(said, "core", TIMES[4], TIMES[4]) is None
    assert lowest_median(said, "core", TIMES[5] + np.timedelta64(1, "h"), TIMES[5] + np.timedelta64(2, "h")) is None
    assert lowest_median(said, "shell", TIMES[0], TIMES[5]) is None
    assert median_at(said, "core", TIMES[2]) == -1.0
    assert median_at(said, "core", TIMES[4]) is None


def test_each_figure_has_its_own_way_to_be_one_number():
    said = felt(
        core=np.array([1.0, 0.0, -1.0, 0.0, np.nan, 0.0]),
        frozen_share=np.array([0.0, 0.1, 0.4, 0.3, 0.2, 0.1]),
        gain=np.array([9.0, 8.0, 7.0, 2.5, 7.0, 8.0]),
        air=np.full(6, np.nan),
        hours_below=np.arange(6.0),
    )
    assert figures_of(said) == {"core": -1.0, "frozen_share": 0.4, "gain": 2.5}


def test_a_gain_that_is_not_known_when_it_is_coldest_is_left_out():
    assert figures_of(felt(gain=np.array([9.0, 8.0, 7.0, np.nan, 7.0, 8.0]))) == {}


def test_the_hours_past_a_temperature_are_those_of_the_median():
    rows = exposure([0, -5, -5, -5, 0, np.nan], [0, -5, -6, -7, -1, np.nan], [0, 0, -6, -7, -6, np.nan])
    assert hours_past(rows, -5.0, at_or_below=False) == 2.0
    assert hours_past(rows, -5.0, at_or_below=True) == 3.0


def test_a_coarse_axis_has_longer_hours():
    six_hourly = TIMES[0] + np.arange(3) * np.timedelta64(6, "h")
    assert hours_past(exposure([-6, 0, -6], times=six_hourly), -5.0, at_or_below=False) == 12.0
    assert hours_past(exposure([-6], times=six_hourly[:1]), -5.0, at_or_below=False) == 1.0
