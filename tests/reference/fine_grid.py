"""A root ball on a fine grid: simple, slow, and written without looking at the solver that it checks.

The same physics, another method. Heat conduction in a truncated cone of a medium that freezes, in cells that do not
move, each with its enthalpy, stepped forward by Euler's rule; no trick to save cells or steps. What it shares with
the package are the two plain data classes `Medium` and `Film`, which say what the physics is.

Cells lie between surfaces of constant share of the radius, r = rho R(z), and constant height. Heat crosses a face in
proportion to the difference of the temperatures at the two nodes, with the harmonic mean of the conductivities; the
term by which a cone's slope couples the two directions is dropped (about 7 degrees: 1 to 2 % of the flux, derived).
Method: S. V. Patankar, Numerical Heat Transfer and Fluid Flow, 1980, chapter 4 (from memory); enthalpy method:
V. Voller and M. Cross, International Journal of Heat and Mass Transfer 24:545, 1981 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numba
import numpy as np

if TYPE_CHECKING:
    from alertd.thermal.film import Film
    from alertd.thermal.medium import Medium

#: [m] Outermost part of the root ball, where most fine roots are.
SHELL_THICKNESS = 0.02
#: [s] Forcing is constant for so long.
HOUR = 3600.0
#: Of the stable step.
SAFETY = 0.9


@dataclass(frozen=True)
class Traces:
    """What becomes of one pot, at the end of each hour; all of shape (n_times,).

    Parameters
    ----------
    shell : numpy.ndarray
        [°C] Mean of the outer 2 cm in the middle third of the height.
    core : numpy.ndarray
        [°C] On the axis at half the height.
    mean : numpy.ndarray
        [°C] Of the whole volume.
    coldest_share : numpy.ndarray
        [°C] Below it lies the given share of the volume.
    frozen_share : numpy.ndarray
        Share of the volume below the limit.
    enthalpy : numpy.ndarray
        [J] Of the whole pot; 0 where the medium has just frozen through.
    received : numpy.ndarray
        [J] Through all surfaces since the start.
    """

    shell: np.ndarray
    core: np.ndarray
    mean: np.ndarray
    coldest_share: np.ndarray
    frozen_share: np.ndarray
    enthalpy: np.ndarray
    received: np.ndarray


class Grid:
    """Cells of a truncated cone: n_z layers from the bottom up, n_r rings from the axis out."""

    def __init__(self, radius_top: float, radius_bottom: float, height: float, spacing: float) -> None:
        n_r = math.ceil(max(radius_top, radius_bottom) / spacing)
        n_z = math.ceil(height / spacing)
        self.thickness = height / n_z
        edges = np.linspace(0.0, height, n_z + 1)
        self.heights = (edges[:-1] + edges[1:]) / 2
        radii_of_edges = radius_bottom + (radius_top - radius_bottom) * edges / height
        self.radii = (radii_of_edges[:-1] + radii_of_edges[1:]) / 2
        rho = np.linspace(0.0, 1.0, n_r + 1)
        rings = np.pi * np.diff(rho**2)
        lower, upper = radii_of_edges[:-1], radii_of_edges[1:]
        self.volumes = np.outer(self.thickness / 3 * (lower**2 + lower * upper + upper**2), rings)
        #: Area of each inner face by the distance of its nodes [m].
        self.radial = 2 * np.pi * np.arange(1.0, n_r) * self.thickness
        self.axial = np.outer(radii_of_edges**2, rings) / self.thickness
        slope = (radius_top - radius_bottom) / height
        self.wall_areas = 2 * np.pi * self.radii * self.thickness * math.sqrt(1 + slope**2)
        self.wall_inside = (
            2 * np.pi * self.thickness * n_r * 2.0
        )  # area by the half ring's width [m], equal in all layers
        self.bottom_areas = radii_of_edges[0] ** 2 * rings
        self.top_areas = radii_of_edges[-1] ** 2 * rings
        self.shell_weights = self._shell_weights(edges, rho)

    def _shell_weights(self, edges: np.ndarray, rho: np.ndarray) -> np.ndarray:
        """Return the volume [m3] that each cell has in the outer 2 cm of the middle third of the height."""
        height = edges[-1]
        share_of_layer = np.clip(
            np.minimum(edges[1:], height * 2 / 3) - np.maximum(edges[:-1], height / 3), 0.0, None
        ) / np.diff(edges)
        begin = np.clip(1.0 - SHELL_THICKNESS / self.radii, 0.0, 1.0)
        inner = np.maximum(rho[None, :-1], begin[:, None])
        share_of_ring = np.clip(rho[None, 1:] ** 2 - inner**2, 0.0, None) / np.diff(rho**2)
        return self.volumes * share_of_layer[:, None] * share_of_ring

    def stable_step(self, conductivity: float, heat_capacity: float, films: tuple[float, float, float]) -> float:
        """Return the longest step [s] that keeps every new temperature between the old ones around it."""
        conductances = np.zeros_like(self.volumes)
        conductances[:, :-1] += conductivity * self.radial
        conductances[:, 1:] += conductivity * self.radial
        conductances[:-1] += conductivity * self.axial[1:-1]
        conductances[1:] += conductivity * self.axial[1:-1]
        wall, top, bottom = films
        conductances[:, -1] += np.minimum(wall * self.wall_areas, conductivity * self.wall_inside)
        half = self.thickness / 2
        conductances[-1] += self.top_areas * min(top, conductivity / half)
        conductances[0] += self.bottom_areas * min(bottom, conductivity / half)
        return float((self.volumes * heat_capacity / conductances).min())


@numba.njit(error_model="numpy")
def _advance(  # one loop over cells, written out
    enthalpy,
    temperature,
    conductivity,
    steps,
    step,
    medium,
    films,
    volumes,
    radial,
    axial,
    wall_areas,
    wall_inside,
    bottom_areas,
    top_areas,
    half_thickness,
):
    """Step all cells forward under constant films; return what came in through the surfaces [J]."""
    conductivity_unfrozen, conductivity_frozen, capacity_unfrozen, capacity_frozen, latent, freezing_point, width = (
        medium
    )
    (wall_t, wall_h), (top_t, top_h), (bottom_t, bottom_h) = films
    n_z, n_r = enthalpy.shape
    just_frozen = freezing_point - width
    melting = (capacity_unfrozen + capacity_frozen) / 2 * width + latent
    change = conductivity_unfrozen - conductivity_frozen
    flow_up = np.zeros(n_r)
    received = 0.0
    for _ in range(steps):
        for i in range(n_z):
            for j in range(n_r):
                heat = enthalpy[i, j]
                part = min(max(heat / melting, 0.0), 1.0)
                conductivity[i, j] = conductivity_frozen + part * change
                temperature[i, j] = (
                    just_frozen
                    + min(heat, 0.0) / capacity_frozen
                    + part * width
                    + max(heat - melting, 0.0) / capacity_unfrozen
                )
        for j in range(n_r):
            film = bottom_h * bottom_areas[j]
            inside = bottom_areas[j] * conductivity[0, j] / half_thickness
            flow_up[j] = (bottom_t - temperature[0, j]) * film * inside / (film + inside)
            received += flow_up[j] * step
        for i in range(n_z):
            flow_out = 0.0
            for j in range(n_r):
                here_t, here_k = temperature[i, j], conductivity[i, j]
                if j < n_r - 1:
                    next_k = conductivity[i, j + 1]
                    mean = 2.0 * here_k * next_k / (here_k + next_k)
                    leaving = mean * radial[j] * (here_t - temperature[i, j + 1])
                else:
                    film = wall_h * wall_areas[i]
                    inside = wall_inside * here_k
                    leaving = (here_t - wall_t) * film * inside / (film + inside)
                    received -= leaving * step
                if i < n_z - 1:
                    next_k = conductivity[i + 1, j]
                    mean = 2.0 * here_k * next_k / (here_k + next_k)
                    rising = mean * axial[i + 1, j] * (here_t - temperature[i + 1, j])
                else:
                    film = top_h * top_areas[j]
                    inside = top_areas[j] * here_k / half_thickness
                    rising = (here_t - top_t) * film * inside / (film + inside)
                    received -= rising * step
                enthalpy[i, j] += step / volumes[i, j] * (flow_out - leaving + flow_up[j] - rising)
                flow_out = leaving
                flow_up[j] = rising
    return received


def _enthalpy_of(medium: Medium, temperature: float) -> float:
    just_frozen = medium.freezing_point - medium.freezing_width
    melting = (medium.heat_capacity_unfrozen + medium.heat_capacity_frozen) / 2 * medium.freezing_width
    melting += medium.latent_heat
    if temperature < just_frozen:
        return medium.heat_capacity_frozen * (temperature - just_frozen)
    if temperature < medium.freezing_point:
        return melting * (temperature - just_frozen) / medium.freezing_width
    return melting + medium.heat_capacity_unfrozen * (temperature - medium.freezing_point)


def _temperature_of(medium: Medium, enthalpy: np.ndarray) -> np.ndarray:
    knots = np.array([-100.0, medium.freezing_point - medium.freezing_width, medium.freezing_point, 100.0])
    return np.interp(enthalpy, [_enthalpy_of(medium, knot) for knot in knots], knots)


def _share_below(temperature: np.ndarray, volumes: np.ndarray, limit: float) -> float:
    """Return the share of the volume below a limit, with the temperature plane within each cell.

    Counting cells would jump by a whole ring. Of a plane over a rectangle the share below a value is the
    distribution function of the sum of two uniform numbers.
    """
    across = [np.abs(np.gradient(temperature, axis=axis)) + 1e-9 for axis in (0, 1)]
    both, difference = (across[0] + across[1]) / 2, (across[0] - across[1]) / 2
    distance = limit - temperature

    def square(value: np.ndarray) -> np.ndarray:
        return np.clip(value, 0.0, None) ** 2

    share = square(distance + both) - square(distance + difference) - square(distance - difference)
    share = np.clip((share + square(distance - both)) / (2 * across[0] * across[1]), 0.0, 1.0)
    # Where the plane is nearly level in one direction the formula cancels; there the cell is told by its node.
    sure = np.abs(distance) >= both
    share[sure] = distance[sure] > 0.0
    return float((share * volumes).sum() / volumes.sum())


def _coldest(temperature: np.ndarray, volumes: np.ndarray, share: float) -> float:
    """Return the temperature below which a share of the volume lies, to 1e-4 K."""
    low, high = float(temperature.min()) - 1.0, float(temperature.max()) + 1.0
    while high - low > 1e-4:
        middle = (low + high) / 2
        if _share_below(temperature, volumes, middle) < share:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def solve_fine_grid(
    shape: tuple[float, float, float],
    medium: Medium,
    films: tuple[Film, Film, Film],
    start: float,
    *,
    spacing: float = 0.005,
    cold_limit: float = -5.0,
    share: float = 0.2,
) -> Traces:
    """Return what becomes of one pot.

    Parameters
    ----------
    shape : tuple
        [m] Inner radius at the top, at the bottom, and height.
    medium : Medium
        What fills it.
    films : tuple
        Of wall, top and bottom, each of shape (1, n_times).
    start : float
        [°C] Everywhere in the pot.
    spacing : float
        [m] Of the cells, at most.
    cold_limit : float
        [°C] For `frozen_share`.
    share : float
        For `coldest_share`.
    """
    grid = Grid(*shape, spacing)
    properties = (
        medium.conductivity_unfrozen,
        medium.conductivity_frozen,
        medium.heat_capacity_unfrozen,
        medium.heat_capacity_frozen,
        medium.latent_heat,
        medium.freezing_point,
        medium.freezing_width,
    )
    worst = (
        max(medium.conductivity_unfrozen, medium.conductivity_frozen),
        min(medium.heat_capacity_unfrozen, medium.heat_capacity_frozen),
    )
    mild = (medium.conductivity_unfrozen, medium.heat_capacity_unfrozen)
    enthalpy = np.full(grid.volumes.shape, _enthalpy_of(medium, start))
    temperature = np.full_like(enthalpy, start)
    conductivity = np.empty_like(enthalpy)
    rows, received = [], 0.0
    for hour in range(films[0].temperature.shape[1]):
        now = tuple((float(film.temperature[0, hour]), float(film.conductance[0, hour])) for film in films)
        coldest = min(float(temperature.min()), *(outside for outside, _ in now))
        bound = grid.stable_step(
            *(mild if coldest > medium.freezing_point else worst), tuple(conductance for _, conductance in now)
        )
        steps = math.ceil(HOUR / (SAFETY * bound))
        received += _advance(
            enthalpy,
            temperature,
            conductivity,
            steps,
            HOUR / steps,
            properties,
            now,
            grid.volumes,
            grid.radial,
            grid.axial,
            grid.wall_areas,
            grid.wall_inside,
            grid.bottom_areas,
            grid.top_areas,
            grid.thickness / 2,
        )
        temperature = _temperature_of(medium, enthalpy)
        rows.append(
            (
                np.average(temperature, weights=grid.shell_weights),
                np.interp(shape[2] / 2, grid.heights, temperature[:, 0]),
                np.average(temperature, weights=grid.volumes),
                _coldest(temperature, grid.volumes, share),
                _share_below(temperature, grid.volumes, cold_limit),
                (enthalpy * grid.volumes).sum(),
                received,
            )
        )
    return Traces(*np.array(rows).T)
