"""How heat flows through a column, hour by hour."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from .alike import alike, picked
from .column import HOUR, ColumnResult
from .film import Film

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from .air import Numbers
    from .column import Column

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
    reader, stepper = DepthReader(column, depths), _Stepper(column, members)
    steps = steps_an_hour(column, float(top.conductance.max(initial=0.0)))
    for hour in range(times):
        air, conductance = top.temperature[:, hour], top.conductance[:, hour]
        heat += stepper.advance(enthalpy, air, conductance, bottom_temperature, steps)
        temperature[:, :, hour] = reader.read(enthalpy)
        first = enthalpy[:1]
        share = conductance * column.half_resistance(first)[0]
        surface[:, hour] = (column.temperature(first)[0] + air * share) / (1.0 + share)
    return ColumnResult(temperature, surface, enthalpy, heat)


def solve_ahead(
    column: Column,
    top: Film,
    bottom_temperature: Numbers,
    start: NDArray[np.float64],
    depths: Sequence[float],
    past: int,
) -> ColumnResult:
    """Let the weather work on a column, and tell the hours ahead only.

    Parameters
    ----------
    column, top, bottom_temperature, start, depths
        As `solve_column` has them.
    past : int
        How many of the hours have passed.

    Returns
    -------
    ColumnResult
        Of the hours ahead; its heat, too. The same as of each member alone, to rounding of the steps.

    Notes
    -----
    Realizations differ in the hours ahead only, and most numbers that are varied do not reach the column: columns that
    are alike are solved once, in the hours that have passed and then again in those ahead.
    """
    members = top.temperature.shape[0]
    by_past = (top.temperature[:, :past], top.conductance[:, :past], bottom_temperature, start.T)
    rows, of_all = alike(*by_past, column.frozen_conductivity.T, members=members)
    lower = picked(bottom_temperature, rows, members)
    before = solve_column(column.of(rows), _hours(top, rows, slice(None, past)), lower, start[:, rows], [])
    ahead = slice(past, None)
    by_all = (of_all.astype(np.float64), top.temperature[:, ahead], top.conductance[:, ahead])
    different, of_each = alike(*by_all, members=members)
    lower = picked(bottom_temperature, different, members)
    begun = before.enthalpy[:, of_all[different]]
    solved = solve_column(column.of(different), _hours(top, different, ahead), lower, begun, depths)
    return ColumnResult(
        solved.temperature[:, of_each], solved.surface[of_each], solved.enthalpy[:, of_each], solved.heat[of_each]
    )


def _hours(film: Film, rows: NDArray[np.intp], hours: slice) -> Film:
    return Film(film.temperature[rows, hours], film.conductance[rows, hours])


def steps_an_hour(column: Column, film_conductance: float) -> int:
    """Return in how many steps an hour is to be solved under a film of at most a conductance [W/(m2 K)]."""
    return math.ceil(HOUR / (_STEP_SHARE * column.longest_step(film_conductance)))


class _Stepper:
    """Takes the steps of an hour in arrays that are made once: most of the time would go into making them.

    Temperature and half resistance are those of `Column`, written as sums of straight pieces.
    """

    def __init__(self, column: Column, members: int) -> None:
        self._column = column
        cells = len(column.size)
        self._freezing, self._melted, self._half, self._temperature = np.empty((4, cells, members))
        self._flow = np.empty((cells + 1, members))
        self._between = np.empty((2, cells - 1, members))
        self._warming = 1.0 / column.unfrozen_capacity
        self._more_frozen = 1.0 / column.frozen_capacity - self._warming
        self._more_melting = column.width / column.melting_heat - self._warming
        # Both of the resistance of half of a cell, so that it is one division.
        self._frozen = column.frozen_conductivity * 2.0 / column.size
        self._gain = column.conductivity_gain * 2.0 / column.size / column.melting_heat

    def advance(
        self,
        enthalpy: NDArray[np.float64],
        film_temperature: NDArray[np.float64],
        film_conductance: NDArray[np.float64],
        bottom_temperature: Numbers,
        steps: int,
    ) -> NDArray[np.float64]:
        """Take the steps of one hour, each no longer than `Column.longest_step`; the enthalpy is changed in place.

        Returns
        -------
        numpy.ndarray
            [J/m2] Heat that came in from above and below, shape (n_members,).
        """
        column, flow, half, temperature = self._column, self._flow, self._half, self._temperature
        frozen, melted, (upper, lower) = self._freezing, self._melted, self._between
        heat = np.zeros(enthalpy.shape[1])
        pace = HOUR / steps / column.size
        for _ in range(steps):
            np.minimum(enthalpy, 0.0, out=frozen)
            np.subtract(enthalpy, frozen, out=melted)
            np.minimum(melted, column.melting_heat, out=melted)
            np.multiply(melted, self._gain, out=half)
            half += self._frozen
            np.reciprocal(half, out=half)
            np.multiply(enthalpy, self._warming, out=temperature)
            temperature += column.frozen_below
            frozen *= self._more_frozen
            temperature += frozen
            melted *= self._more_melting
            temperature += melted
            flow[0] = film_conductance * (film_temperature - temperature[0]) / (1.0 + film_conductance * half[0])
            np.subtract(temperature[:-1], temperature[1:], out=upper)
            np.add(half[:-1], half[1:], out=lower)
            np.divide(upper, lower, out=flow[1:-1])
            flow[-1] = (temperature[-1] - bottom_temperature) / half[-1]
            np.subtract(flow[:-1], flow[1:], out=melted)
            melted *= pace
            enthalpy += melted
            heat += flow[0]
            heat -= flow[-1]
        return heat * (HOUR / steps)


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
