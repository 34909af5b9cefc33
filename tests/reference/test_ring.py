"""Rings of mulch round standing stems against a solution in series, Plank's law, and a grid in two dimensions."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

from alertd.thermal.film import Film
from alertd.thermal.medium import Medium
from alertd.thermal.ring import ground_reach, stem_in_ring
from alertd.thermal.soils import SOILS, Soil, yearly_profile

HOUR = 3600.0


def roots_of(biot, count):
    """Roots of x J1(x) = Bi J0(x), each between a zero of J1 and the next of J0."""
    lower = np.concatenate([[1e-9], jn_zeros(1, count)])
    return np.array(
        [brentq(lambda x: x * j1(x) - biot * j0(x), a, b) for a, b in zip(lower, jn_zeros(0, count), strict=False)]
    )


def test_the_first_root_for_a_biot_number_of_1_is_the_published_one():
    """Heisler's table (from memory): 1.2558 for Bi = 1."""
    assert roots_of(1.0, 3)[0] == pytest.approx(1.2558, abs=5e-5)


@pytest.mark.parametrize(("thickness", "conductance"), [(0.1, 10.0), (0.2, 12.0), (0.3, 25.0)])
def test_the_middle_of_a_long_cylinder_cools_as_the_series_of_bessel_says(thickness, conductance):
    """Carslaw & Jaeger 1959, section 7.7 (from memory): sum of 2 J1 / (x (J0^2 + J1^2)) exp(-x^2 Fo)."""
    conductivity, capacity, start, outside = 0.11, 4.0e5, 5.0, -12.2
    medium = Medium(conductivity, conductivity, capacity, capacity, 0.0)
    roots = roots_of(conductance * thickness / conductivity, 60)
    weights = 2.0 * j1(roots) / (roots * (j0(roots) ** 2 + j1(roots) ** 2))
    hours = np.arange(1, 49)
    fourier = conductivity / capacity * hours * HOUR / thickness**2
    exact = outside + (start - outside) * (weights * np.exp(-np.outer(fourier, roots**2))).sum(axis=1)
    film = Film(np.full((1, 48), outside), np.full((1, 48), conductance))
    found = stem_in_ring(film, medium, thickness, start, cells=30)[0]
    # At the middle of the innermost cell, not at the axis; from 3 h on the series is smooth.
    np.testing.assert_allclose(found[2:], exact[2:], atol=0.06)


def test_a_wet_ring_freezes_through_in_planks_time():
    """Plank: t = L R^2 / dT (1 / 4k + 1 / (2 h R)), for small heat capacities (textbooks, from memory)."""
    thickness, conductance, conductivity, latent_heat, colder_by = 0.1, 20.0, 0.3, 1.0e8, 2.0
    medium = Medium(conductivity, conductivity, 1e5, 1e5, latent_heat, 0.0, 0.01)
    exact = latent_heat * thickness**2 / colder_by * (1 / (4 * conductivity) + 1 / (2 * conductance * thickness)) / HOUR
    hours = int(1.1 * exact)
    film = Film(np.full((1, hours), -colder_by), np.full((1, hours), conductance))
    stem = stem_in_ring(film, medium, thickness, 0.0, cells=24)[0]
    through = np.argmax(stem < -0.011)
    assert through == pytest.approx(exact, rel=0.02)


def test_from_four_reaches_above_warm_ground_upwards_a_ring_is_a_long_cylinder():
    """The same straw in two dimensions, on ground kept at 5 °C: plain explicit steps on a grid of 2 cm."""
    conductivity, capacity, radius, ground, size, conductance = 0.055, 1.0e5, 0.2, 5.0, 0.02, 12.0
    hours = np.arange(72)
    air = -12.2 + 10.0 * (1.0 + np.cos(2.0 * np.pi * (hours - 14) / 24.0)) / 2.0
    levels, rings = 60, 10
    faces = np.arange(rings + 1) * size
    volume = (faces[1:] ** 2 - faces[:-1] ** 2) / 2.0
    field = np.full((levels, rings), 4.0)
    steps = 30
    outer = 1.0 / (1.0 / conductance + size / (2.0 * conductivity))
    middle = np.empty((levels, hours.size))
    for hour in hours:
        for _ in range(steps):
            gain = np.zeros_like(field)
            inward = conductivity / size * np.diff(field, axis=1) * faces[1:-1]
            gain[:, :-1] += inward
            gain[:, 1:] -= inward
            gain[:, -1] += outer * (air[hour] - field[:, -1]) * faces[-1]
            gain /= volume
            down = conductivity / size * np.diff(field, axis=0) / size
            gain[:-1] += down
            gain[1:] -= down
            gain[0] += 2.0 * conductivity / size * (ground - field[0]) / size
            gain[-1] += outer * (air[hour] - field[-1]) / size
            field += HOUR / steps / capacity * gain
        middle[:, hour] = field[:, 0]
    stem = stem_in_ring(
        Film(air[None], np.full((1, 72), conductance)), Medium(0.055, 0.055, 1e5, 1e5, 0.0), radius, 4.0
    )
    height = (np.arange(levels) + 0.5) * size
    left = (middle - stem[0])[:, -24:].mean(axis=1) / (ground - stem[0, -24:].mean())
    # 1.602 exp(-z / reach) for a wall kept cold; a film on it lets the warmth reach a little further.
    law = 1.602 * np.exp(-height / ground_reach(radius))
    further = 1.602 * np.exp(-height / (1.06 * ground_reach(radius)))
    between = (height > 0.15) & (height < 0.45)
    assert (left[between] > 0.9 * law[between]).all()
    assert (left[between] < further[between]).all()
    assert (left[height >= 4.0 * ground_reach(radius)] < 0.04).all()
    half_up = np.abs(middle[levels // 2] - stem[0])
    assert half_up[3:].max() <= 0.1
    at_foot = middle[0].min() - stem.min()
    assert at_foot > 10.0


def test_the_wave_of_the_year_is_damped_to_a_third_in_two_and_a_quarter_metres_of_loam():
    """Damping depth sqrt(a P / pi) of 1.2 W/(m K) and 2.4 MJ/(m3 K): 2.24 m (Carslaw & Jaeger 1959, 2.6)."""
    loam = SOILS[Soil.LOAM].medium
    days = np.linspace(0.0, 365.25, 2000)
    waves = [yearly_profile(np.array([0.0, 2.24]), float(day), mean=0.0, amplitude=1.0, medium=loam) for day in days]
    swing = np.ptp(np.array(waves), axis=0)
    assert swing[1] / swing[0] == pytest.approx(np.exp(-1.0), abs=2e-3)
