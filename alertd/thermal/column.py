"""Heat up and down in layers of media that freeze: soil, mulch, a slab; nothing sideways.

Explicit steps of the enthalpy method, short enough never to overshoot: it converges whatever freezes, where a Newton
iteration that is cut off does not (measured: errors of 18 °C).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .medium import constants_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from .film import Film
    from .medium import Constants, Medium

_HOUR = 3600.0

#: Of the longest step that keeps every new temperature between the old ones around it.
_SAFETY = 0.9

#: Cells of the lowest layer grow downwards by this, up to so many times the first: cold has slowed down there.
_GROWTH, _LARGEST = 1.25, 8.0


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of a column.

    Parameters
    ----------
    medium : Medium
        What it is made of.
    thickness : float
        [m] Above 0.
    """

    medium: Medium
    thickness: float


@dataclass(frozen=True, slots=True)
class ColumnResult:
    """What becomes of a column.

    Parameters
    ----------
    temperature : numpy.ndarray
        [°C] At the end of each hour at each depth that was asked for, shape (n_depths, n_members, n_times).
    received : numpy.ndarray
        [J/m2] That came in through the top and the bottom, shape (n_members,).
    enthalpy : numpy.ndarray
        [J/m3] At the end, shape (n_cells, n_members).
    """

    temperature: NDArray[np.float64]
    received: NDArray[np.float64]
    enthalpy: NDArray[np.float64]


class Column:
    """Cells of layers, from the top down.

    Parameters
    ----------
    layers : sequence of Layer
        From the top down; at least one.
    cell : float
        [m] Height of cells; those of the lowest layer grow downwards if `grows`.
    grows : bool
        Whether they do.

    Raises
    ------
    ValueError
        If there is no layer, or a thickness or the cell is not above 0.
    """

    def __init__(self, layers: Sequence[Layer], cell: float, *, grows: bool = True) -> None:
        if not layers or not cell > 0.0 or not all(layer.thickness > 0.0 for layer in layers):
            message = "a column needs layers and cells that are thicker than nothing"
            raise ValueError(message)
        heights: list[float] = []
        media: list[Medium] = []
        for place, layer in enumerate(layers):
            cells = _cells(layer.thickness, cell, grows=grows and place == len(layers) - 1)
            heights += cells
            media += [layer.medium] * len(cells)
        self.heights = np.array(heights)
        self.middles = np.cumsum(self.heights) - self.heights / 2.0
        self.media = media
        by_cell = constants_of(media)
        #: One medium for each cell; the members share it.
        self.constants: Constants = by_cell
        self.step = self._longest_step()

    def enthalpy(self, temperature: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the enthalpy [J/m3] at temperatures [°C], shape (n_cells, n_members)."""
        return self.constants.enthalpy(temperature.T).T

    def temperature(self, enthalpy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the temperature [°C] at enthalpies [J/m3], shape (n_cells, n_members)."""
        return self.constants.temperature(enthalpy.T).T

    def _longest_step(self) -> float:
        constants = self.constants
        conductivity = np.maximum(constants.conductivity_frozen, constants.conductivity_unfrozen)
        capacity = np.minimum(constants.capacity_frozen, constants.capacity_unfrozen)
        between = 2.0 / (self.heights[:-1] / conductivity[:-1] + self.heights[1:] / conductivity[1:])
        outer = 2.0 * conductivity / self.heights  # also what a surface without any film would let through
        total = np.zeros(self.heights.size)
        total[:-1] += between
        total[1:] += between
        total[0] += outer[0]
        total[-1] += outer[-1]
        return _SAFETY * float((capacity * self.heights / total).min())


def solve_column(
    column: Column,
    top: Film,
    bottom_temperature: float,
    start: NDArray[np.float64],
    depths: Sequence[float],
) -> ColumnResult:
    """Return what becomes of a column.

    Parameters
    ----------
    column : Column
        Its cells.
    top : Film
        At its upper surface, shape (n_members, n_times); each value holds for an hour.
    bottom_temperature : float
        [°C] Kept at its lower surface.
    start : numpy.ndarray
        [°C] shape (n_cells,), or (n_cells, n_members).
    depths : sequence of float
        [m] Below the upper surface at which the temperature is wanted; 0 is the surface itself.

    Returns
    -------
    ColumnResult
        shape (n_depths, n_members, n_times).

    Examples
    --------
    A wall of two layers between fixed temperatures, until nothing changes any more:

    >>> import numpy as np
    >>> from alertd.thermal.film import Film
    >>> from alertd.thermal.medium import Medium
    >>> brick, wool = Medium(0.6, 0.6, 1.5e6, 1.5e6, 0.0), Medium(0.04, 0.04, 5e4, 5e4, 0.0)
    >>> film = Film(np.full((1, 600), -10.0), np.full((1, 600), 25.0))
    >>> column = Column([Layer(wool, 0.05), Layer(brick, 0.2)], 0.01, grows=False)
    >>> result = solve_column(column, film, 20.0, np.full(column.heights.size, 5.0), [0.05])
    >>> round(float(result.temperature[0, 0, -1]), 1)
    13.8
    """
    n_members, n_times = top.temperature.shape
    n_cells = column.heights.size
    initial = np.broadcast_to(start.reshape(n_cells, -1), (n_cells, n_members))
    enthalpy = column.enthalpy(np.array(initial))
    n_steps = math.ceil(_HOUR / column.step)
    step = _HOUR / n_steps
    half, by_height = column.heights[:, None] / 2.0, step / column.heights[:, None]
    weights = _Reader(column, depths)
    told = np.empty((n_times, len(weights.depths), n_members))
    received = np.zeros(n_members)
    temperature, conductivity = _state(column, enthalpy)
    for hour in range(n_times):
        film_temperature, conductance = top.temperature[:, hour], top.conductance[:, hour]
        for _ in range(n_steps):
            resistance = half / conductivity
            down = (temperature[:-1] - temperature[1:]) / (resistance[:-1] + resistance[1:])
            inward = conductance / (1.0 + conductance * resistance[0]) * (film_temperature - temperature[0])
            upward = (bottom_temperature - temperature[-1]) / resistance[-1]
            enthalpy[0] += inward * by_height[0]
            enthalpy[-1] += upward * by_height[-1]
            enthalpy[:-1] -= down * by_height[:-1]
            enthalpy[1:] += down * by_height[1:]
            received += (inward + upward) * step
            temperature, conductivity = _state(column, enthalpy)
        through = conductance * half[0] / conductivity[0]
        surface = (temperature[0] + through * film_temperature) / (1.0 + through)
        told[hour] = weights.read(temperature, surface)
    return ColumnResult(np.moveaxis(told, 0, -1), received, enthalpy)


def _cells(thickness: float, cell: float, *, grows: bool) -> list[float]:
    """Return the heights of a layer's cells."""
    if not grows:
        count = max(1, round(thickness / cell))
        return [thickness / count] * count
    heights: list[float] = []
    height = cell
    while sum(heights) + height < thickness:
        heights.append(height)
        height = min(height * _GROWTH, _LARGEST * cell)
    total = sum(heights) or height
    return [each * thickness / total for each in heights or [height]]


def _state(column: Column, enthalpy: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return temperature and conductivity of all cells; the latter is linear in the liquid fraction."""
    constants = column.constants
    melting = constants.melting[:, None]
    liquid = np.clip(enthalpy / melting, 0.0, 1.0)
    frozen, unfrozen = constants.conductivity_frozen[:, None], constants.conductivity_unfrozen[:, None]
    temperature = (
        constants.frozen_below[:, None]
        + np.minimum(enthalpy, 0.0) / constants.capacity_frozen[:, None]
        + liquid * (constants.freezing_point - constants.frozen_below)[:, None]
        + np.maximum(enthalpy - melting, 0.0) / constants.capacity_unfrozen[:, None]
    )
    return temperature, frozen + liquid * (unfrozen - frozen)


class _Reader:
    """Reads temperatures at depths: between the surface and the middles of cells, linear in the thermal resistance.

    So the surface where straw lies on soil is nearly as warm as the soil. The resistance is that of unfrozen media.
    """

    def __init__(self, column: Column, depths: Sequence[float]) -> None:
        self.depths = np.asarray(depths, dtype=np.float64)
        edges = np.concatenate([[0.0], np.cumsum(column.heights)])
        across = np.concatenate([[0.0], np.cumsum(column.heights / column.constants.conductivity_unfrozen)])
        places, wanted = (np.interp(at, edges, across) for at in (column.middles, self.depths))
        places = np.concatenate([[0.0], places])
        self._after = np.clip(np.searchsorted(places, wanted), 1, places.size - 1)
        before, after = places[self._after - 1], places[self._after]
        self._weight = np.clip((wanted - before) / (after - before), 0.0, 1.0)[:, None]

    def read(self, temperature: NDArray[np.float64], surface: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the temperature at each depth [°C], shape (n_depths, n_members)."""
        profile = np.vstack([surface, temperature])
        before, after = profile[self._after - 1], profile[self._after]
        return np.asarray(before + self._weight * (after - before))
