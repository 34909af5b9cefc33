"""How heat flows through a column, hour by hour."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from .column import HOUR, ColumnResult

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from .air import Numbers
    from .column import Column
    from .film import Film

#: Share of the longest stable step that is used [1]. Assumed: room for rounding.
_STEP_SHARE = 0.95


def solve_column(
    column: Column,
    top: Film,
    bottom_temperature: Numbers,
    start: NDArray[np.float64],
    depths: Sequence[float],
) -> ColumnResult:
    """Let the weather work on a column.

    Parameters
    ----------
    column : Column
        Of what.
    top : Film
        What it exchanges heat with above, (n_members, n_times), hour by hour.
    bottom_temperature : float or numpy.ndarray
        [°C] Kept at the lower end; shape (n_members,) if members differ.
    start : numpy.ndarray
        [J/m3] Enthalpy of the cells, shape (n_cells, n_members): `Column.enthalpy` of their temperatures, or the end
        of what was solved before.
    depths : sequence of float
        [m] Whose temperatures are wanted; above the middle of the first cell and below that of the last one theirs.

    Returns
    -------
    ColumnResult

    Raises
    ------
    ValueError
        If the start is of another shape or not finite.

    Notes
    -----
    Explicit steps of the enthalpy in finite volumes, never longer than is stable; faces between cells conduct by the
    harmonic mean (Patankar 1980, Numerical Heat Transfer and Fluid Flow, from memory), which keeps the flow through
    layers exact at rest.
    """
    members, times = top.temperature.shape
    if start.shape != (len(column.size), members) or not np.isfinite(start).all():
        message = f"{members} columns of {len(column.size)} cells cannot start from {start.shape}, or not from NaN"
        raise ValueError(message)
    enthalpy = start.copy()
    heat = np.zeros(members)
    temperature = np.empty((len(depths), members, times))
    surface = np.empty((members, times))
    reader = DepthReader(column, depths)
    steps = steps_an_hour(column, float(top.conductance.max(initial=0.0)))
    for hour in range(times):
        heat += advance(
            column,
            enthalpy,
            top.temperature[:, hour],
            top.conductance[:, hour],
            bottom_temperature,
            steps,
            HOUR / steps,
        )
        temperature[:, :, hour] = reader.read(enthalpy)
        share = top.conductance[:, hour] * column.half_resistance(enthalpy)[0]
        surface[:, hour] = (column.temperature(enthalpy)[0] + top.temperature[:, hour] * share) / (1.0 + share)
    return ColumnResult(temperature, surface, enthalpy, heat)


def steps_an_hour(column: Column, film_conductance: float) -> int:
    """Return in how many steps an hour is to be solved under a film of at most a conductance [W/(m2 K)]."""
    return math.ceil(HOUR / (_STEP_SHARE * column.longest_step(film_conductance)))


def advance(
    column: Column,
    enthalpy: NDArray[np.float64],
    film_temperature: NDArray[np.float64],
    film_conductance: NDArray[np.float64],
    bottom_temperature: Numbers,
    steps: int,
    step: float,
) -> NDArray[np.float64]:
    """Take some steps under one weather.

    Parameters
    ----------
    column : Column
        Of what.
    enthalpy : numpy.ndarray
        [J/m3] shape (n_cells, n_members); changed in place.
    film_temperature, film_conductance : numpy.ndarray
        [°C], [W/(m2 K)] Above, shape (n_members,).
    bottom_temperature : float or numpy.ndarray
        [°C] Below.
    steps : int
        How many.
    step : float
        [s] Each; no longer than `Column.longest_step`.

    Returns
    -------
    numpy.ndarray
        [J/m2] Heat that came in from above and below, shape (n_members,).
    """
    cells, members = enthalpy.shape
    flow = np.empty((cells + 1, members))
    heat = np.zeros(members)
    pace = step / column.size
    for _ in range(steps):
        temperature = column.temperature(enthalpy)
        half = column.half_resistance(enthalpy)
        flow[0] = film_conductance * (film_temperature - temperature[0]) / (1.0 + film_conductance * half[0])
        np.divide(temperature[:-1] - temperature[1:], half[:-1] + half[1:], out=flow[1:-1])
        flow[-1] = (temperature[-1] - bottom_temperature) / half[-1]
        enthalpy += pace * (flow[:-1] - flow[1:])
        heat += step * (flow[0] - flow[-1])
    return heat


class DepthReader:
    """Reads the temperatures of some depths.

    Parameters
    ----------
    column : Column
        Of what.
    depths : sequence of float
        [m] Below the top.

    Notes
    -----
    Between the middle of a cell and its face the temperature is a straight line, and no heat is lost at the face: so
    the bend between straw and soil is where they meet.
    """

    def __init__(self, column: Column, depths: Sequence[float]) -> None:
        self._column = column
        positions = np.empty(2 * len(column.size) - 1)
        positions[::2] = column.depths
        positions[1::2] = np.cumsum(column.size[:, 0])[:-1]
        place = np.interp(np.asarray(depths, dtype=np.float64), positions, np.arange(positions.size))
        self._upper = np.floor(place).astype(np.int64)
        self._lower = np.ceil(place).astype(np.int64)
        self._share = (place - self._upper)[:, None]

    def read(self, enthalpy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the temperatures [°C] for an enthalpy [J/m3] (n_cells, n_members), shape (n_depths, n_members)."""
        temperature = self._column.temperature(enthalpy)
        half = self._column.half_resistance(enthalpy)
        nodes = np.empty((2 * len(temperature) - 1, temperature.shape[1]))
        nodes[::2] = temperature
        nodes[1::2] = (temperature[:-1] * half[1:] + temperature[1:] * half[:-1]) / (half[:-1] + half[1:])
        return np.asarray(nodes[self._upper] * (1.0 - self._share) + nodes[self._lower] * self._share)
