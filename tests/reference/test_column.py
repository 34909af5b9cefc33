"""Freezing, waves and walls that have been solved exactly."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import erf, erfc

from alertd.thermal.column import HOUR, Layer, column_of
from alertd.thermal.column_flow import solve_column
from alertd.thermal.film import Film
from alertd.thermal.medium import Medium

#: So good a film [W/(m2 K)] that the surface has the temperature given.
NO_RESISTANCE = 1e9


def test_the_ground_freezes_as_neumann_found():
    """Two phases, half-space: Carslaw & Jaeger 1959, section 11.2 (from memory)."""
    frozen_conductivity, unfrozen_conductivity, frozen_capacity, unfrozen_capacity = 1.8, 1.2, 2.0e6, 2.4e6
    latent_heat, start, surface = 6e7, 4.0, -10.0
    frozen = frozen_conductivity / frozen_capacity
    unfrozen = unfrozen_conductivity / unfrozen_capacity
    ratio = np.sqrt(frozen / unfrozen)

    def balance(front):
        in_ice = frozen_conductivity * -surface * np.exp(-(front**2)) / (np.sqrt(np.pi * frozen) * erf(front))
        beyond = np.exp(-((front * ratio) ** 2)) / (np.sqrt(np.pi * unfrozen) * erfc(front * ratio))
        return in_ice - unfrozen_conductivity * start * beyond - latent_heat * front * np.sqrt(frozen)

    front = brentq(balance, 1e-6, 5.0, xtol=1e-14)
    medium = Medium(
        unfrozen_conductivity, frozen_conductivity, unfrozen_capacity, frozen_capacity, latent_heat, 0.05, 0.1
    )
    column = column_of([Layer(medium, 3.0)], cell=0.005)
    depths = np.arange(0.0025, 0.3, 0.005)
    top = Film(np.full((1, 72), surface), np.full((1, 72), NO_RESISTANCE))
    solved = solve_column(column, top, start, column.enthalpy(np.full((len(column.size), 1), start)), depths)
    for hours in (6, 24, 72):
        seconds = hours * HOUR
        position = depths / (2.0 * np.sqrt(frozen * seconds))
        in_ice = surface * (1.0 - erf(position) / erf(front))
        beyond = start * (1.0 - erfc(position * ratio) / erfc(front * ratio))
        exact = np.where(position < front, in_ice, beyond)
        error = solved.temperature[:, 0, hours - 1] - exact
        assert np.sqrt(np.mean(error**2)) <= 0.1, hours


def test_the_wave_of_the_day_is_damped_with_depth_as_it_must_be():
    """exp(-z/d), d = sqrt(2a/w): Carslaw & Jaeger 1959, section 2.6 (from memory)."""
    conductivity, capacity, amplitude = 1.2, 2.4e6, 10.0
    medium = Medium(conductivity, conductivity, capacity, capacity, 0.0)
    pulsation = 2.0 * np.pi / (24.0 * HOUR)
    damping = np.sqrt(2.0 * conductivity / capacity / pulsation)
    assert damping == pytest.approx(0.117, abs=0.001)
    column = column_of([Layer(medium, 1.5)], cell=0.005, even_to=0.6)
    hours = np.arange(12 * 24)
    share = np.sinc(1.0 / 24.0)
    surface = amplitude * np.sin(pulsation * HOUR * (hours + 0.5)) * share
    top = Film(surface[None], np.full((1, hours.size), NO_RESISTANCE))
    depths = [0.05, 0.1, 0.2, 0.3]
    solved = solve_column(column, top, 0.0, column.enthalpy(np.zeros((len(column.size), 1))), depths)
    last = solved.temperature[:, 0, -24:]
    wave = np.exp(1j * pulsation * HOUR * (hours[-24:] + 1.0))
    found = 2.0 * np.abs((last * wave.conj()).mean(axis=1))
    # The mean of an hour takes one sinc from the wave, and steps of an hour take another from its first harmonic.
    np.testing.assert_allclose(found, amplitude * share**2 * np.exp(-np.array(depths) / damping), rtol=0.01)


def test_a_wall_of_layers_passes_the_heat_that_the_sum_of_its_resistances_lets_through():
    """Resistances in series: ISO 6946 (from memory)."""
    straw = Medium(0.055, 0.055, 1e5, 1e5, 0.0)
    loam = Medium(1.2, 1.2, 2.4e6, 2.4e6, 0.0)
    column = column_of([Layer(straw, 0.2), Layer(loam, 0.3)])
    top = Film(np.full((1, 24 * 40), -12.0), np.full((1, 24 * 40), 10.0))
    start = column.enthalpy(np.full((len(column.size), 1), 8.0))
    solved = solve_column(column, top, 8.0, start, [0.2])
    resistances = np.array([1.0 / 10.0, 0.2 / 0.055, 0.3 / 1.2])
    flow = 20.0 / resistances.sum()
    assert solved.temperature[0, 0, -1] == pytest.approx(8.0 - flow * resistances[2], abs=1e-3)
