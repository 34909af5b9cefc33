import pytest

from alertd.site import Substrate, Wetness
from alertd.thermal.substrates import DRIEST, MIXES, NEVER_FROZEN, POTTING_MIX, medium_of


@pytest.mark.parametrize("substrate", Substrate)
def test_every_substrate_that_a_garden_may_name_has_a_mix(substrate):
    assert substrate.value in MIXES


@pytest.mark.parametrize("mix", MIXES.values(), ids=MIXES)
def test_every_mix_says_where_its_numbers_come_from_and_holds_the_water_that_it_may_have(mix):
    assert mix.provenance
    assert set(mix.water) == set(Wetness)
    for value, low, high in mix.water.values():
        assert DRIEST <= low < value < high <= mix.porosity
        medium_of(low, 1.0, mix)
        medium_of(high, 1.0, mix)
    assert mix.water[Wetness.DRY][0] < mix.water[Wetness.MOIST][0] < mix.water[Wetness.WET][0]


@pytest.mark.parametrize("mix", MIXES.values(), ids=MIXES)
def test_water_makes_a_mix_conduct_hold_heat_and_freeze_slowly(mix):
    dry, wet = medium_of(0.15, 1.0, mix), medium_of(0.45, 1.0, mix)
    assert dry.conductivity_unfrozen < wet.conductivity_unfrozen < wet.conductivity_frozen
    assert dry.heat_capacity_unfrozen < wet.heat_capacity_unfrozen
    assert wet.latent_heat - dry.latent_heat == pytest.approx(0.30 * 3.34e8)


def test_a_saturated_mix_is_the_geometric_mean_of_what_it_is_made_of():
    full = medium_of(POTTING_MIX.porosity)
    assert full.conductivity_unfrozen == pytest.approx(0.25**0.15 * 0.57**0.85)
    assert full.conductivity_frozen == pytest.approx(0.25**0.15 * 2.22**0.85)
    assert full.latent_heat == pytest.approx(3.34e8 * (0.85 - NEVER_FROZEN))


def test_a_factor_changes_the_conductivity_and_nothing_else():
    usual, better = medium_of(0.35), medium_of(0.35, 2.0)
    assert better.conductivity_unfrozen == pytest.approx(2.0 * usual.conductivity_unfrozen)
    assert better.conductivity_frozen == pytest.approx(2.0 * usual.conductivity_frozen)
    assert better.heat_capacity_frozen == usual.heat_capacity_frozen


@pytest.mark.parametrize("water", [0.05, 0.86, -0.1, float("nan")])
def test_a_moisture_that_cannot_be_is_refused(water):
    with pytest.raises(ValueError, match=r"the water content must be 0\.06 to 0\.85"):
        medium_of(water)


def test_a_factor_that_is_not_above_0_is_refused():
    with pytest.raises(ValueError, match="no medium"):
        medium_of(0.35, 0.0)
