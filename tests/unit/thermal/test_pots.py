import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from alertd.site import Insulation, PotStanding, StandsOn, Wetness
from alertd.thermal.pots import POT_PARAMETERS, UNKNOWN_VOLUME, container_of, pot_of, pot_parameters
from alertd.thermal.substrates import DRIEST, POTTING_MIX
from tests.fakes.cold_nights import felt_in, forcing_of_nights, pot_with
from tests.fakes.garden import POTS


@pytest.mark.parametrize("litres", [1.0, 7.3, 15.0, 20.0, 25.0, 40.0, 60.0, 100.0, 700.0, 5000.0])
def test_a_pot_of_any_size_holds_exactly_its_litres(litres):
    pot = container_of(litres)
    assert pot.volume == pytest.approx(litres / 1000.0, rel=1e-12)
    assert 0.7 < pot.height / (2.0 * pot.radius_top) < 1.1


@pytest.mark.parametrize(
    ("litres", "top", "bottom", "height"), [(15, 0.29, 0.24, 0.27), (25, 0.34, 0.28, 0.33), (60, 0.46, 0.38, 0.43)]
)
def test_usual_pots_have_about_their_usual_lengths(litres, top, bottom, height):
    pot = container_of(litres)
    assert 2.0 * pot.radius_top == pytest.approx(top, rel=0.02)
    assert 2.0 * pot.radius_bottom == pytest.approx(bottom, rel=0.02)
    assert pot.height == pytest.approx(height, rel=0.02)


def test_a_larger_pot_is_longer_every_way():
    sizes = [container_of(litres) for litres in (1.0, 5.0, 15.0, 18.0, 25.0, 35.0, 60.0, 90.0, 1000.0)]
    for small, large in pairwise(sizes):
        assert small.radius_top < large.radius_top
        assert small.radius_bottom < large.radius_bottom
        assert small.height < large.height


def test_one_measured_length_is_kept_and_so_are_the_litres():
    flat, slender = container_of(25.0, top_diameter=0.5), container_of(25.0, height=0.5)
    assert 2.0 * flat.radius_top == pytest.approx(0.5)
    assert slender.height == 0.5
    assert flat.volume == pytest.approx(0.025)
    assert slender.volume == pytest.approx(0.025)


def test_two_measured_lengths_are_kept_and_the_bottom_is_as_wide_as_the_litres_say():
    pot = container_of(25.0, 0.34, 0.33)
    assert (2.0 * pot.radius_top, pot.height) == (pytest.approx(0.34), 0.33)
    assert pot.volume == pytest.approx(0.025)


@pytest.mark.parametrize(("litres", "taper"), [(60.0, 1.0), (5.0, 0.5)])
def test_lengths_and_litres_that_do_not_fit_keep_the_lengths(litres, taper):
    pot = container_of(litres, 0.34, 0.33)
    assert (2.0 * pot.radius_top, pot.height) == (pytest.approx(0.34), 0.33)
    assert pot.radius_bottom / pot.radius_top == pytest.approx(taper)


@pytest.mark.parametrize("litres", [0.0, -1.0, math.nan])
def test_a_pot_that_holds_nothing_is_refused(litres):
    with pytest.raises(ValueError, match="holds more than 0 L"):
        container_of(litres)


def test_a_group_pushed_together_has_all_its_pots_as_neighbours():
    group = replace(POTS, count=9, pot=PotStanding(together=3))
    assert pot_of(group, is_clustered=False).neighbours == 3
    assert pot_of(group, is_clustered=True).neighbours == 9
    assert "cluster_share" in pot_of(group, is_clustered=True).parameters


def test_a_pot_of_unknown_size_is_taken_for_a_small_one():
    pot = pot_of(replace(POTS, container_volume=None), is_clustered=False)
    assert pot.container == container_of(UNKNOWN_VOLUME)
    assert pot.mix is POTTING_MIX


@pytest.mark.parametrize("lengths", [{"top_diameter": 0.46}, {"height": 0.43}, {"top_diameter": 0.46, "height": 0.43}])
def test_a_pot_of_unknown_litres_has_those_of_a_usual_one_with_its_lengths(lengths):
    pot = pot_of(replace(POTS, container_volume=None, pot=PotStanding(**lengths)), is_clustered=False).container
    assert pot.volume == pytest.approx(0.060, rel=0.06)
    assert 2.0 * pot.radius_top == pytest.approx(0.46, rel=0.03)
    assert pot.height == pytest.approx(0.43, rel=0.03)
    assert pot.radius_bottom / pot.radius_top == pytest.approx(0.24 / 0.29, rel=0.01)


def test_what_people_say_changes_the_numbers():
    told = pot_parameters(PotStanding(wetness=Wetness.WET, sun=0.9, stands_on=StandsOn.SOIL), 1)
    assert told["water_content"].value == 0.50
    assert (told["sun_share"].low, told["sun_share"].value, told["sun_share"].high) == (pytest.approx(0.7), 0.9, 1.0)
    assert told["bottom_conductance"].value == 10.0
    assert told["bottom_conductance"].low < 10.0 < told["bottom_conductance"].high
    assert pot_parameters(PotStanding(sun=0.1), 1)["sun_share"].low == 0.0


def test_only_numbers_that_matter_are_named():
    alone = pot_parameters(PotStanding(), 1)
    assert "cluster_share" not in alone
    assert "insulation_resistance" not in alone
    assert "pot_ground_temperature" in alone
    assert "pot_ground_temperature" not in pot_parameters(PotStanding(stands_on=StandsOn.FEET), 1)
    everything = pot_parameters(PotStanding(insulation=Insulation.JUTE), 5)
    assert set(everything) == {parameter.name for parameter in POT_PARAMETERS}


@pytest.mark.parametrize("insulation", [each for each in Insulation if each is not Insulation.NONE])
def test_insulation_has_a_resistance_that_is_assumed(insulation):
    assert pot_parameters(PotStanding(insulation=insulation), 1)["insulation_resistance"].is_assumed


def test_measured_numbers_take_the_place_of_assumed_ones_and_have_no_spread():
    own = {"pot_absorptance": 0.5, "insulation_resistance": 0.8, "no_such_number": 1.0}
    numbers = pot_parameters(PotStanding(), 1, own)
    assert numbers["pot_absorptance"].value == 0.5
    assert not numbers["pot_absorptance"].is_assumed
    assert numbers["insulation_resistance"].value == 0.8
    assert "no_such_number" not in numbers
    assert all(numbers[name].is_assumed for name in set(numbers) - set(own))


@pytest.mark.parametrize(("measured", "used"), [(0.95, POTTING_MIX.porosity), (0.01, DRIEST), (0.4, 0.4)])
def test_a_measured_moisture_is_kept_within_what_the_mix_can_hold(measured, used):
    group = replace(POTS, parameters=(("water_content", measured),))
    assert pot_of(group, is_clustered=False).parameters["water_content"].value == used


@pytest.mark.parametrize("parameter", POT_PARAMETERS, ids=lambda each: each.name)
@pytest.mark.parametrize("slip", [-1e6, 1e6])
def test_a_slip_in_a_measured_number_becomes_the_nearest_that_a_pot_can_have(parameter, slip):
    forcing, times = forcing_of_nights([-12.0])
    pot = pot_with(5.0, 3, {parameter.name: slip})
    found = pot.parameters[parameter.name]
    assert not found.is_assumed
    assert abs(found.value) <= 100.0
    assert np.isfinite(felt_in(forcing, times, pot).exposure.temperature).all()


def test_sun_in_percent_makes_no_pot_warmer_than_all_of_it_does():
    assert pot_with(measured={"sun_share": 40.0}).parameters["sun_share"].value == 1.0
