import math
from dataclasses import replace

import pytest

from alertd.site import (
    CoverBuild,
    CoverMaterial,
    Insulation,
    MulchBuild,
    MulchMaterial,
    Place,
    PotStanding,
    StandsOn,
    StoreKind,
    StoreRoom,
    Substrate,
    Wetness,
)
from tests.fakes.garden import FIGS, POTS


def test_whoever_says_nothing_has_a_moist_pot_alone_on_paving_in_little_sun():
    pot = POTS.pot
    assert (pot.stands_on, pot.together, pot.substrate) == (StandsOn.PAVING, 1, Substrate.POTTING_MIX)
    assert (pot.wetness, pot.insulation, pot.mulch, pot.sun) == (Wetness.MOIST, Insulation.NONE, 0.0, 0.4)
    assert (pot.top_diameter, pot.height) == (None, None)


def test_whoever_says_nothing_has_a_closed_column_of_blankets_under_a_tarp():
    cover = FIGS.cover_build
    assert (cover.material, cover.diameter, cover.height) == (CoverMaterial.BLANKET_AND_TARP, 0.6, 2.0)
    assert (cover.is_closed_at_ground, cover.skirt, cover.fill, cover.measured_gain) == (True, 0.0, None, None)


def test_whoever_says_nothing_has_straw_an_open_place_and_a_garage():
    assert FIGS.mulch_build == MulchBuild(MulchMaterial.STRAW, 0.2, has_tarp=False)
    assert FIGS.place == Place(wall_view=0.0, wall_warmer_by=3.0, hollow_offset=0.0, branch=0.005)
    assert POTS.store_room is None, "no room but one that somebody described is judged"
    assert StoreRoom() == StoreRoom(StoreKind.UNHEATED_GARAGE, None, None, None)
    assert POTS.parameters == ()


@pytest.mark.parametrize(
    ("kind", "changes", "said"),
    [
        (PotStanding, {"together": 0}, "at least 1 pot stands together, not 0"),
        (PotStanding, {"mulch": -0.01}, r"mulch on a pot must be finite and 0 to inf \[m\], not -0\.01"),
        (PotStanding, {"mulch": math.inf}, "mulch on a pot must be finite"),
        (PotStanding, {"sun": 1.01}, r"share of sun must be finite and 0 to 1 \[1\], not 1\.01"),
        (PotStanding, {"sun": math.nan}, "share of sun must be finite"),
        (PotStanding, {"top_diameter": 0.0}, r"top diameter of a pot must be finite and above 0 \[m\], not 0\.0"),
        (PotStanding, {"height": math.nan}, "height of a pot must be finite"),
        (CoverBuild, {"diameter": 0.0}, "diameter of a cover must be finite and above 0"),
        (CoverBuild, {"height": -2.0}, "height of a cover must be finite and above 0"),
        (CoverBuild, {"skirt": -0.1}, "skirt of a cover must be finite and 0 to inf"),
        (CoverBuild, {"measured_gain": math.nan}, "measured gain of a cover must be finite"),
        (MulchBuild, {"depth": 0.0}, "depth of mulch must be finite and above 0"),
        (Place, {"wall_view": -0.1}, "view of a wall must be finite and 0 to 1"),
        (Place, {"wall_warmer_by": math.inf}, "warmth of a wall must be finite"),
        (Place, {"hollow_offset": 0.5}, r"offset of a hollow must be finite and -inf to 0 \[K\], not 0\.5"),
        (Place, {"branch": 0.0}, "diameter of a branch must be finite and above 0"),
        (StoreRoom, {"time_constant": 0.0}, r"time constant of a store room must be finite and above 0 \[s\]"),
        (StoreRoom, {"kept_above": math.nan}, r"temperature that a store room is kept above must be finite"),
    ],
)
def test_what_cannot_be_is_refused_with_its_unit(kind, changes, said):
    with pytest.raises(ValueError, match=said):
        kind(**changes)


def test_the_edges_are_possible():
    assert PotStanding(together=1, mulch=0.0, sun=1.0, top_diameter=0.34, height=0.33).sun == 1.0
    assert Place(wall_view=1.0, wall_warmer_by=-1.0, hollow_offset=-4.0).wall_view == 1.0
    assert CoverBuild(skirt=0.0, measured_gain=-1.0).measured_gain == -1.0
    assert StoreRoom(time_constant=36_000.0, sensor="garage").time_constant == 36_000.0
    assert StoreRoom(kept_above=3.0).kept_above == 3.0


def test_measured_values_go_by_the_name_of_their_parameter():
    group = replace(POTS, parameters=(("wind_share", 0.3), ("litter", 0.1)))
    assert group.overrides == {"wind_share": 0.3, "litter": 0.1}
    assert hash(group) == hash(replace(group))
    assert POTS.overrides == {}


def test_a_measured_value_is_a_number_and_the_only_one_of_its_name():
    with pytest.raises(ValueError, match="measured wind_share must be finite, not inf"):
        replace(POTS, parameters=(("wind_share", math.inf),))
    with pytest.raises(ValueError, match="a parameter has two measured values"):
        replace(POTS, parameters=(("wind_share", 0.3), ("wind_share", 0.4)))
