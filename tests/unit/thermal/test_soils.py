import numpy as np
import pytest

from alertd.thermal.soils import SOILS, Soil, measured_profile, yearly_profile

LOAM = SOILS[Soil.LOAM].medium
DEPTHS = np.array([0.0, 0.1, 0.5, 1.0, 2.0])


@pytest.mark.parametrize("soil", sorted(Soil))
def test_every_soil_says_where_its_numbers_come_from_and_conducts_better_frozen(soil):
    preset = SOILS[soil]
    assert "assumed" in preset.provenance
    assert preset.medium.conductivity_frozen > preset.medium.conductivity_unfrozen
    assert preset.medium.heat_capacity_frozen < preset.medium.heat_capacity_unfrozen


def test_wet_clay_and_sand_keep_the_order_of_the_table():
    conductivity = {soil: SOILS[soil].medium.conductivity_unfrozen for soil in Soil}
    assert conductivity[Soil.SAND] > conductivity[Soil.LOAM] > conductivity[Soil.GARDEN_SOIL]


def test_the_ground_is_coldest_later_the_deeper():
    days = np.arange(0, 360, 5)
    waves = np.array([yearly_profile(DEPTHS, float(day), mean=9.0, amplitude=10.0, medium=LOAM) for day in days])
    assert (np.diff(days[waves.argmin(axis=0)]) > 0).all()
    assert waves[0, 0] == pytest.approx(-1.0)


def test_above_the_ground_it_is_as_at_its_surface():
    found = yearly_profile(np.array([-0.2, 0.0]), 20.0, mean=9.0, amplitude=10.0, medium=LOAM)
    assert found[0] == found[1]


@pytest.mark.parametrize(("day", "mean", "amplitude"), [(np.nan, 9.0, 1.0), (0.0, np.inf, 1.0), (0.0, 9.0, -1.0)])
def test_what_is_no_wave_is_refused(day, mean, amplitude):
    with pytest.raises(ValueError, match="no wave of a year"):
        yearly_profile(DEPTHS, day, mean=mean, amplitude=amplitude, medium=LOAM)


def test_the_profile_passes_through_what_was_measured_and_fades_below_it():
    background = np.tile(np.linspace(3.0, 10.0, 5)[:, None], (1, 3))
    measured = np.array([[1.0, np.nan, np.nan], [2.0, 2.0, np.nan]])
    found = measured_profile(DEPTHS, np.array([0.1, 0.5]), measured, background)
    assert found[1, 0] == pytest.approx(1.0)
    assert found[2, :2] == pytest.approx([2.0, 2.0])
    assert found[0, 0] == pytest.approx(3.0 + 1.0 - background[1, 0])
    left = (found - background)[:, 0]
    assert left[3] == pytest.approx(left[2] * np.exp(-1.0))
    np.testing.assert_array_equal(found[:, 2], background[:, 2])


@pytest.mark.parametrize(
    ("known", "measured", "background", "words"),
    [
        ([0.1], np.zeros((2, 1)), np.zeros((5, 1)), "at 1 depths"),
        ([0.1], np.zeros((1, 1)), np.zeros((4, 1)), "of 5"),
        ([0.5, 0.1], np.zeros((2, 1)), np.zeros((5, 1)), "downwards"),
    ],
)
def test_soil_temperatures_that_do_not_fit_are_refused(known, measured, background, words):
    with pytest.raises(ValueError, match=words):
        measured_profile(DEPTHS, np.array(known), measured, background)
