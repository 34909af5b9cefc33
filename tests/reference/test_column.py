"""Columns of soil and mulch against solutions that textbooks have."""

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import erf, erfc

from alertd.thermal.column import Column, Layer, solve_column
from alertd.thermal.film import Film
from alertd.thermal.medium import Medium


def test_a_half_space_freezes_as_neumann_says():
    """Two-phase Neumann solution (Carslaw & Jaeger, 11.2): similarity of the front and of both temperatures."""
    frozen, unfrozen, latent, cold, warm = (1.7, 1.9e6), (1.2, 2.4e6), 6.0e7, -10.0, 5.0
    narrow = 0.1
    medium = Medium(
        unfrozen[0], frozen[0], unfrozen[1], frozen[1], latent, freezing_point=narrow / 2, freezing_width=narrow
    )
    diffusivity_f, diffusivity_u = frozen[0] / frozen[1], unfrozen[0] / unfrozen[1]
    ratio = np.sqrt(diffusivity_f / diffusivity_u)

    def balance(x):
        lost = frozen[0] * -cold * np.exp(-(x**2)) / (np.sqrt(diffusivity_f) * erf(x))
        gained = unfrozen[0] * warm * np.exp(-((x * ratio) ** 2)) / (np.sqrt(diffusivity_u) * erfc(x * ratio))
        return lost - gained - latent * x * np.sqrt(np.pi) * np.sqrt(diffusivity_f)

    x = brentq(balance, 1e-3, 3.0)
    column = Column([Layer(medium, 3.0)], 0.005, grows=False)
    depths = np.arange(0.01, 0.30, 0.01)
    top = Film(np.full((1, 72), cold), np.full((1, 72), 1e6))
    told = solve_column(column, top, warm, np.full(column.heights.size, warm), depths).temperature[:, 0]
    for hours in (6, 24, 72):
        time = hours * 3600.0
        front = 2.0 * x * np.sqrt(diffusivity_f * time)
        above = cold * (1.0 - erf(depths / (2.0 * np.sqrt(diffusivity_f * time))) / erf(x))
        below = warm * (1.0 - erfc(depths / (2.0 * np.sqrt(diffusivity_u * time))) / erfc(x * ratio))
        exact = np.where(depths < front, above, below)
        assert np.sqrt(np.mean((told[:, hours - 1] - exact) ** 2)) <= 0.1


def test_a_daily_wave_is_damped_with_depth():
    """Amplitude exp(-z / d), d = sqrt(a P / pi) (Carslaw & Jaeger, 2.6), after the first days have been forgotten."""
    medium = Medium(1.2, 1.2, 2.4e6, 2.4e6, 0.0, freezing_point=-40.0)
    period, amplitude = 24, 10.0
    # Values hold for an hour: the mean of the wave over it.
    edges = np.arange(24 * 14 + 1) * 2.0 * np.pi / period
    wave = amplitude * (np.cos(edges[:-1]) - np.cos(edges[1:])) / (edges[1] - edges[0])
    column = Column([Layer(medium, 1.5)], 0.01, grows=False)
    depths = [0.05, 0.1, 0.2, 0.3]
    top = Film(wave[None, :], np.full((1, wave.size), 1e6))
    told = solve_column(column, top, 0.0, np.zeros(column.heights.size), depths).temperature[:, 0, -48:]
    damping = np.sqrt(medium.conductivity_unfrozen / 2.4e6 * period * 3600.0 / np.pi)
    for depth, values in zip(depths, told, strict=True):
        assert np.ptp(values) / 2.0 == pytest.approx(amplitude * np.exp(-depth / damping), abs=0.01 * amplitude)


def test_what_comes_in_is_what_is_there():
    medium = Medium(0.25, 0.4, 1.6e6, 1.0e6, 1.1e8)
    soil = Medium(1.2, 1.7, 2.4e6, 1.9e6, 5.5e7)
    column = Column([Layer(medium, 0.1), Layer(soil, 1.0)], 0.02)
    air = np.array([np.linspace(8.0, -25.0, 120), np.linspace(-25.0, 8.0, 120)])
    start = np.full((column.heights.size, 2), 3.0)
    before = column.enthalpy(start)
    result = solve_column(column, Film(air, np.full(air.shape, 12.0)), 9.0, start, [0.1])
    gained = ((result.enthalpy - before) * column.heights[:, None]).sum(axis=0)
    scale = (np.abs(result.enthalpy) * column.heights[:, None]).sum(axis=0)
    assert (np.abs(gained - result.received) <= 1e-10 * scale).all()


def test_what_is_no_column_is_refused():
    medium = Medium(1.2, 1.7, 2.4e6, 1.9e6, 5.5e7)
    for layers, cell in (([], 0.01), ([Layer(medium, 0.0)], 0.01), ([Layer(medium, 1.0)], 0.0)):
        with pytest.raises(ValueError, match="thicker than nothing"):
            Column(layers, cell)
    thin = Column([Layer(medium, 0.01)], 0.02)
    assert thin.heights.tolist() == [0.01]
    assert thin.temperature(thin.enthalpy(np.array([[-3.0]]))) == pytest.approx(-3.0)
