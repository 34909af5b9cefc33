"""Whole pots in invented cold nights against prototype values: a band of plausibility, not a truth.

PROTOTYPE VALUES. The tables were computed with another program of the same equations: explicit finite volumes of
0.8 cm, ground as a freezing column, moist substrate (35 % water), wind 2 m/s and cloud 0.2 unless said otherwise, 40 %
sun. How its days went between maximum and minimum is not known; ours come out 0.4 K warmer on average and 1 K at most
in the sweep. No measured winter temperatures of pots of 15 to 60 L were found, so nothing here says how near to nature
either is.
"""

from __future__ import annotations

import functools

import numpy as np
import pytest

from alertd.site import Insulation, Wetness
from tests.fakes.cold_nights import celsius, felt_in, forcing_of_nights, pot_with

#: How far the shell's minimum [K] and the peak share of the volume below -5 °C [1] may lie from the prototype's.
SHELL_BAND, SHARE_BAND = 1.5, 0.15

#: Prototype values: nights, litres; then for air minima of 25, 20, 15, 10, 5 and 0 °F the lowest temperature of the
#: outer 2 cm [°F] and the peak share of the volume below 23 °F [%].
SWEEP = {
    (1, 15): ((30, 0), (28, 1), (26, 8), (23, 17), (19, 26), (17, 35)),
    (1, 25): ((30, 0), (28, 0), (27, 5), (24, 14), (20, 21), (18, 29)),
    (1, 60): ((30, 0), (29, 0), (27, 2), (24, 9), (21, 14), (19, 18)),
    (2, 15): ((30, 0), (25, 11), (19, 39), (14, 63), (9, 80), (3, 92)),
    (2, 25): ((30, 0), (25, 8), (20, 31), (15, 50), (10, 65), (5, 78)),
    (2, 60): ((30, 0), (26, 3), (21, 20), (17, 33), (12, 47), (8, 56)),
    (3, 15): ((29, 0), (23, 25), (16, 67), (9, 93), (3, 100), (-3, 100)),
    (3, 25): ((29, 0), (23, 18), (17, 54), (11, 78), (5, 93), (-1, 100)),
    (3, 60): ((29, 0), (24, 12), (18, 35), (13, 55), (8, 69), (3, 80)),
}
MINIMA = (25, 20, 15, 10, 5, 0)

#: Prototype values at an air minimum of 10 °F with days of -2 °C between: weather, nights, then for 15, 25 and 60 L the
#: lowest shell and core [°F] and the peak share below 23 °F [%].
CALM = {"wind": 0.6, "cloud": 0.0}
WEATHERS = {
    "calm, clear, in the sun": (
        CALM,
        {},
        {
            1: ((23, 32, 20), (23, 32, 16), (24, 32, 10)),
            3: ((7, 23, 96), (9, 31, 81), (12, 32, 58)),
        },
    ),
    "calm, clear, in the shade": (
        CALM,
        {"sun": 0.0},
        {
            1: ((20, 32, 37), (19, 32, 31), (20, 32, 23)),
            3: ((4, 6, 100), (6, 19, 100), (9, 30, 76)),
        },
    ),
    "windy, overcast": (
        {"wind": 6.0, "cloud": 1.0},
        {},
        {
            1: ((23, 32, 18), (24, 32, 13), (24, 32, 9)),
            3: ((13, 28, 85), (14, 31, 68), (15, 32, 46)),
        },
    ),
}


def figures(litres, nights, fahrenheit, *, neighbours=1, by_day=None, weather=(), **standing):
    """Return the lowest shell and core [°C] and the peak share of the volume below -5 °C [1]."""
    forcing, times = forcing_of_nights([celsius(fahrenheit)] * nights, by_day=by_day, **dict(weather))
    felt = felt_in(forcing, times, pot_with(float(litres), neighbours, **standing))
    medians = felt.medians
    return float(medians["shell"].min()), float(medians["core"].min()), float(medians["frozen_share"].max())


@functools.cache
def swept(litres, nights, fahrenheit):
    return figures(litres, nights, fahrenheit)


@pytest.mark.parametrize(("nights", "litres"), SWEEP)
def test_cold_nights_are_about_as_in_the_prototype(nights, litres):
    for fahrenheit, (shell, share) in zip(MINIMA, SWEEP[nights, litres], strict=True):
        found = swept(litres, nights, fahrenheit)
        assert found[0] == pytest.approx(celsius(shell), abs=SHELL_BAND), fahrenheit
        assert found[2] == pytest.approx(share / 100.0, abs=SHARE_BAND), fahrenheit


@pytest.mark.parametrize("nights", [1, 3])
@pytest.mark.parametrize("name", WEATHERS)
def test_sun_shade_and_wind_are_about_as_in_the_prototype(name, nights):
    weather, standing, table = WEATHERS[name]
    for litres, (shell, core, share) in zip((15, 25, 60), table[nights], strict=True):
        found = figures(litres, nights, 10, by_day=-2.0, weather=tuple(weather.items()), **standing)
        assert found[0] == pytest.approx(celsius(shell), abs=SHELL_BAND)
        # A core gives way within hours once its latent heat is gone, so only where it holds it can be compared.
        if core >= 31:
            assert found[1] == pytest.approx(celsius(core), abs=1.0)
        assert found[2] == pytest.approx(share / 100.0, abs=0.20)


def test_at_the_growers_limit_one_night_hurts_little_and_nights_in_a_row_hurt_much():
    """Trade rule: roots of potted figs begin to suffer at 15 °F (seen, a grower's page; no measurement behind it)."""
    for litres in (15, 25, 60):
        once, thrice = swept(litres, 1, 15)[2], swept(litres, 3, 15)[2]
        assert once < 0.10
        assert thrice > 0.20
        assert swept(litres, 1, 25)[2] == 0.0
        assert once < swept(litres, 1, 10)[2] < swept(litres, 1, 0)[2]


def test_a_smaller_pot_never_loses_less_of_its_volume():
    for nights in (1, 2, 3):
        for fahrenheit in MINIMA:
            shares = [swept(litres, nights, fahrenheit)[2] for litres in (15, 25, 60)]
            assert shares == sorted(shares, reverse=True)


def test_many_sizes_are_in_order_within_a_third_of_a_point():
    shares = np.array([figures(litres, 2, 12)[2] for litres in (5, 7, 10, 14, 20, 28, 40, 56, 80, 100)])
    assert (np.diff(shares) < 0.003).all()


def test_water_keeps_a_root_ball_from_the_cold_of_one_night():
    """Prototype values for 25 L at 10 °F, one night: 14, 24 and 28 °F at 12, 35 and 50 % water; here 20 % is dry."""
    shells = [figures(25, 1, 10, wetness=wetness)[0] for wetness in (Wetness.DRY, Wetness.MOIST, Wetness.WET)]
    assert shells == sorted(shells)
    assert celsius(14.0) < shells[0] < celsius(22.0)
    assert shells[1] == pytest.approx(celsius(24.0), abs=SHELL_BAND)
    assert shells[2] == pytest.approx(celsius(28.0), abs=SHELL_BAND)


def test_a_wrapped_pot_holds_for_three_nights():
    """Prototype values for 25 L at 10 °F in bubble wrap: shell 31 °F after one night, 27 °F after three."""
    for nights, shell in ((1, 31.0), (3, 27.0)):
        found = figures(25, nights, 10, insulation=Insulation.BUBBLE_WRAP)
        assert found[0] == pytest.approx(celsius(shell), abs=SHELL_BAND)


def test_the_edge_of_a_cluster_lies_between_a_pot_alone_and_the_inside_of_the_cluster():
    """Prototype values for 25 L at 10 °F: alone 24 and 11 °F after one and three nights, inside a cluster 31 and 26 °F.

    The edge is judged here, since the pots there get coldest.
    """
    for nights, inside in ((1, 31.0), (3, 26.0)):
        alone, edge = figures(25, nights, 10)[0], figures(25, nights, 10, neighbours=12)[0]
        assert alone + 0.5 < edge < celsius(inside)
