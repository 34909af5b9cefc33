"""What is said of wood that is bare, in a wrap, in a ring of mulch or bent down under it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from alertd.site import CoverBuild, CoverFill, CoverMaterial, MulchBuild, MulchMaterial, Place
from alertd.thermal import Model
from alertd.thermal.covered import COLDER_AS_MEASURED, COLDER_IN_MULCH, COLDER_THAN_BARE
from alertd.thermal.wrap import COLDER_THAN_AIR
from tests.fakes.cold_nights import forcing_of_nights
from tests.fakes.covered import FIGS, bent_under, lowest, ring_of, told, wood_in, wrapped_in

OFFSETS = (-2.0, -1.0, 0.0, 1.0, 2.0)
CALM = {"wind": 1.0, "cloud": 0.1}
WINDY = {"wind": 7.0, "cloud": 1.0}


@pytest.fixture(scope="module")
def calm():
    return forcing_of_nights([-12.0, -14.0, -12.0], offsets=OFFSETS, by_day=-4.0, **CALM)


@pytest.fixture(scope="module")
def windy():
    return forcing_of_nights([-12.0, -14.0, -12.0], offsets=OFFSETS, by_day=-4.0, **WINDY)


def test_stems_that_stand_in_a_ring_are_much_colder_than_those_that_lie_on_the_soil(calm):
    for material in MulchMaterial:
        mulch = MulchBuild(material, 0.15)
        ring, bent = wood_in(ring_of(mulch), calm), wood_in(bent_under(mulch), calm)
        assert ring.model is bent.model is Model.MULCHED_STEMS
        assert lowest(ring) < lowest(bent) - 3.0, material


def test_leaves_without_a_tarp_are_wet_ones_and_with_a_tarp_they_keep_dry(calm):
    def of(build, **how):
        return lowest(wood_in(build(MulchBuild(depth=0.1, **how)), calm))

    for build in (ring_of, bent_under):
        assert of(build, material=MulchMaterial.DRY_LEAVES) == of(build, material=MulchMaterial.WET_LEAVES)
        dry = of(build, material=MulchMaterial.DRY_LEAVES, has_tarp=True)
        assert dry == of(build, material=MulchMaterial.STRAW)
    assert of(bent_under, material=MulchMaterial.DRY_LEAVES) < dry - 1.0


def test_a_ring_knows_nothing_of_the_ground_and_says_so_by_its_numbers(calm):
    in_ring, bent = (
        {each.parameter.name for each in wood_in(build(MulchBuild()), calm).used}
        for build in (
            ring_of,
            bent_under,
        )
    )
    assert {"soil_conductivity_factor", "deep_ground_temperature", "snow_density"} == bent - in_ring
    assert in_ring == {"sky_deviation", "wind_share", "reference_undercooling", "mulch_conductivity_factor"}


def test_only_the_numbers_that_matter_are_told(calm):
    def names(group):
        return {each.parameter.name for each in wood_in(group, calm).used}

    assert "fill_thickness" not in names(wrapped_in(CoverBuild()))
    assert "fill_thickness" in names(wrapped_in(CoverBuild(fill=CoverFill.STRAW)))
    assert "calm_wind_speed" in names(ring_of(MulchBuild(), place=Place(hollow_offset=-3.0)))
    assert "inside_film" not in names(wrapped_in(CoverBuild(measured_gain=3.0)))
    assert "diameter" not in names(FIGS)


def test_a_hollow_chills_wood_under_every_cover(calm):
    for group in (wrapped_in(CoverBuild()), ring_of(MulchBuild(depth=0.05)), bent_under(MulchBuild(depth=0.05))):
        hollow = replace(group, place=Place(hollow_offset=-4.0))
        assert lowest(wood_in(hollow, calm)) < lowest(wood_in(group, calm)) - 0.05


def test_a_warm_wall_warms_a_wrap_and_a_ring_beside_it(calm):
    for group in (wrapped_in(CoverBuild()), ring_of(MulchBuild())):
        beside = replace(group, place=Place(wall_view=0.4, wall_warmer_by=6.0))
        assert lowest(wood_in(beside, calm)) > lowest(wood_in(group, calm)) + 0.5


def test_snow_keeps_bent_stems_warm_and_does_nothing_for_standing_ones():
    bare, white = (forcing_of_nights([-14.0, -14.0], snow=depth, **CALM) for depth in (0.0, 0.2))
    mulch = MulchBuild(MulchMaterial.WET_LEAVES, 0.05)
    assert lowest(wood_in(bent_under(mulch), white)) > lowest(wood_in(bent_under(mulch), bare)) + 1.0
    assert lowest(wood_in(ring_of(mulch), white)) == lowest(wood_in(ring_of(mulch), bare))


def test_a_wrap_is_credited_with_no_more_than_growers_go_by(windy):
    bare = told(wood_in(FIGS, windy, is_in_place=False))
    for cover, most in ((CoverBuild(height=1.0, diameter=3.0), 2.8), (CoverBuild(skirt=1.8), 5.6)):
        gained = told(wood_in(wrapped_in(cover), windy)) - bare
        assert gained.max() == pytest.approx(most)


def test_a_thin_narrow_wrap_harms_in_a_calm_clear_night_only_and_says_why(calm, windy):
    thin = wrapped_in(CoverBuild(CoverMaterial.TARP))
    assert wood_in(thin, calm).remarks == (COLDER_THAN_AIR,)
    assert lowest(wood_in(thin, calm)) < lowest(wood_in(thin, calm, is_in_place=False))
    assert wood_in(thin, windy).remarks == ()


def test_a_wrap_that_keeps_more_cold_than_air_but_keeps_a_warm_wall_off_says_so(windy):
    beside = wrapped_in(CoverBuild(skirt=0.2), place=Place(wall_view=0.9, wall_warmer_by=20.0))
    said = wood_in(beside, windy)
    assert said.remarks in {(COLDER_THAN_BARE,), ()}
    assert (said.remarks == (COLDER_THAN_BARE,)) == (lowest(said) < lowest(wood_in(beside, windy, is_in_place=False)))


def test_a_measured_gain_is_believed_and_one_below_nothing_is_said(calm):
    bare = told(wood_in(FIGS, calm, is_in_place=False))
    for gain, remarks in ((7.5, ()), (-1.0, (COLDER_AS_MEASURED,))):
        said = wood_in(wrapped_in(CoverBuild(measured_gain=gain)), calm)
        np.testing.assert_allclose(told(said), bare + gain)
        assert said.remarks == remarks
        air = np.median(calm[0].air_temperature[:, calm[0].n_before :], axis=0)
        np.testing.assert_allclose(said.medians["air"], air + gain)


def test_a_ring_that_is_colder_than_bare_wood_says_why(calm, windy):
    ring = ring_of(MulchBuild(MulchMaterial.STRAW, 0.03))
    assert lowest(wood_in(ring, calm)) < lowest(wood_in(ring, calm, is_in_place=False))
    assert wood_in(ring, calm).remarks == (COLDER_IN_MULCH,)
    assert wood_in(ring_of(MulchBuild(depth=0.2)), windy).remarks == ()


def test_no_draw_of_wood_in_mulch_is_colder_than_the_cold_that_reached_it(calm):
    said = wood_in(ring_of(MulchBuild(MulchMaterial.WOOD_CHIPS, 0.2)), calm)
    coldest_film = calm[0].air_temperature.min() - 6.0
    assert np.nanmin(said.exposure.temperature) > coldest_film
    assert np.nanmax(said.exposure.temperature.std(axis=0)) > 1.0


def test_what_nobody_measured_makes_the_range_and_the_numbers_that_matter_most_come_first(calm):
    said = wood_in(bent_under(MulchBuild(MulchMaterial.WET_LEAVES, 0.08)), calm)
    shares = [each.share for each in said.used]
    assert shares == sorted(shares, reverse=True)
    assert said.used[0].parameter.name == "mulch_conductivity_factor"
    numbers = tuple((each.parameter.name, each.parameter.value) for each in said.used)
    sure = wood_in(bent_under(MulchBuild(MulchMaterial.WET_LEAVES, 0.08), parameters=numbers), calm)
    assert sure.assumed == ()
    assert sure.spread == pytest.approx(0.8)
    assert said.spread > sure.spread
    np.testing.assert_allclose(told(sure), told(said), atol=0.02)


def test_mulch_is_not_called_safe_because_the_air_is_mild_again():
    thawed, frozen = (forcing_of_nights([6.0, 6.0], by_day=9.0, **WINDY) for _ in range(2))
    frozen[0].air_temperature[:, frozen[0].n_before - 60 : frozen[0].n_before] -= 25.0
    group = bent_under(MulchBuild(MulchMaterial.WET_LEAVES, 0.1))
    assert wood_in(group, thawed, limit=-15.0).is_bound
    assert not wood_in(group, frozen, limit=-15.0).is_bound
    assert wood_in(group, frozen, limit=-15.0, is_in_place=False).is_bound


def test_a_cover_that_met_no_dangerous_cold_is_not_computed():
    """Air of -6 °C alone does not tell, for a twig may be 8 K colder; what the cover met by night does."""
    weather = forcing_of_nights([-6.0], wind=4.0, cloud=1.0)
    bound, computed = (wood_in(FIGS, weather, limit=limit) for limit in (-12.0, -5.0))
    assert bound.is_bound
    assert not computed.is_bound
    assert -14.0 < np.nanmin(bound.exposure.temperature) < lowest(computed)
