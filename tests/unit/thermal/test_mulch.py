"""Stems under mulch and snow."""

from __future__ import annotations

import numpy as np
import pytest

from alertd.site import MulchBuild, MulchMaterial
from alertd.thermal.mulch import (
    CELL,
    MULCH_PARAMETERS,
    MULCHES,
    GroundWeather,
    medium_of_mulch,
    snow_conductivity,
    stem_under_mulch,
    top_film,
)

PAST = 48


def weather(snow=0.0, members=1, coldest=-18.0):
    air = np.concatenate([np.full(PAST, 4.0), np.linspace(4.0, coldest, 24), np.full(24, coldest)])
    air = np.tile(air, (members, 1))
    return GroundWeather(air, air - 3.0, np.full(air.shape, 12.0), np.full(air.shape, snow), PAST)


def test_only_the_hours_ahead_are_told():
    assert stem_under_mulch(weather(members=2), MulchBuild()).shape == (2, 48)


def test_a_third_of_the_cells_moves_the_coldest_hour_by_a_third_of_a_degree_at_most():
    for material in MulchMaterial:
        mulch = MulchBuild(material, 0.1)
        coarse, fine = (stem_under_mulch(weather(), mulch, cell=cell).min() for cell in (CELL, 0.01))
        assert coarse == pytest.approx(fine, abs=0.35), material


def test_snow_keeps_stems_warm_and_dense_snow_less():
    mulch = MulchBuild(MulchMaterial.WET_LEAVES, 0.05)
    bare = stem_under_mulch(weather(), mulch).min()
    dense, usual = (stem_under_mulch(weather(0.1), mulch, snow_density=density).min() for density in (500.0, 250.0))
    assert bare < dense < usual


def test_snow_is_a_resistance_before_the_film():
    film = top_film(weather(0.3), 250.0)
    conductivity = 0.138 - 1.01 * 0.25 + 3.233 * 0.25**2
    assert film.conductance[0, 0] == pytest.approx(1.0 / (1.0 / 12.0 + 0.3 / conductivity))
    assert film.temperature[0, -1] == -21.0


def test_snow_conducts_as_its_density_says_within_what_was_measured():
    assert snow_conductivity(np.array([50.0, 156.0])).tolist() == [snow_conductivity(156.0)] * 2
    assert snow_conductivity(900.0) == snow_conductivity(600.0)


def test_leaves_are_wet_unless_a_tarp_keeps_the_rain_off():
    assert medium_of_mulch(MulchBuild(MulchMaterial.DRY_LEAVES)) is MULCHES[MulchMaterial.WET_LEAVES]
    assert medium_of_mulch(MulchBuild(MulchMaterial.DRY_LEAVES, has_tarp=True)) is MULCHES[MulchMaterial.DRY_LEAVES]
    assert medium_of_mulch(MulchBuild(MulchMaterial.WET_LEAVES, has_tarp=True)) is MULCHES[MulchMaterial.WET_LEAVES]
    assert medium_of_mulch(MulchBuild(MulchMaterial.STRAW)) is MULCHES[MulchMaterial.STRAW]


def test_members_can_differ_in_every_parameter():
    for parameter in MULCH_PARAMETERS:
        values = np.array([parameter.low, parameter.high])
        both = stem_under_mulch(weather(0.05, members=2), MulchBuild(depth=0.05), **{parameter.name: values})
        alone = stem_under_mulch(weather(0.05), MulchBuild(depth=0.05), **{parameter.name: parameter.high})
        np.testing.assert_allclose(both[1], alone[0], atol=1e-9)
        assert np.abs(both[0] - both[1]).max() > 0.01, parameter.name


def test_mulch_thinner_than_two_centimetres_counts_as_none_and_costs_no_time():
    none = stem_under_mulch(weather(), MulchBuild(MulchMaterial.STRAW, 0.0001))
    np.testing.assert_array_equal(none, stem_under_mulch(weather(), MulchBuild(MulchMaterial.WET_LEAVES, 0.019)))
    assert none.min() < stem_under_mulch(weather(), MulchBuild(MulchMaterial.WET_LEAVES, 0.02)).min()


def test_of_weeks_that_have_passed_the_last_one_is_solved_and_the_first_days_say_where_it_starts():
    air = np.concatenate([np.full(72, 6.0), np.full(168, 2.0), np.full(48, -12.0)])[None]
    film, snow = np.full(air.shape, 12.0), np.zeros(air.shape)
    mulch = MulchBuild(MulchMaterial.WET_LEAVES, 0.05)
    whole = stem_under_mulch(GroundWeather(air, air, film, snow, 240), mulch)
    colder = air.copy()
    colder[:, :72] -= 6.0
    assert (stem_under_mulch(GroundWeather(colder, air, film, snow, 240), mulch) < whole).all()
    unread = air.copy()
    unread[:, 72:240] = 40.0
    np.testing.assert_array_equal(stem_under_mulch(GroundWeather(unread, air, film, snow, 240), mulch), whole)


@pytest.mark.parametrize("spoilt", ["shape", "nan", "snow", "no past", "nothing ahead"])
def test_what_is_no_weather_is_refused(spoilt):
    air = np.zeros((1, 4))
    film, snow, past = np.ones((1, 4)), np.zeros((1, 4)), 2
    if spoilt == "shape":
        film = np.ones((1, 3))
    elif spoilt == "nan":
        air[0, 3] = np.nan
    elif spoilt == "snow":
        snow = snow - 1.0
    else:
        past = 0 if spoilt == "no past" else 4
    with pytest.raises(ValueError, match=r"weather over the ground|hours have passed"):
        GroundWeather(air, air, film, snow, past)
