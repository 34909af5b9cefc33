"""What must hold of any pot in any cold weather: warmer air, better cover and neighbours never harm."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from alertd.site import Insulation, StandsOn, Wetness
from alertd.thermal.container import Surroundings, solve_root_zone
from alertd.thermal.film import Film
from alertd.thermal.pots import container_of, pot_of
from alertd.thermal.substrates import medium_of
from alertd.thermal.surroundings import surroundings_of
from tests.fakes.cold_nights import forcing_of_nights, pot_with
from tests.fakes.garden import POTS

#: [°C] What two runs may differ by the numbers of their steps and the reading of a share of the volume.
ROUNDING = 0.05

FEW = settings(max_examples=25)

LITRES = st.floats(3.0, 120.0)
MINIMA = st.lists(st.floats(-25.0, 2.0), min_size=1, max_size=3)
WEATHER = st.fixed_dictionaries({"wind": st.floats(0.0, 10.0), "cloud": st.floats(0.0, 1.0), "snow": st.floats(0, 0.4)})
STANDING = st.fixed_dictionaries(
    {
        "stands_on": st.sampled_from(StandsOn),
        "wetness": st.sampled_from(Wetness),
        "sun": st.floats(0.0, 1.0),
        "mulch": st.sampled_from([0.0, 0.05, 0.15]),
    }
)


def lowest_of(pots, forcing):
    """Return the lowest temperature ahead of the coldest fifth of the root ball [°C], for each pot and member.

    The pots are alike inside and differ in what is round them. One day before is computed.
    """
    parts = []
    for pot in pots:
        values = {name: np.asarray(each.value) for name, each in pot.parameters.items()}
        parts.append(surroundings_of(pot, forcing, values))
    hours = slice(forcing.n_before - 24, None)
    films = [
        Film(
            np.concatenate([getattr(part, name).temperature[:, hours] for part in parts]),
            np.concatenate([getattr(part, name).conductance[:, hours] for part in parts]),
        )
        for name in ("wall", "top", "bottom")
    ]
    medium = medium_of(pots[0].parameters["water_content"].value, 1.0, pots[0].mix)
    zone = solve_root_zone(pots[0].container, medium, Surroundings(*films), 3.0)
    return zone.coldest_share[:, 24:].min(axis=1)


@FEW
@given(LITRES, MINIMA, WEATHER, STANDING, st.floats(0.0, 12.0))
def test_colder_air_never_warms_roots(litres, minima, weather, standing, colder):
    forcing, _ = forcing_of_nights(minima, offsets=(0.0, -colder), **weather)
    usual, cold = lowest_of([pot_with(litres, **standing)], forcing)
    assert cold <= usual + ROUNDING


@FEW
@given(LITRES, MINIMA, WEATHER, STANDING)
def test_insulation_never_makes_a_cold_spell_colder_for_roots(litres, minima, weather, standing):
    forcing, _ = forcing_of_nights([min(minima)] * len(minima), **weather)
    kinds = (Insulation.NONE, Insulation.JUTE, Insulation.BUBBLE_WRAP, Insulation.STYROFOAM)
    lowest = lowest_of([pot_with(litres, insulation=kind, **standing) for kind in kinds], forcing)
    for worse, better in pairwise(lowest):
        assert better >= worse - ROUNDING


@FEW
@given(LITRES, MINIMA, WEATHER, STANDING)
def test_neighbours_never_make_a_cold_spell_colder_for_roots(litres, minima, weather, standing):
    forcing, _ = forcing_of_nights([min(minima)] * len(minima), **weather)
    lowest = lowest_of([pot_with(litres, neighbours=count, **standing) for count in (1, 3, 20)], forcing)
    for fewer, more in pairwise(lowest):
        assert more >= fewer - ROUNDING


@given(st.floats(1.0, 5000.0))
def test_a_pot_holds_its_litres_whatever_they_are(litres):
    assert abs(container_of(litres).volume * 1000.0 / litres - 1.0) < 1e-9


@given(
    st.floats(0.5, 5000.0),
    st.dictionaries(st.sampled_from(["water_content", "pot_absorptance", "conductivity_factor"]), st.floats(0.01, 5.0)),
    st.sampled_from(Wetness),
)
def test_whatever_people_measured_a_pot_can_be_computed(litres, measured, wetness):
    group = replace(POTS, container_volume=litres, parameters=tuple(measured.items()))
    pot = pot_of(replace(group, pot=replace(group.pot, wetness=wetness)), is_clustered=False)
    numbers = pot.parameters
    for edge in ("low", "value", "high"):
        medium_of(getattr(numbers["water_content"], edge), getattr(numbers["conductivity_factor"], edge), pot.mix)
