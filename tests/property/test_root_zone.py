"""What must hold of root balls whatever the weather: bounds, order, energy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alertd.thermal.container import Container, Surroundings, solve_root_zone, uniform_state
from alertd.thermal.film import Film
from alertd.thermal.grid import grid_of
from alertd.thermal.medium import constants_of
from alertd.thermal.pots import container_of
from alertd.thermal.substrates import medium_of

HOURS = 48
POT = container_of(25.0)


def surroundings(temperature, conductance=12.0):
    values = np.atleast_2d(np.asarray(temperature, dtype=float))
    film = Film(values, np.broadcast_to(np.asarray(conductance, dtype=float), values.shape).copy())
    return Surroundings(film, film, film)


weathers = st.lists(st.floats(-35.0, 25.0), min_size=6, max_size=6).map(lambda values: np.repeat(values, HOURS // 6))
conductances = st.floats(1.0, 30.0)
waters = st.floats(0.12, 0.6)


@settings(max_examples=20, deadline=None)
@given(weathers, conductances, waters)
def test_no_root_gets_colder_or_warmer_than_what_it_meets(weather, conductance, water):
    zone = solve_root_zone(POT, medium_of(water), surroundings(weather, conductance), 4.0)
    low = np.minimum.accumulate(np.minimum(weather, 4.0))
    high = np.maximum.accumulate(np.maximum(weather, 4.0))
    for values in (zone.shell[0], zone.core[0], zone.coldest_share[0]):
        assert (values >= low - 0.01).all()
        assert (values <= high + 0.01).all()


@settings(max_examples=20, deadline=None)
@given(weathers, st.floats(0.5, 6.0), waters)
def test_colder_air_never_warms_a_root(weather, colder, water):
    both = surroundings(np.stack([weather, weather - colder]))
    zone = solve_root_zone(POT, medium_of(water), both, 4.0)
    assert (zone.core[1] <= zone.core[0] + 1e-6).all()
    assert zone.coldest_share[1].min() <= zone.coldest_share[0].min() + 0.01
    assert zone.frozen_share[1].max() >= zone.frozen_share[0].max() - 0.01
    # In the hours in which the front goes through the outermost cells it is not known better than to half a degree
    # where it is: 0.41 K at most in 250 invented weathers.
    assert (zone.coldest_share[1] <= zone.coldest_share[0] + 0.6).all()


@settings(max_examples=15, deadline=None)
@given(weathers, conductances, waters)
def test_numba_and_numpy_say_the_same(weather, conductance, water):
    media = [medium_of(water), medium_of(0.3), medium_of(0.45, 0.8)]
    three = surroundings(np.stack([weather, weather - 3.0, weather + 1.0]), conductance)
    plain, fast = (solve_root_zone(POT, media, three, 2.0, is_fast=is_fast) for is_fast in (False, True))
    for name in ("shell", "core", "coldest_share", "frozen_share"):
        np.testing.assert_allclose(getattr(fast, name), getattr(plain, name), rtol=0.0, atol=1e-9)
    np.testing.assert_allclose(fast.end.enthalpy, plain.end.enthalpy, rtol=0.0, atol=1.0)


@pytest.mark.parametrize("is_fast", [False, True])
def test_an_insulated_root_ball_keeps_its_energy(is_fast):
    medium = medium_of(0.35)
    grid = grid_of(POT)
    uneven = uniform_state(POT, medium, 0.0, 2)
    ramp = np.linspace(-15.0, 10.0, grid.n_rings)[None, :, None]
    uneven.enthalpy[:] = constants_of(medium).enthalpy(np.broadcast_to(ramp, uneven.enthalpy.shape).copy())
    before = (uneven.enthalpy * grid.volumes[:, :, None]).sum(axis=(0, 1))
    scale = (np.abs(uneven.enthalpy) * grid.volumes[:, :, None]).sum(axis=(0, 1))
    zone = solve_root_zone(POT, medium, surroundings(np.full((2, HOURS), -5.0), 0.0), uneven, is_fast=is_fast)
    after = (zone.end.enthalpy * grid.volumes[:, :, None]).sum(axis=(0, 1))
    assert (np.abs(after - before) <= 1e-10 * scale).all()
    assert np.ptp(zone.end.enthalpy) < np.ptp(uneven.enthalpy)


def night(minimum, hours=24):
    """Return air of one night, from 4 °C down and up again."""
    return 4.0 + (minimum - 4.0) * np.sin(np.pi * np.arange(hours) / hours) ** 2


@pytest.mark.parametrize("minimum", [-6.0, -9.4, -12.2, -15.0])
def test_wetter_is_warmer_in_one_night(minimum):
    media = [medium_of(water) for water in (0.12, 0.25, 0.35, 0.5)]
    zone = solve_root_zone(POT, media, surroundings(np.tile(night(minimum), (4, 1))), 4.0)
    assert (np.diff(zone.shell.min(axis=1)) > 0.0).all()


@pytest.mark.parametrize("minimum", [-9.4, -12.2, -17.0])
def test_a_larger_pot_never_has_more_of_its_volume_below_the_limit(minimum):
    volumes = []
    for litres in np.geomspace(5.0, 100.0, 12):
        zone = solve_root_zone(container_of(float(litres)), medium_of(0.35), surroundings(night(minimum)), 4.0)
        volumes.append(100.0 * zone.frozen_share.max())
    assert np.diff(volumes).max() <= 0.3
    assert volumes[0] > volumes[-1] + 5.0


def test_nothing_is_moved_by_the_number_of_members():
    weather = night(-12.2)
    alone = solve_root_zone(POT, medium_of(0.35), surroundings(weather), 4.0)
    many = solve_root_zone(POT, medium_of(0.35), surroundings(np.tile(weather, (7, 1))), 4.0)
    np.testing.assert_allclose(many.coldest_share, np.tile(alone.coldest_share, (7, 1)), atol=1e-9)
    assert isinstance(POT, Container)
