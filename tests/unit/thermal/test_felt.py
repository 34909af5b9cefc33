"""What a model says: its lowest, its range, and its own uncertainty."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from alertd.thermal import DRAWS, Exposure, Model, Parameter, Tissue, Used, felt_bound, felt_of, with_spread
from alertd.thermal.felt import at_times

TIMES = np.datetime64("2026-01-20T00:00:00", "s") + np.arange(4) * np.timedelta64(3600, "s")
COLD = np.array([[0.0, -4.0, -6.0, -2.0], [0.0, -2.0, -4.0, np.nan]])
WETNESS = Parameter("water_content", 0.35, 0.25, 0.45, "1", "water in the root ball", "assumed")
WIND = Parameter("wind_share", 0.5, 0.35, 0.7, "1", "wind at the pots", "assumed")


def felt(spread=1.0, **more):
    used = (Used(WETNESS, 0.4), Used(WIND, 0.9), Used(WIND.measured(0.6), 0.0))
    return felt_of(Model.ROOT_BALL, Tissue.ROOTS, TIMES, COLD, np.full(4, spread), used, {}, **more)


def test_each_realization_is_repeated_with_the_uncertainty_of_the_model():
    drawn = with_spread(COLD, np.full(4, 2.0))
    assert drawn.shape == (2 * DRAWS, 4)
    assert drawn[DRAWS // 2].tolist() == COLD[0].tolist(), "the middle draw is the model's word"
    assert (np.diff(drawn[:DRAWS, 1]) > 0.0).all()
    np.testing.assert_allclose(drawn[:DRAWS, 2].mean(), -6.0)


def test_each_realization_may_have_its_own_spread():
    own = np.array([[1.0] * 4, [3.0] * 4])[: COLD.shape[0]]
    drawn = with_spread(COLD, own)
    for row, spread in enumerate(own[:, 0]):
        alone = with_spread(COLD[row : row + 1], np.full(4, spread))
        np.testing.assert_array_equal(drawn[row * DRAWS : (row + 1) * DRAWS], alone)
    assert felt_of(Model.ROOT_BALL, Tissue.ROOTS, TIMES, COLD, own, (), {}).spread == np.median(own[:, 0])


def test_without_a_spread_all_draws_are_alike():
    assert (with_spread(COLD, np.zeros(4))[:DRAWS] == COLD[0]).all()


def test_the_lowest_of_all_times_is_told_with_its_range():
    said = felt()
    assert said.minimum_low < said.minimum < said.minimum_high
    assert said.minimum == pytest.approx(-5.0, abs=0.5)
    assert said.coldest == TIMES[2]
    assert said.spread == 1.0
    assert said.exposure.repeats == DRAWS


def test_what_matters_most_comes_first_and_what_was_measured_is_not_assumed():
    said = felt()
    assert [each.parameter.name for each in said.used] == ["wind_share", "water_content", "wind_share"]
    assert [each.parameter.name for each in said.assumed] == ["wind_share", "water_content"]


def test_a_bound_is_told_as_a_bound():
    said = felt_bound(Model.ROOT_BALL, Tissue.ROOTS, TIMES, COLD, ("wind_speed",))
    assert said.is_bound
    assert said.minimum == -5.0
    assert said.exposure.repeats == 1
    assert said.missing == ("wind_speed",)


def test_an_exposure_can_be_cut_to_a_time():
    part = felt().exposure.window(datetime(2026, 1, 20, 1, tzinfo=UTC), datetime(2026, 1, 20, 3, tzinfo=UTC))
    assert isinstance(part, Exposure)
    assert part.times.tolist() == TIMES[1:3].tolist()
    assert part.temperature.shape == (2 * DRAWS, 2)


def test_a_parameter_outside_its_own_range_is_refused():
    with pytest.raises(ValueError, match="wind_share has 2"):
        Parameter("wind_share", 2.0, 0.3, 0.7, "1", "wind at the pots", "assumed")


MINUTE = np.timedelta64(60, "s")


def test_what_was_said_an_hour_ago_stands_on_the_times_of_now():
    before = felt(2.0)
    now = at_times(before, TIMES + 60 * MINUTE)
    np.testing.assert_array_equal(now.exposure.times, TIMES + 60 * MINUTE)
    np.testing.assert_array_equal(now.exposure.temperature[:, :3], before.exposure.temperature[:, 1:])
    assert np.isnan(now.exposure.temperature[:, 3]).all(), "nothing was said of the hour after the last"
    assert now.exposure.repeats == before.exposure.repeats
    assert (now.spread, now.used, now.model) == (before.spread, before.used, before.model)


def test_between_two_times_the_earlier_one_counts_and_before_the_first_that():
    before = felt()
    now = at_times(before, TIMES + 59 * MINUTE)
    np.testing.assert_array_equal(now.exposure.temperature, before.exposure.temperature)
    early = at_times(before, TIMES - 59 * MINUTE)
    np.testing.assert_array_equal(early.exposure.temperature[:, 0], before.exposure.temperature[:, 0])
    np.testing.assert_array_equal(early.exposure.temperature[:, 2], before.exposure.temperature[:, 1])
    assert np.isnan(at_times(before, TIMES - 60 * MINUTE).exposure.temperature[:, 0]).all()


def test_the_lowest_is_that_of_the_times_of_now():
    rows = np.array([[-9.0, -4.0, -6.0, -2.0], [-9.0, -2.0, -4.0, np.nan], [np.nan] * 4])
    said = felt_of(Model.ROOT_BALL, Tissue.ROOTS, TIMES, rows, np.zeros(4), (), {"core": np.arange(4.0)})
    assert (said.minimum, said.coldest) == (-9.0, TIMES[0])
    now = at_times(said, TIMES + 60 * MINUTE)
    assert (now.minimum, now.coldest) == (-5.0, TIMES[2])
    assert now.minimum_low == -6.0
    assert now.minimum_high == -4.0
    np.testing.assert_array_equal(now.medians["core"], [1.0, 2.0, 3.0, np.nan])
