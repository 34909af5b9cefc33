import numpy as np
import pytest

from alertd.thermal.variation import Variation, decisive_of, spread_between, variations_of, varied_members


def lows(*minima):
    return np.array([[1.0, low, 1.0] for low in minima])


def test_numbers_are_varied_on_the_median_and_on_a_cold_realization():
    assert varied_members(lows(5.0, -3.0, 0.0, 1.0, -1.0)) == (2, 1)
    assert varied_members(lows(*range(51))) == (25, 5)


def test_numbers_are_varied_once_where_there_is_one_realization():
    assert varied_members(lows(-4.0)) == (0,)


def test_all_uncertainty_is_the_root_of_the_squares_of_its_parts():
    variation = Variation(np.array([0.0, -4.0, -1.0]), np.array([[0.0, 3.0, 0.0], [0.0, 4.0, 0.0]]), 12.0)
    np.testing.assert_allclose(variation.spread, [12.0, 13.0, 12.0])
    assert variation.coldest == 1


def test_rows_of_edges_become_half_differences_of_the_realization_that_was_varied():
    rows = np.array([[0.0], [-9.0], [1.0], [3.0], [4.0], [2.0], [-10.0], [-6.0], [-8.0], [-8.0]])
    middle, cold = variations_of(rows, 2, (0, 1), 0.5)
    np.testing.assert_array_equal(middle.halves, [[1.0], [-1.0]])
    np.testing.assert_array_equal(cold.halves, [[2.0], [0.0]])
    assert (middle.temperature[0], cold.temperature[0]) == (0.0, -9.0)
    assert decisive_of([middle, cold]) is cold


def test_where_all_is_measured_only_the_equations_are_uncertain():
    (variation,) = variations_of(np.zeros((3, 4)), 3, (1,), 0.5)
    np.testing.assert_array_equal(variation.spread, np.full(4, 0.5))


def bare(temperature, half):
    return Variation(np.array([temperature]), np.array([[half]]), 0.0)


@pytest.mark.parametrize(
    ("temperature", "expected"), [(2.0, 0.4), (0.0, 0.4), (-2.0, 0.8), (-5.0, 1.4), (-10.0, 2.4), (-15.0, 2.4)]
)
def test_the_uncertainty_of_a_realization_lies_between_the_two_by_how_cold_it_is(temperature, expected):
    found = spread_between(np.array([[temperature]]), [bare(0.0, 0.4), bare(-10.0, 2.4)])
    assert found[0, 0] == pytest.approx(expected)


def test_the_larger_uncertainty_counts_where_both_are_equally_cold():
    found = spread_between(np.array([[-3.0], [5.0]]), [bare(0.0, 0.4), bare(0.01, 2.4)])
    np.testing.assert_array_equal(found, [[2.4], [2.4]])


def test_one_varied_realization_stands_for_all():
    found = spread_between(np.zeros((3, 1)), [bare(0.0, 0.7)])
    np.testing.assert_array_equal(found, [[0.7]] * 3)
