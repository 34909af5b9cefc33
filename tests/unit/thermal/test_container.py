"""A root ball by itself: what is refused, and where it starts."""

import numpy as np
import pytest

from alertd.site import Growing, PotStanding, Protection, TreeGroup
from alertd.thermal.container import Container, RootState, Surroundings, solve_root_zone, solver_in_use, uniform_state
from alertd.thermal.film import Film
from alertd.thermal.grid import grid_of
from alertd.thermal.medium import Medium, constants_of
from alertd.thermal.pots import container_of, pot_of
from alertd.thermal.substrates import medium_of

POT = container_of(15.0)
MIX = medium_of(0.35)


def surroundings(temperature=-5.0, n_members=2, n_times=3):
    film = Film(np.full((n_members, n_times), temperature), np.full((n_members, n_times), 10.0))
    return Surroundings(film, film, film)


def test_what_is_no_medium_is_refused():
    for changed in ({"latent_heat": -1.0}, {"conductivity_frozen": 0.0}, {"freezing_point": float("nan")}):
        values = {
            "conductivity_unfrozen": 0.2,
            "conductivity_frozen": 0.3,
            "heat_capacity_unfrozen": 2e6,
            "heat_capacity_frozen": 1e6,
            "latent_heat": 1e8,
        } | changed
        with pytest.raises(ValueError, match="no medium"):
            Medium(**values)
    with pytest.raises(ValueError, match="no medium is given"):
        constants_of([])


def test_enthalpy_and_temperature_are_each_others_inverse_and_the_flux_variable_rises():
    constants = constants_of(MIX)
    temperature = np.linspace(-20.0, 15.0, 400)
    np.testing.assert_allclose(constants.temperature(constants.enthalpy(temperature)), temperature, atol=1e-9)
    assert (np.diff(constants.flux_variable(temperature)) > 0.0).all()


def test_what_is_no_film_is_refused():
    good = np.zeros((1, 2))
    with pytest.raises(ValueError, match="film of temperatures"):
        Film(good, np.zeros((1, 3)))
    with pytest.raises(ValueError, match="not finite"):
        Film(good * np.nan, good)
    with pytest.raises(ValueError, match="below 0"):
        Film(good, good - 1.0)


def test_what_is_no_container_is_refused():
    with pytest.raises(ValueError, match="no container"):
        Container(0.1, 0.0, 0.3)
    with pytest.raises(ValueError, match="more than 0 L"):
        container_of(0.0)


@pytest.mark.parametrize("litres", [1.0, 5.0, 15.0, 25.0, 37.0, 60.0, 100.0, 400.0])
def test_a_pot_holds_what_it_is_called_by(litres):
    assert 1000.0 * container_of(litres).volume == pytest.approx(litres)
    assert 1000.0 * container_of(litres, height=0.3).volume == pytest.approx(litres)
    assert 1000.0 * container_of(litres, top_diameter=0.4).volume == pytest.approx(litres)
    assert float(grid_of(container_of(litres)).volumes.sum()) * 1000.0 == pytest.approx(litres)


def test_a_measured_pot_is_taken_as_measured():
    pot = container_of(20.0, top_diameter=0.4, height=0.25)
    assert (pot.radius_top, pot.height) == (0.2, 0.25)


def test_a_substrate_has_a_moisture_that_can_be():
    for water in (0.0, 0.9):
        with pytest.raises(ValueError, match="water content"):
            medium_of(water)


def test_what_cannot_be_computed_is_refused():
    with pytest.raises(ValueError, match="films of one pot"):
        Surroundings(surroundings().wall, surroundings(n_times=4).top, surroundings().bottom)
    for step in (0.0, 1800.0, 700.0):
        with pytest.raises(ValueError, match="does not divide an hour"):
            solve_root_zone(POT, MIX, surroundings(), 0.0, step=step)
    with pytest.raises(ValueError, match="share of the volume"):
        solve_root_zone(POT, MIX, surroundings(), 0.0, share=1.0)
    with pytest.raises(ValueError, match="the start has shape"):
        solve_root_zone(POT, MIX, surroundings(), uniform_state(POT, MIX, 0.0, 3))
    with pytest.raises(ValueError, match="3 media for 2 members"):
        solve_root_zone(POT, [MIX] * 3, surroundings(), uniform_state(POT, MIX, 0.0, 2))
    with pytest.raises(ValueError, match="colder than the model holds"):
        solve_root_zone(POT, MIX, surroundings(-70.0), 0.0)


@pytest.mark.parametrize("is_fast", [False, True])
def test_it_can_go_on_from_where_it_was(is_fast):
    whole = solve_root_zone(POT, MIX, surroundings(n_times=8), 3.0, is_fast=is_fast)
    first = solve_root_zone(POT, MIX, surroundings(n_times=3), 3.0, is_fast=is_fast)
    second = solve_root_zone(POT, MIX, surroundings(n_times=5), first.end, is_fast=is_fast)
    np.testing.assert_allclose(second.shell[:, -1], whole.shell[:, -1], atol=1e-9)
    many = RootState(first.end.enthalpy).repeated(4)
    assert many.enthalpy.shape[2] == 4


@pytest.mark.parametrize("is_fast", [False, True])
def test_a_thaw_after_a_frost_brings_nodes_back(is_fast):
    air = np.concatenate([np.full(30, -12.0), np.full(90, 12.0)])[None, :]
    film = Film(air, np.full(air.shape, 12.0))
    zone = solve_root_zone(POT, MIX, Surroundings(film, film, film), 4.0, is_fast=is_fast)
    assert zone.frozen_share[0, 29] > 0.1
    assert zone.core[0, -1] > 8.0
    assert zone.frozen_share[0, -1] == 0.0


def test_the_compiled_solver_is_used_where_it_is():
    assert solver_in_use() == "numba"


def test_a_pot_of_a_group_has_its_peoples_numbers():
    group = TreeGroup(
        "p",
        "the pots",
        Growing.CONTAINER,
        6,
        "fig",
        "fig",
        Protection.CLUSTER,
        25.0,
        parameters=(("water_content", 0.42), ("unknown_here", 1.0)),
    )
    alone, clustered = pot_of(group, is_clustered=False), pot_of(group, is_clustered=True)
    assert (alone.neighbours, clustered.neighbours) == (1, 6)
    assert not alone.parameters["water_content"].is_assumed
    assert alone.parameters["water_content"].value == 0.42
    assert "cluster_share" not in alone.parameters
    assert "cluster_share" in clustered.parameters
    unknown = TreeGroup("q", "q", Growing.CONTAINER, 1, "fig", "fig", Protection.NONE, pot=PotStanding(together=3))
    assert pot_of(unknown, is_clustered=False).neighbours == 3
    assert 1000.0 * pot_of(unknown, is_clustered=False).container.volume == pytest.approx(15.0)


def test_a_share_that_is_never_met_exactly_is_given_as_near_as_it_comes(monkeypatch):
    film = Film(np.full((2, 30), -9.0), np.full((2, 30), 12.0))
    around = Surroundings(film, film, film)
    usual = solve_root_zone(container_of(15.0), medium_of(0.35), around, 2.0, is_fast=False)
    monkeypatch.setattr("alertd.thermal.root_zone.CLOSE", -1.0)
    never = solve_root_zone(container_of(15.0), medium_of(0.35), around, 2.0, is_fast=False)
    np.testing.assert_allclose(never.coldest_share, usual.coldest_share, rtol=0.0, atol=1e-6)
