"""The air inside a wrap, and what wraps are credited with."""

from __future__ import annotations

import math

import numpy as np
import pytest

from alertd.site import CoverBuild, CoverFill, CoverMaterial
from alertd.thermal.cover import (
    COVER_PARAMETERS,
    bounded_gain,
    coldest_night,
    envelope_of,
    gain_limit,
    is_colder_inside,
)
from alertd.thermal.wrap import CELL, CoverWeather, under_wrap, why_colder

PAST = 48


def weather(sky=6.0, wind=0.5, members=1, film=9.0):
    air = np.concatenate([np.full(PAST, 4.0), np.linspace(4.0, -12.0, 16), np.linspace(-12.0, -2.0, 8)])
    air = np.tile(air, (members, 1))
    return CoverWeather(air, air - sky, np.full(air.shape, film), np.full(air.shape, wind), PAST)


def gain(cover, around, **numbers):
    return (under_wrap(around, cover, **numbers).inside - around.air_temperature[:, PAST:])[:, 15].mean()


def test_only_the_hours_ahead_are_told():
    assert under_wrap(weather(members=3), CoverBuild()).inside.shape == (3, 24)


def test_a_thin_narrow_cover_is_colder_than_the_air_and_says_why():
    told = under_wrap(weather(), CoverBuild(CoverMaterial.TARP))
    assert gain(CoverBuild(CoverMaterial.TARP), weather()) < 0.0
    assert told.reason is not None
    assert "radiates to the sky" in told.reason


def test_a_wide_thick_cover_is_warmer_and_has_nothing_to_explain():
    cover = CoverBuild(skirt=0.7)
    assert gain(cover, weather()) > 1.0
    assert under_wrap(weather(), cover).reason is None


def test_blankets_a_skirt_a_fill_and_a_closed_foot_each_help():
    plain = gain(CoverBuild(CoverMaterial.TARP), weather(sky=0.0, wind=3.0))
    assert gain(CoverBuild(), weather(sky=0.0, wind=3.0)) > plain
    assert gain(CoverBuild(CoverMaterial.TARP, skirt=0.5), weather(sky=0.0, wind=3.0)) > plain
    assert gain(CoverBuild(CoverMaterial.TARP, fill=CoverFill.STRAW), weather(sky=0.0, wind=3.0)) > plain
    assert gain(CoverBuild(CoverMaterial.TARP, is_closed_at_ground=False), weather(sky=0.0, wind=3.0)) < plain


def test_wind_blows_the_warmth_out():
    cover = CoverBuild(skirt=0.7, is_closed_at_ground=False)
    assert gain(cover, weather(sky=0.0, wind=8.0)) < gain(cover, weather(sky=0.0, wind=0.0))


def test_ground_that_lay_bare_before_warms_less():
    cover = CoverBuild(skirt=0.7)
    cold_before = weather()
    cold_before.air_temperature[:, 24:PAST] = -8.0
    cold_before.effective_temperature[:, 24:PAST] = -14.0
    assert gain(cover, cold_before, stood_before=False) < gain(cover, cold_before) - 0.1


def test_a_quarter_of_the_cells_moves_the_inside_by_less_than_a_third_of_a_degree():
    coarse, usual, fine = (
        under_wrap(weather(), CoverBuild(skirt=0.7), cell=each).inside for each in (0.04, CELL, 0.01)
    )
    np.testing.assert_array_equal(coarse, usual)
    np.testing.assert_allclose(usual, fine, atol=0.3)
    assert usual.min() == pytest.approx(fine.min(), abs=0.2)


def test_one_hour_of_the_coldest_night_in_which_it_is_colder_inside_is_enough():
    air = np.array([[4.0, 0.0, -6.0, -8.0, -7.0, 2.0, 5.0]])
    warmer = air + 1.0
    assert why_colder(warmer, air) is None
    for hour, is_told in ((1, False), (2, True), (3, True), (4, True), (5, False), (6, False)):
        inside = warmer.copy()
        inside[0, hour] = air[0, hour] - 0.1
        assert (why_colder(inside, air) is not None) is is_told, hour


def test_the_coldest_night_inside_counts_too():
    air = np.tile(np.array([[0.0, -10.0, 0.0, 0.0] + [0.0] * 20]), 2)
    inside = air + 4.0
    inside[0, 25] = -11.0
    air[0, 25] = -9.0
    assert not coldest_night(air)[0, 25]
    assert why_colder(inside, air) is not None


def test_a_cover_harms_if_it_does_for_half_of_the_realizations():
    air = np.tile(np.array([[0.0, -10.0, 0.0, 0.0]]), (4, 1))
    for harmed in range(5):
        inside = air + 1.0
        inside[:harmed] -= 2.0
        assert is_colder_inside(inside, air, air) is (harmed >= 2)


def test_members_can_differ_in_every_parameter():
    cover = CoverBuild(skirt=0.4, fill=CoverFill.STRAW)
    for parameter in COVER_PARAMETERS:
        both = under_wrap(weather(members=2), cover, **{parameter.name: np.array([parameter.low, parameter.high])})
        alone = under_wrap(weather(), cover, **{parameter.name: parameter.high})
        np.testing.assert_allclose(both.inside[1], alone.inside[0], atol=1e-9)
        assert np.abs(both.inside[0] - both.inside[1]).max() > 0.01, parameter.name


def test_a_fill_is_no_thicker_than_the_wrap():
    narrow = CoverBuild(diameter=0.2, fill=CoverFill.STRAW)
    assert gain(narrow, weather(), fill_thickness=0.1) == gain(narrow, weather(), fill_thickness=0.5)


def test_a_wrap_without_a_skirt_is_a_cylinder_and_a_skirt_widens_its_foot():
    column = envelope_of(CoverBuild(diameter=0.6, height=2.0))
    assert column.ground == pytest.approx(math.pi * 0.09)
    assert column.cloth == pytest.approx(math.pi * 0.6 * 2.0 + math.pi * 0.09)
    assert column.volume == pytest.approx(math.pi * 0.09 * 2.0)
    assert envelope_of(CoverBuild(skirt=0.7)).ground == pytest.approx(math.pi)


def test_a_wrap_is_credited_with_what_growers_go_by_at_most():
    gains = np.array([-3.0, 1.0, 4.0, 9.0])
    assert bounded_gain(gains, CoverBuild()).tolist() == [-3.0, 1.0, 2.8, 2.8]
    assert bounded_gain(gains, CoverBuild(skirt=0.5)).tolist() == [-3.0, 1.0, 4.0, 5.6]
    assert gain_limit(CoverBuild(fill=CoverFill.DRY_LEAVES)) == 5.6
    assert gain_limit(CoverBuild(skirt=0.49)) == 2.8


def test_what_was_measured_is_credited_exactly():
    assert bounded_gain(np.array([-3.0, 9.0]), CoverBuild(measured_gain=7.5)).tolist() == [7.5, 7.5]


@pytest.mark.parametrize("spoilt", ["shape", "nan", "wind", "film", "no past", "nothing ahead"])
def test_what_is_no_weather_is_refused(spoilt):
    air = np.zeros((1, 4))
    film, wind, past = np.ones((1, 4)), np.zeros((1, 4)), 2
    if spoilt == "shape":
        film = np.ones((1, 3))
    elif spoilt == "nan":
        air[0, 3] = np.nan
    elif spoilt == "wind":
        wind = wind - 1.0
    elif spoilt == "film":
        film = film * 0.0
    else:
        past = 0 if spoilt == "no past" else 4
    with pytest.raises(ValueError, match=r"round a wrap|hours have passed"):
        CoverWeather(air, air, film, wind, past)
