"""Columns of layers: cells, enthalpy, energy, and going on."""

from __future__ import annotations

import numpy as np
import pytest

from alertd.thermal.column import HOUR, Layer, column_of
from alertd.thermal.column_flow import DepthReader, solve_column, steps_an_hour
from alertd.thermal.film import Film
from alertd.thermal.ground import GARDEN_LOAM, lagged, start_profile
from alertd.thermal.medium import Medium

STRAW = Medium(0.055, 0.055, 1e5, 1e5, 0.0)


def film(temperature, conductance=10.0):
    temperature = np.atleast_2d(np.asarray(temperature, dtype=float))
    return Film(temperature, np.full(temperature.shape, conductance))


def uniform(column, temperature, members=1):
    return column.enthalpy(np.full((len(column.size), members), temperature))


def test_cells_fill_their_layers_and_grow_with_depth():
    column = column_of([Layer(STRAW, 0.105), Layer(GARDEN_LOAM, 2.0)])
    assert column.size.sum() == pytest.approx(2.105)
    assert np.cumsum(column.size)[:12] == pytest.approx(np.append(np.arange(1, 11) * 0.0105, [0.115, 0.125]), abs=2e-3)
    assert column.size[-1] > 10.0 * column.size[0]
    assert len(column.depths) == len(column.size)


def test_a_layer_thinner_than_a_cell_is_one_cell():
    assert column_of([Layer(STRAW, 0.003)]).size.tolist() == [[0.003]]


@pytest.mark.parametrize(
    "wrong", [{"thickness": 0.0}, {"thickness": np.inf}, {"conductivity_factor": np.array([1, 0])}]
)
def test_what_is_no_layer_is_refused(wrong):
    with pytest.raises(ValueError, match="a layer"):
        Layer(**({"medium": STRAW, "thickness": 0.1} | wrong))


def test_temperature_and_enthalpy_undo_each_other():
    column = column_of([Layer(GARDEN_LOAM, 0.03), Layer(STRAW, 0.03)])
    temperature = np.tile([-20.0, -0.7, -0.4, -0.1, 0.0, 15.0], (len(column.size), 1))
    enthalpy = column.enthalpy(temperature)
    np.testing.assert_allclose(column.temperature(enthalpy), temperature, atol=1e-12)
    assert (np.diff(enthalpy, axis=1) > 0.0).all()
    assert enthalpy[0, 3] - enthalpy[0, 1] == pytest.approx(6e7 + 0.6 * 2.2e6), "latent and sensible heat"


def test_all_heat_that_comes_in_is_in_the_column():
    generator = np.random.default_rng(7)
    column = column_of([Layer(STRAW, 0.05, np.array([0.7, 1.0, 1.6])), Layer(GARDEN_LOAM, 0.5)])
    start = uniform(column, 3.0, 3)
    solved = solve_column(column, film(generator.uniform(-40.0, 30.0, (3, 96)), 25.0), 8.0, start, [0.05])
    gained = ((solved.enthalpy - start) * column.size).sum(axis=0)
    held = (np.abs(start) * column.size).sum(axis=0)
    assert (np.abs(gained) > 1e4).all()
    assert (np.abs(gained - solved.heat) <= 1e-10 * held).all()


def test_going_on_is_the_same_as_not_stopping():
    column = column_of([Layer(GARDEN_LOAM, 0.5)])
    weather = film(np.linspace(5.0, -20.0, 48))
    whole = solve_column(column, weather, 8.0, uniform(column, 4.0), [0.1])
    first = solve_column(column, film(weather.temperature[:, :20]), 8.0, uniform(column, 4.0), [0.1])
    second = solve_column(column, film(weather.temperature[:, 20:]), 8.0, first.enthalpy, [0.1])
    assert second.temperature[0, 0].tolist() == whole.temperature[0, 0, 20:].tolist()


def test_members_do_not_see_each_other():
    column = column_of([Layer(GARDEN_LOAM, 0.5)])
    weather = film([np.full(24, -15.0), np.full(24, 5.0)])
    both = solve_column(column, weather, np.array([8.0, 9.0]), uniform(column, 4.0, 2), [0.05, 0.2])
    alone = solve_column(column, film(np.full(24, 5.0)), 9.0, uniform(column, 4.0), [0.05, 0.2])
    assert both.temperature[:, 1].tolist() == alone.temperature[:, 0].tolist()
    assert both.surface[1].tolist() == alone.surface[0].tolist()


def test_a_perfectly_insulated_top_lets_nothing_through():
    column = column_of([Layer(GARDEN_LOAM, 0.5)])
    solved = solve_column(column, film(np.full(24, -30.0), 0.0), 4.0, uniform(column, 4.0), [0.01])
    np.testing.assert_allclose(solved.temperature, 4.0, rtol=1e-12)
    np.testing.assert_allclose(solved.surface, 4.0, rtol=1e-12)


def test_the_surface_is_between_the_film_and_the_ground():
    column = column_of([Layer(GARDEN_LOAM, 0.5)])
    solved = solve_column(column, film(np.full(24, -10.0)), 8.0, uniform(column, 4.0), [0.0])
    assert (solved.surface < solved.temperature[0]).all()
    assert (solved.surface > -10.0).all()


@pytest.mark.parametrize("start", [np.zeros((1, 1)), np.full((50, 1), np.nan)])
def test_a_start_that_does_not_fit_is_refused(start):
    column = column_of([Layer(GARDEN_LOAM, 0.5)], even_to=1.0)
    assert len(column.size) == 50
    with pytest.raises(ValueError, match="cannot start"):
        solve_column(column, film([1.0]), 8.0, start, [0.1])


def test_steps_are_as_short_as_the_film_demands():
    column = column_of([Layer(GARDEN_LOAM, 0.5)])
    assert steps_an_hour(column, 1e6) > steps_an_hour(column, 5.0)
    assert HOUR / steps_an_hour(column, 1e6) < column.longest_step(1e6)


def test_where_layers_meet_the_bend_is_read_exactly():
    column = column_of([Layer(STRAW, 0.1), Layer(GARDEN_LOAM, 0.1)], cell=0.05)
    depths = column.depths[:, None]
    flow = 5.0
    at_joint = -4.0
    straight = at_joint + flow * np.where(depths < 0.1, (depths - 0.1) / 0.055, (depths - 0.1) / 1.8)
    read = DepthReader(column, [0.1, 0.0]).read(column.enthalpy(straight))
    assert read[0, 0] == pytest.approx(at_joint)
    assert read[1, 0] == pytest.approx(straight[0, 0]), "above the first middle, its own"


def test_what_follows_the_air_lags_behind_it():
    steady = np.full((1, 100), 3.0)
    assert lagged(steady)[0] == pytest.approx(3.0)
    step = np.concatenate([np.zeros((1, 1000)), np.ones((1, 72))], axis=1)
    expected = 1.0 - np.exp(-1.0)
    assert lagged(step)[0] == pytest.approx(expected, abs=1e-3)


def test_the_ground_is_warmer_with_depth_and_starts_unfrozen():
    profile = start_profile(np.full((2, 72), -5.0), np.array([-0.1, 0.0, 1.0, 2.0, 3.0]))
    assert profile[:, 0].tolist() == [0.0, 0.0, 5.0, 10.0, 10.0]
    mild = start_profile(np.full((1, 72), 6.0), np.array([0.0, 1.0]), deep_ground_temperature=8.0)
    np.testing.assert_allclose(mild[:, 0], [6.0, 7.0])
