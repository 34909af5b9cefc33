"""Mulch and wraps against a separate prototype.

Prototype values: another solver (implicit, coarse cells) of the same physics with assumed numbers; they are no
measurements, and the bands are wide: they catch a slip of a factor or a sign, not a wrong number. Its weather: four
mild days (8 and 0 °C), then nights of the minimum given, ground 3 °C at the top and 10 °C at 2 m. How warm its cold
days were was not kept: here 10 K above the night, but none in the ten days, for its bare ground was at -15.2 °C then.
"""

from __future__ import annotations

import numpy as np
import pytest

from alertd.site import CoverBuild, CoverFill, CoverMaterial, MulchBuild, MulchMaterial
from alertd.thermal.mulch import GroundWeather, snow_conductivity, stem_under_mulch
from alertd.thermal.wrap import CoverWeather, under_wrap

PAST = 96
NIGHT_HOURS = 8
FAHRENHEIT = 1.8


def air_of(coldest, nights, swing=10.0):
    hours = np.arange(PAST + 24 * nights)
    wave = (1.0 + np.cos(2.0 * np.pi * (hours - 14) / 24.0)) / 2.0
    return np.where(hours < PAST, 8.0 * wave, coldest + swing * wave)[None], hours


def sky(hours, clear):
    return np.where((hours % 24 < NIGHT_HOURS) | (hours % 24 > 24 - NIGHT_HOURS), clear, 0.0)


@pytest.mark.parametrize(
    ("coldest", "nights", "material", "expected"),
    [
        (-12.2, 3, MulchMaterial.STRAW, (0.0, 2.5, 3.3)),
        (-12.2, 3, MulchMaterial.WOOD_CHIPS, (-0.8, 1.0, 3.3)),
        (-12.2, 3, MulchMaterial.WET_LEAVES, (-3.5, -0.4, 2.2)),
        (-20.0, 3, MulchMaterial.STRAW, (-0.5, 1.4, 3.3)),
        (-20.0, 3, MulchMaterial.WOOD_CHIPS, (-2.1, -0.3, 3.3)),
        (-20.0, 3, MulchMaterial.WET_LEAVES, (-7.3, -2.2, 1.6)),
        (-15.0, 10, MulchMaterial.STRAW, (-0.9, 0.5, 3.3)),
        (-15.0, 10, MulchMaterial.WOOD_CHIPS, (-4.1, -1.0, 1.5)),
        (-15.0, 10, MulchMaterial.WET_LEAVES, (-9.7, -5.6, -1.0)),
    ],
)
def test_the_coldest_hour_under_5_10_and_20_cm_is_near_the_prototype(coldest, nights, material, expected):
    air, hours = air_of(coldest, nights, swing=10.0 if nights == 3 else 0.0)
    weather = GroundWeather(air, air - sky(hours, 4.0), np.full(air.shape, 12.0), np.zeros(air.shape), PAST)
    found = [stem_under_mulch(weather, MulchBuild(material, depth)).min() for depth in (0.05, 0.1, 0.2)]
    np.testing.assert_allclose(found, expected, atol=2.0)


@pytest.mark.parametrize(
    ("cover", "calm_and_clear", "windy_and_overcast"),
    [
        (CoverBuild(CoverMaterial.TARP), -5.0, 1.0),
        (CoverBuild(), -2.0, 4.0),
        (CoverBuild(diameter=0.9), -1.0, 4.0),
        (CoverBuild(CoverMaterial.TARP, height=1.8, skirt=0.7), 5.0, 7.0),
        (CoverBuild(height=1.8, skirt=0.7), 9.0, 13.0),
        (CoverBuild(height=1.8, skirt=0.7, is_closed_at_ground=False), 8.0, 9.0),
        (CoverBuild(diameter=0.9, fill=CoverFill.DRY_LEAVES), 17.0, 18.0),
    ],
)
def test_what_it_is_warmer_inside_in_a_night_is_near_the_prototype(cover, calm_and_clear, windy_and_overcast):
    air, hours = air_of(-12.2, 1)
    coldest = int(air[0, PAST:].argmin())
    found = []
    for clear, coefficient, wind in ((6.0, 8.5, 0.5), (0.5, 28.0, 6.0)):
        weather = CoverWeather(
            air, air - sky(hours, clear), np.full(air.shape, coefficient), np.full(air.shape, wind), PAST
        )
        inside = under_wrap(weather, cover).inside[0, coldest]
        found.append((inside - air[0, PAST + coldest]) * FAHRENHEIT)
    np.testing.assert_allclose(found, [calm_and_clear, windy_and_overcast], atol=5.0)


def test_snow_conducts_as_sturm_and_others_found():
    """Sturm et al. 1997 (from memory): 0.065 W/(m K) at 200 kg/m3, 0.126 at 300."""
    np.testing.assert_allclose(snow_conductivity(np.array([200.0, 300.0])), [0.065, 0.126], atol=5e-4)
