import numpy as np
import pytest

from alertd.thermal.bracketing import zero_of_increasing
from alertd.thermal.branch import BRANCH_PARAMETERS, branch_temperature
from alertd.thermal.psychrometrics import short_saturation_vapour_pressure
from alertd.thermal.wood import (
    HOLLOW_PARAMETERS,
    REFERENCE_NIGHT,
    WALL_PARAMETERS,
    WOOD_PARAMETERS,
    equivalent_air_temperature,
    wood_temperature,
)


@pytest.mark.parametrize(("sky_view", "wall_view"), [(-0.1, 0.0), (0.5, -0.1), (0.7, 0.4)])
def test_views_that_do_not_add_up_are_refused(sky_view, wall_view):
    with pytest.raises(ValueError, match="shares of 0 to 1"):
        wood_temperature(-5.0, -8.0, 1.0, 0.0, sky_view=sky_view, wall_view=wall_view)


def test_a_member_may_have_its_own_parameters():
    shares = np.array([[0.3], [0.5], [0.7]])
    wood = wood_temperature(np.full((1, 4), -8.0), -12.0, 1.0, np.linspace(0.0, 1.0, 4), wind_share=shares)
    assert wood.shape == (3, 4)
    assert (np.diff(wood[:, 0]) > 0.0).all()
    alone = wood_temperature(-8.0, -12.0, 1.0, 0.0, wind_share=0.5)
    assert wood[1, 0] == pytest.approx(alone, abs=2e-6)


def test_what_is_unknown_stays_unknown_and_harms_no_neighbour():
    air = np.array([-8.0, np.nan, -8.0, -8.0])
    wood = wood_temperature(air, np.array([-12.0, -12.0, np.nan, -12.0]), np.array([1.0, 1.0, 1.0, np.nan]), 0.0)
    assert np.isnan(wood).tolist() == [False, True, True, True]
    assert wood[0] == pytest.approx(wood_temperature(-8.0, -12.0, 1.0, 0.0), abs=2e-6)


def test_hoar_and_dew_warm_wood():
    for air, dew in ((-8.0, -8.0), (3.0, 3.0)):
        bare, wet = (wood_temperature(air, dew, 1.0, 0.0, deposition_share=share) for share in (0.0, 1.0))
        assert bare < wet - 0.3
        assert wet < air
    dry = [wood_temperature(-8.0, -20.0, 1.0, 0.0, deposition_share=share) for share in (0.0, 1.0)]
    assert dry[0] == pytest.approx(dry[1], abs=1e-6)


def test_freezing_fog_warms_wood_above_the_air():
    assert wood_temperature(-8.0, -8.0, 5.0, 1.0, deposition_share=1.0) > -8.0


def test_the_frost_point_stays_within_the_bracket():
    """What is assumed of it, with the equations that are used there."""
    dew = -np.geomspace(1e-6, 60.0, 200)
    assert (short_saturation_vapour_pressure(0.88 * dew, over_ice=True) >= short_saturation_vapour_pressure(dew)).all()


def test_sunlight_warms_wood():
    assert wood_temperature(-5.0, -9.0, 1.0, 0.0, shortwave=100.0) > -5.0


def test_on_the_night_of_the_thresholds_the_equivalent_is_the_air():
    equivalent = equivalent_air_temperature(wood_temperature(*REFERENCE_NIGHT))
    assert equivalent == pytest.approx(REFERENCE_NIGHT[0], abs=0.05)
    windy = equivalent_air_temperature(wood_temperature(-10.0, -13.0, 8.0, 1.0))
    assert -10.0 < windy <= -8.9
    still = equivalent_air_temperature(wood_temperature(-10.0, -13.0, 0.0, 0.0))
    assert still < -10.0


def test_every_parameter_is_a_keyword_with_the_same_default():
    site = {"wall_view", "wall_warmer_by", "hollow_offset"}  # 0 unless somebody says so
    for function, parameters in (
        (wood_temperature, (*WOOD_PARAMETERS, *WALL_PARAMETERS, *HOLLOW_PARAMETERS)),
        (equivalent_air_temperature, WOOD_PARAMETERS),
        (branch_temperature, BRANCH_PARAMETERS),
    ):
        defaults = function.__kwdefaults__
        shared = [parameter for parameter in parameters if parameter.name in defaults]
        assert shared
        for parameter in shared:
            assert defaults[parameter.name] == (0.0 if parameter.name in site else parameter.value)
    known = {*wood_temperature.__kwdefaults__, *equivalent_air_temperature.__kwdefaults__}
    assert {parameter.name for parameter in (*WOOD_PARAMETERS, *WALL_PARAMETERS, *HOLLOW_PARAMETERS)} <= known


def test_every_parameter_says_where_it_comes_from():
    for parameter in (*WOOD_PARAMETERS, *WALL_PARAMETERS, *HOLLOW_PARAMETERS, *BRANCH_PARAMETERS):
        assert parameter.provenance.startswith(("assumed", "from memory"))
        assert parameter.is_assumed


def test_a_twig_follows_at_once_and_a_thick_branch_later_and_less():
    balanced = np.concatenate([np.zeros(6), np.full(6, -10.0), np.zeros(12)])[None, :]
    wind = np.full_like(balanced, 2.0)
    twig, branch, trunk = (
        branch_temperature(balanced, balanced, wind, diameter=diameter) for diameter in (0.005, 0.05, 0.15)
    )
    assert twig == pytest.approx(balanced, abs=1e-3)
    assert twig.min() < branch.min() < trunk.min() < -2.0
    assert branch[0, 6] > -10.0 + 0.1
    assert branch[0, 12] < -0.1


def test_a_hole_in_the_weather_leaves_a_branch_unknown_from_then_on():
    balanced = np.array([[-5.0, np.nan, -5.0]])
    branch = branch_temperature(balanced, np.full((1, 3), -4.0), np.ones((1, 3)), diameter=0.05)
    assert np.isnan(branch).tolist() == [[False, True, True]]


def test_a_zero_at_the_end_of_its_bracket_is_found():
    low, high = np.array([0.0, -1.0, 2.0]), np.array([1.0, 0.0, 2.0])
    found = zero_of_increasing(lambda x: x - np.array([0.0, 0.0, 2.0]), low, high, 1e-12)
    assert found == pytest.approx([0.0, 0.0, 2.0], abs=1e-12)


def test_a_function_too_steep_for_its_residual_ends_at_the_narrowest_bracket():
    found = zero_of_increasing(lambda x: 1e6 * (x - 1.0 / 3.0), np.array([-50.0]), np.array([50.0]), 0.0)
    assert found[0] == pytest.approx(1.0 / 3.0, abs=1e-14)


def test_a_zero_that_is_never_met_exactly_is_given_as_near_as_it_comes():
    jump = zero_of_increasing(lambda x: np.where(x < 0.3, x - 2.0, x + 2.0), np.array([0.0]), np.array([2.0]), 1e-9)
    assert jump[0] == pytest.approx(0.3, abs=1e-9)
