"""How long a root ball cannot be frozen through, by the heat that has to leave first."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from alertd.thermal.container import Surroundings, solve_root_zone, uniform_state
from alertd.thermal.film import Film
from alertd.thermal.grid import grid_of
from alertd.thermal.heat_bound import heat_bound, missing_heat
from alertd.thermal.medium import constants_of
from alertd.thermal.pots import container_of
from alertd.thermal.substrates import medium_of

HALF_DAYS = 10

#: [K] How much colder a share may be read off than its heat allows. What is less than the outermost cells hold [1] is
#: read off the line of temperatures through a cell that freezes: by up to 0.13 K too cold in single hours (measured).
SLACK, SLACK_WITHIN_A_CELL, IN_CELLS = 0.05, 0.3, 0.1


def around_with(wall, conductance=10.0, *, others=None):
    """Return surroundings of one member; top and bottom as the wall unless other temperatures are given."""
    film = Film(np.atleast_2d(wall), np.full_like(np.atleast_2d(wall), conductance))
    if others is None:
        return Surroundings(film, film, film)
    other = Film(np.atleast_2d(others), np.full_like(np.atleast_2d(wall), conductance))
    return Surroundings(film, other, other)


def hours_held(bound):
    return int(np.isfinite(bound[0]).sum())


half_days = st.lists(st.floats(-14.0, 6.0), min_size=HALF_DAYS, max_size=HALF_DAYS).map(
    lambda values: np.repeat(np.array(values), 12)
)


@settings(max_examples=40, deadline=None)
@example((np.repeat([0.0] * 9 + [-11.0], 12), np.zeros(120)), 12.0, 15.0, 0.5, 0.05, 0.0)
@given(
    st.tuples(half_days, half_days),
    st.floats(1.0, 25.0),
    st.sampled_from([3.0, 15.0, 60.0]),
    st.floats(0.12, 0.6),
    st.sampled_from([0.05, 0.2, 0.5]),
    st.floats(-12.0, 5.0),
)
def test_no_root_ball_is_colder_than_its_heat_allows(weather, conductance, litres, water, share, start):
    container, media = container_of(litres), [medium_of(water)]
    around = around_with(weather[0], conductance, others=weather[1])
    # It begins with ice here and there, unless it is warm.
    begun = solve_root_zone(container, media, around_with(np.full(6, start)), max(start, 0.5)).end
    lacking = missing_heat(container, media, begun)
    bound = heat_bound(container, media, around, lacking, share)
    zone = solve_root_zone(container, media, around, begun, share=share)
    assert (zone.coldest_share >= bound - (SLACK if share >= IN_CELLS else SLACK_WITHIN_A_CELL)).all()


def test_the_bound_is_where_the_last_water_freezes_and_then_nothing():
    container, media = container_of(15.0), [medium_of(0.35)]
    bound = heat_bound(container, media, around_with(np.full(240, -6.0)), np.zeros(1), 0.2)
    held = hours_held(bound)
    assert 0 < held < 240
    np.testing.assert_allclose(bound[0, :held], -0.7)
    assert (bound[0, held:] == -np.inf).all()


def test_the_bound_ends_with_the_hour_by_whose_end_the_heat_can_have_left():
    container, media = container_of(15.0), [medium_of(0.35)]
    grid, constants = grid_of(container), constants_of(media)
    area = grid.wall.sum() + grid.top.sum() + grid.bottom.sum()
    by_hour = area * 10.0 * (constants.freezing_point[0] + 6.0) * 3600.0
    needed = 0.2 * grid.volumes.sum() * constants.melting[0]
    bound = heat_bound(container, media, around_with(np.full(240, -6.0)), np.zeros(1), 0.2)
    assert hours_held(bound) == int(np.ceil(needed / by_hour)) - 1


def test_warm_hours_give_nothing_back():
    container, media = container_of(15.0), [medium_of(0.35)]
    cold = np.full(240, -6.0)
    held = hours_held(heat_bound(container, media, around_with(cold), np.zeros(1), 0.2))
    cold[:24] = 8.0
    assert hours_held(heat_bound(container, media, around_with(cold), np.zeros(1), 0.2)) == held + 24


def test_each_surface_counts_by_its_own_film():
    container, media = container_of(15.0), [medium_of(0.35)]
    everywhere, wall = (
        hours_held(heat_bound(container, media, around, np.zeros(1), 0.2))
        for around in (
            around_with(np.full(480, -6.0)),
            around_with(np.full(480, -6.0), others=np.full(480, 5.0)),
        )
    )
    grid = grid_of(container)
    ends = grid.top.sum() + grid.bottom.sum()
    assert wall == pytest.approx(everywhere * (1.0 + ends / grid.wall.sum()), abs=3.0)


def test_less_trust_a_smaller_share_and_ice_that_is_there_end_it_sooner():
    container, media, around = container_of(25.0), [medium_of(0.35)], around_with(np.full(480, -5.0))
    usual = hours_held(heat_bound(container, media, around, np.zeros(1), 0.3))
    assert hours_held(heat_bound(container, media, around, np.zeros(1), 0.3, 0.5)) == pytest.approx(usual / 2, abs=1)
    assert hours_held(heat_bound(container, media, around, np.zeros(1), 0.1)) == pytest.approx(usual / 3, abs=1)
    volume = float(grid_of(container).volumes.sum())
    half = np.array([0.15 * volume * float(constants_of(media).melting[0])])
    assert hours_held(heat_bound(container, media, around, half, 0.3)) == pytest.approx(usual / 2, abs=1)


def test_the_heat_that_is_missing_is_what_would_melt_all_ice():
    container, media = container_of(25.0), [medium_of(0.35), medium_of(0.5)]
    constants, volume = constants_of(media), float(grid_of(container).volumes.sum())
    assert missing_heat(container, media, uniform_state(container, media, 3.0, 2)).tolist() == [0.0, 0.0]
    at_last = missing_heat(container, media, uniform_state(container, media, -0.7, 2))
    np.testing.assert_allclose(at_last, constants.melting * volume)
    colder = missing_heat(container, media, uniform_state(container, media, -1.7, 2))
    np.testing.assert_allclose(colder - at_last, constants.capacity_frozen * volume)


def test_what_is_warm_elsewhere_does_not_make_up_for_ice():
    container, media = container_of(25.0), [medium_of(0.35)]
    state = uniform_state(container, media, -2.0, 1)
    frozen = missing_heat(container, media, state)
    state.enthalpy[:6] = constants_of(media).enthalpy(np.full_like(state.enthalpy[:6], 30.0))
    share = float(grid_of(container).volumes[6:].sum() / grid_of(container).volumes.sum())
    np.testing.assert_allclose(missing_heat(container, media, state), frozen * share)
