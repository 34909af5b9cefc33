"""The root ball against solutions that textbooks have."""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j0, j1

from alertd.thermal.container import Container, Surroundings, solve_root_zone
from alertd.thermal.film import Film
from alertd.thermal.grid import grid_of
from alertd.thermal.medium import Medium, constants_of

HOUR = 3600.0


def everywhere(temperature, conductance, n_times):
    film = Film(np.full((1, n_times), temperature), np.full((1, n_times), conductance))
    return Surroundings(film, film, film)


def cylinder_centre(times, radius, biot_number, diffusivity):
    """Centre of an infinite cylinder, as a share of the first difference; Bessel series (Carslaw & Jaeger, 7.7)."""
    roots = []
    low = 1e-9
    for high in np.linspace(0.05, 120.0, 24000):
        if (high * j1(high) - biot_number * j0(high)) * (low * j1(low) - biot_number * j0(low)) < 0.0:
            roots.append(brentq(lambda x: x * j1(x) - biot_number * j0(x), low, high))
        low = high
    assert len(roots) > 30
    values = np.zeros_like(times)
    for root in roots:
        factor = 2.0 / root * j1(root) / (j0(root) ** 2 + j1(root) ** 2)
        values += factor * np.exp(-(root**2) * diffusivity * times / radius**2)
    return values


def slab_centre(times, half, biot_number, diffusivity):
    """Middle of a slab, as a share of the first difference (Carslaw & Jaeger, 3.11)."""
    values = np.zeros_like(times)
    for n in range(40):
        root = brentq(lambda x: x * np.tan(x) - biot_number, n * np.pi + 1e-9, n * np.pi + np.pi / 2 - 1e-9)
        factor = 4.0 * np.sin(root) / (2.0 * root + np.sin(2.0 * root))
        values += factor * np.exp(-(root**2) * diffusivity * times / half**2)
    return values


@pytest.mark.parametrize("is_fast", [False, True], ids=["numpy", "numba"])
def test_a_cylinder_cools_as_the_product_of_two_series(is_fast):
    """Product solution of a finite cylinder (Incropera, Fundamentals of Heat and Mass Transfer, ch. 5, from memory)."""
    conductivity, capacity, film = 0.3, 2.0e6, 10.0
    soil = Medium(conductivity, conductivity, capacity, capacity, latent_heat=0.0, freezing_point=-40.0)
    pot = Container(0.15, 0.15, 0.32)
    zone = solve_root_zone(pot, soil, everywhere(-12.2, film, 24), 5.0, is_fast=is_fast)
    times = np.arange(1, 25) * HOUR
    diffusivity = conductivity / capacity
    share = cylinder_centre(times, 0.15, film * 0.15 / conductivity, diffusivity) * slab_centre(
        times, 0.16, film * 0.16 / conductivity, diffusivity
    )
    exact = -12.2 + 17.2 * share
    assert np.abs(zone.core[0] - exact)[2:].max() <= 0.06


@pytest.mark.parametrize(("step", "error"), [(900.0, 0.25), (225.0, 0.07)])
def test_a_small_pot_of_high_conductivity_cools_as_one_lump(step, error):
    """exp(-h A t / (C V)); Biot number 0.001 (any textbook). What is left is the first order of the steps."""
    metal = Medium(50.0, 50.0, 2.0e6, 2.0e6, latent_heat=0.0, freezing_point=-40.0)
    pot = Container(0.02, 0.02, 0.04)
    zone = solve_root_zone(pot, metal, everywhere(-10.0, 2.0, 6), 5.0, step=step)
    area_by_volume = 2.0 / 0.02 + 2.0 / 0.04
    exact = -10.0 + 15.0 * np.exp(-2.0 * area_by_volume * np.arange(1, 7) * HOUR / 2.0e6)
    assert np.abs(zone.core[0] - exact).max() <= error


@pytest.mark.parametrize("n_times", [20, 35, 50])
def test_a_long_cylinder_freezes_inward_in_planks_time(n_times):
    """t = L R^2 / dT (1 / 4k + 1 / 2hR) at a small Stefan number (Plank 1913; from memory), and on the way there."""
    conductivity, latent, radius, film, cold = 0.3, 1.3e8, 0.1, 12.0, -6.0
    medium = Medium(conductivity, conductivity, 1.0e5, 1.0e5, latent, freezing_point=0.0, freezing_width=0.05)
    around = Film(np.full((1, n_times), cold), np.full((1, n_times), film))
    closed = Film(np.full((1, n_times), cold), np.zeros((1, n_times)))
    pot = Container(radius, radius, 0.3)
    zone = solve_root_zone(pot, medium, Surroundings(around, closed, closed), 0.0)
    enthalpy, volumes = zone.end.enthalpy[:, :, 0], grid_of(pot).volumes
    left = float((np.clip(enthalpy / constants_of(medium).melting, 0.0, 1.0) * volumes).sum() / volumes.sum())
    assert 0.05 < left < 0.85
    expected = plank_time_until(left, latent, radius, film, conductivity, cold)
    assert n_times * HOUR == pytest.approx(expected, rel=0.02)


def plank_time_until(share_left, latent, radius, film, conductivity, cold):
    """Quasi-steady time until so much of the area is left unfrozen: the integral behind Plank's formula."""
    radii = np.linspace(radius, radius * np.sqrt(share_left), 20001)
    middle = (radii[1:] + radii[:-1]) / 2.0
    resistance = middle * (1.0 / (film * radius) + np.log(radius / middle) / conductivity)
    return float((latent / -cold * resistance * -np.diff(radii)).sum())
