"""Heat in a column of layers that freeze: soil, and what lies on it, many weathers at once."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from .air import Numbers
    from .medium import Medium

#: Between two values of the weather [s].
HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of a column.

    Parameters
    ----------
    medium : Medium
        What it is of.
    thickness : float
        [m]
    conductivity_factor : float or numpy.ndarray
        [1] By which its conductivity is multiplied; shape (n_members,) if members differ.

    Raises
    ------
    ValueError
        Unless the thickness and the factor are finite and above 0.
    """

    medium: Medium
    thickness: float
    conductivity_factor: Numbers = 1.0

    def __post_init__(self) -> None:
        """Refuse what is no layer."""
        factor = np.asarray(self.conductivity_factor)
        if not (0.0 < self.thickness < math.inf and (factor > 0.0).all() and np.isfinite(factor).all()):
            message = f"a layer {self.thickness} m thick, its conductivity multiplied by {self.conductivity_factor}"
            raise ValueError(message)


@dataclass(frozen=True, slots=True)
class Column:
    """Layers cut into cells, from the top down; made by `column_of`.

    Parameters
    ----------
    size : numpy.ndarray
        [m] Thickness of the cells, shape (n_cells, 1), like all that do not differ by member.
    frozen_conductivity, conductivity_gain : numpy.ndarray
        [W/(m K)] Of the frozen cell, and what is added to it when it is unfrozen, shape (n_cells, 1 or n_members).
    frozen_capacity, unfrozen_capacity : numpy.ndarray
        [J/(m3 K)]
    melting_heat : numpy.ndarray
        [J/m3] From all frozen to all unfrozen, the heat of warming over the freezing width within it.
    frozen_below, width : numpy.ndarray
        [°C] and [K] All is frozen below, all unfrozen a width above.
    """

    size: NDArray[np.float64]
    frozen_conductivity: NDArray[np.float64]
    conductivity_gain: NDArray[np.float64]
    frozen_capacity: NDArray[np.float64]
    unfrozen_capacity: NDArray[np.float64]
    melting_heat: NDArray[np.float64]
    frozen_below: NDArray[np.float64]
    width: NDArray[np.float64]

    @property
    def depths(self) -> NDArray[np.float64]:
        """Middles of the cells below the top [m], shape (n_cells,)."""
        return np.asarray((np.cumsum(self.size, axis=0) - self.size / 2.0)[:, 0])

    def of(self, rows: NDArray[np.intp]) -> Column:
        """Return the column for some of its members."""
        if self.frozen_conductivity.shape[1] == 1:
            return self
        frozen, gain = self.frozen_conductivity[:, rows], self.conductivity_gain[:, rows]
        return replace(self, frozen_conductivity=frozen, conductivity_gain=gain)

    def temperature(self, enthalpy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the temperature [°C] for an enthalpy [J/m3], 0 where all has just frozen; (n_cells, n_members)."""
        melting = np.clip(enthalpy, 0.0, self.melting_heat)
        beyond = enthalpy - melting
        capacity = np.where(beyond < 0.0, self.frozen_capacity, self.unfrozen_capacity)
        return np.asarray(self.frozen_below + melting * (self.width / self.melting_heat) + beyond / capacity)

    def enthalpy(self, temperature: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the enthalpy [J/m3] for a temperature [°C], both of shape (n_cells, n_members)."""
        above = temperature - self.frozen_below
        melting = np.clip(above, 0.0, self.width)
        beyond = above - melting
        capacity = np.where(beyond < 0.0, self.frozen_capacity, self.unfrozen_capacity)
        return np.asarray(melting * (self.melting_heat / self.width) + beyond * capacity)

    def half_resistance(self, enthalpy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the resistance of half of each cell [m2 K/W] for an enthalpy [J/m3], shape (n_cells, n_members)."""
        liquid = np.clip(enthalpy / self.melting_heat, 0.0, 1.0)
        return np.asarray(self.size / (2.0 * (self.frozen_conductivity + self.conductivity_gain * liquid)))

    def longest_step(self, film_conductance: float) -> float:
        """Return the longest stable explicit step [s] under a film of at most a conductance [W/(m2 K)]."""
        unfrozen = self.frozen_conductivity + self.conductivity_gain
        half = self.size / (2.0 * np.maximum(self.frozen_conductivity, unfrozen))
        half = half.min(axis=1)
        between = 1.0 / (half[1:] + half[:-1])
        top = film_conductance / (1.0 + film_conductance * half[:1])
        conductance = np.concatenate([top, between]) + np.concatenate([between, 1.0 / half[-1:]])
        capacity = self.size * np.minimum(self.frozen_capacity, self.unfrozen_capacity)
        return float((capacity[:, 0] / conductance).min())


@dataclass(frozen=True, slots=True)
class ColumnResult:
    """What became of a column.

    Parameters
    ----------
    temperature : numpy.ndarray
        [°C] At the end of each hour, shape (n_depths, n_members, n_times).
    surface : numpy.ndarray
        [°C] Of the upper end of the column, at the end of each hour, shape (n_members, n_times).
    enthalpy : numpy.ndarray
        [J/m3] At the end, shape (n_cells, n_members): to go on from.
    heat : numpy.ndarray
        [J/m2] That came in from above and below, shape (n_members,).
    """

    temperature: NDArray[np.float64]
    surface: NDArray[np.float64]
    enthalpy: NDArray[np.float64]
    heat: NDArray[np.float64]


def column_of(layers: Sequence[Layer], cell: float = 0.01, even_to: float = 0.3, growth: float = 0.15) -> Column:
    """Cut layers into cells.

    Parameters
    ----------
    layers : sequence of Layer
        From the top down, at least one.
    cell : float
        [m] Thickness of the cells near the top, about.
    even_to : float
        [m] Depth below which cells get thicker.
    growth : float
        [1] By how much thicker with each metre of depth.

    Returns
    -------
    Column
    """
    sizes: list[float] = []
    parts: list[NDArray[np.float64]] = []
    for layer in layers:
        own = _cells(layer.thickness, sum(sizes), cell, even_to, growth)
        sizes.extend(own)
        factor = np.atleast_1d(np.asarray(layer.conductivity_factor, dtype=np.float64))
        parts.append(np.broadcast_to(factor, (len(own), factor.size)))
    members = max(part.shape[1] for part in parts)
    factors = np.concatenate([np.broadcast_to(part, (len(part), members)) for part in parts])
    mediums = [layer.medium for layer, part in zip(layers, parts, strict=True) for _ in part]
    frozen_conductivity = _rows([medium.conductivity_frozen for medium in mediums])
    gain = _rows([medium.conductivity_unfrozen for medium in mediums]) - frozen_conductivity
    width = _rows([medium.freezing_width for medium in mediums])
    frozen_capacity = _rows([medium.heat_capacity_frozen for medium in mediums])
    unfrozen_capacity = _rows([medium.heat_capacity_unfrozen for medium in mediums])
    return Column(
        size=_rows(sizes),
        frozen_conductivity=frozen_conductivity * factors,
        conductivity_gain=gain * factors,
        frozen_capacity=frozen_capacity,
        unfrozen_capacity=unfrozen_capacity,
        melting_heat=_rows([medium.latent_heat for medium in mediums])
        + width * (frozen_capacity + unfrozen_capacity) / 2.0,
        frozen_below=_rows([medium.freezing_point for medium in mediums]) - width,
        width=width,
    )


def _cells(thickness: float, above: float, cell: float, even_to: float, growth: float) -> list[float]:
    """Return the sizes of the cells of one layer [m], the last ones no thinner than they ought to be."""
    sizes: list[float] = []
    while sum(sizes) < thickness - cell / 2.0 or not sizes:
        sizes.append(cell + growth * max(0.0, above + sum(sizes) - even_to))
    scale = thickness / sum(sizes)
    return [size * scale for size in sizes]


def _rows(values: Sequence[float]) -> NDArray[np.float64]:
    return np.array(values, dtype=np.float64)[:, None]
