"""Standing stems in a ring filled with mulch: far from the ground, cold comes through the ring from all round."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from .alike import alike, picked
from .film import Film

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import Numbers
    from .medium import Medium

_HOUR = 3600.0

#: Mulch thinner than this counts as none [m]. Assumed: wind goes through it.
THINNEST = 0.02

#: Thickness of the cells that is aimed at [m], and fewest and most cells. They keep the coldest hour of a stem within
#: 0.3 K of that of many more (tested), and steps long enough to be quick.
_CELL, _FEWEST, _MOST = 0.015, 1, 16

#: Share of the longest stable step that is used [1]. Assumed: room for rounding.
_STEP_SHARE = 0.9


def ground_reach(thickness: float) -> float:
    """Return how far up warmth of the ground reaches in a ring [m].

    Parameters
    ----------
    thickness : float
        [m] Of the mulch between the stem and the outside.

    Returns
    -------
    float
        The radius through the first zero of J0, 2.4048. Of warmth at one end of a cylinder whose wall is kept cold
        1.602 exp(-height / reach) is left along its axis, far from that end (Carslaw & Jaeger 1959, Conduction of Heat
        in Solids, section 8.3, from memory): 8 % at three times the reach, 3 % at four times.

    Examples
    --------
    >>> round(ground_reach(0.2), 3)
    0.083
    """
    return thickness / 2.4048


def stem_in_ring(
    outside: Film,
    medium: Medium,
    thickness: float,
    start: float | NDArray[np.float64],
    *,
    conductivity_factor: float | NDArray[np.float64] = 1.0,
    cells: int | None = None,
    past: int = 0,
) -> NDArray[np.float64]:
    """Return the temperature of a standing stem in the middle of a ring filled with mulch.

    Parameters
    ----------
    outside : Film
        What the ring exchanges heat with all round, (n_members, n_times), hour by hour.
    medium : Medium
        What it is filled with.
    thickness : float
        [m] From the stem to the outside.
    start : float or numpy.ndarray
        [°C] Of all the mulch at first; shape (n_members,) if members differ.
    conductivity_factor : float or numpy.ndarray
        [1] By which the conductivity of the mulch is multiplied; shape (n_members,) if members differ.
    cells : int or None
        Rings of mulch that are told apart, at least 1; ``None`` takes as many as are good enough.
    past : int
        Hours in front that have passed and are not in what is returned; in them most members are alike, and those that
        are will be solved once.

    Returns
    -------
    numpy.ndarray
        [°C] At the end of each hour ahead, shape (n_members, n_times - past). With less than 2 cm of mulch that of
        the film.

    Raises
    ------
    ValueError
        Unless thickness and factors are finite and above 0, and the start is finite.

    Notes
    -----
    Heat flows inward only, as in a long cylinder: right from about four times `ground_reach` above the ground
    upwards, too cold below that. So the wood in the ring that is worst off is judged, not that at its foot. The stem
    itself, which stores a little heat, counts as mulch. Dry straw stores next to no heat: a stem in 20 cm of it
    follows the air within hours. Moist mulch holds the freezing point until it is frozen through.

    Explicit steps of the enthalpy in finite volumes, none longer than is stable; faces between cells conduct by the
    harmonic mean.
    """
    factor, first = np.asarray(conductivity_factor, dtype=np.float64), np.asarray(start, dtype=np.float64)
    is_ring = 0.0 < thickness < math.inf and bool(np.isfinite(factor).all() and (factor > 0.0).all())
    if not is_ring or not np.isfinite(first).all():
        message = f"ring of {thickness} m of mulch that conducts {factor} times the usual, {first} °C at first"
        raise ValueError(message)
    if thickness < THINNEST:
        return outside.temperature[:, past:].copy()
    count = cells if cells is not None else min(max(round(thickness / _CELL), _FEWEST), _MOST)
    members = len(outside.temperature)
    rows, of_all = alike(outside.temperature[:, :past], outside.conductance[:, :past], first, factor, members=members)
    ring = _Ring(medium, thickness / count, count, picked(factor, rows, members))
    enthalpy = np.array(np.broadcast_to(ring.enthalpy(np.asarray(picked(first, rows, members))), (count, rows.size)))
    ring.solve(enthalpy, Film(outside.temperature[rows, :past], outside.conductance[rows, :past]))
    ahead = Film(outside.temperature[:, past:], outside.conductance[:, past:])
    different, of_each = alike(of_all.astype(np.float64), ahead.temperature, ahead.conductance, members=members)
    ring = _Ring(medium, thickness / count, count, picked(factor, different, members))
    begun = enthalpy[:, of_all[different]]
    stem = ring.solve(begun, Film(ahead.temperature[different], ahead.conductance[different]))
    return np.asarray(stem[of_each])


class _Ring:
    """Rings of mulch of one width, from the stem outwards; enthalpies of shape (n_cells, n_members)."""

    def __init__(self, medium: Medium, width: float, count: int, factor: Numbers) -> None:
        self._medium = medium
        edges = width * np.arange(count + 1)
        # Per metre of height and without 2 pi: volume r dr, area r.
        self._volume = ((edges[1:] ** 2 - edges[:-1] ** 2) / 2.0)[:, None]
        self._area = edges[1:, None]
        self._half_width = width / 2.0
        self._frozen = medium.conductivity_frozen * factor
        self._gain = medium.conductivity_unfrozen * factor - self._frozen
        mean = (medium.heat_capacity_frozen + medium.heat_capacity_unfrozen) / 2.0
        self._melting = medium.latent_heat + medium.freezing_width * mean
        self._frozen_below = medium.freezing_point - medium.freezing_width

    def enthalpy(self, temperature: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the enthalpy [J/m3], 0 where all has just frozen."""
        above = temperature - self._frozen_below
        melting = np.clip(above, 0.0, self._medium.freezing_width)
        capacity = np.where(above < 0.0, self._medium.heat_capacity_frozen, self._medium.heat_capacity_unfrozen)
        return np.asarray(melting * (self._melting / self._medium.freezing_width) + (above - melting) * capacity)

    def temperature(self, enthalpy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the temperature [°C]."""
        melting = np.clip(enthalpy, 0.0, self._melting)
        capacity = np.where(enthalpy < 0.0, self._medium.heat_capacity_frozen, self._medium.heat_capacity_unfrozen)
        width = self._medium.freezing_width
        return np.asarray(self._frozen_below + melting * (width / self._melting) + (enthalpy - melting) / capacity)

    def steps_an_hour(self, film_conductance: float) -> int:
        """Return into how many steps an hour is cut under a film of at most a conductance [W/(m2 K)]."""
        best = float(np.max(np.maximum(self._frozen, self._frozen + self._gain)))
        half = self._half_width / best
        conductance = np.zeros(len(self._volume))
        conductance[:-1] += self._area[:-1, 0] / (2.0 * half)
        conductance[1:] += self._area[:-1, 0] / (2.0 * half)
        conductance[-1] += self._area[-1, 0] * film_conductance / (1.0 + film_conductance * half)
        capacity = min(self._medium.heat_capacity_frozen, self._medium.heat_capacity_unfrozen)
        longest = capacity / float((conductance / self._volume[:, 0]).max() + np.finfo(np.float64).tiny)
        return max(1, math.ceil(_HOUR / (_STEP_SHARE * longest)))

    def solve(self, enthalpy: NDArray[np.float64], outside: Film) -> NDArray[np.float64]:
        """Let the weather work on the rings; the enthalpy is changed in place.

        Returns
        -------
        numpy.ndarray
            [°C] The innermost, at the end of each hour, shape (n_members, n_times).
        """
        members, times = outside.temperature.shape
        stem = np.empty((members, times))
        steps = self.steps_an_hour(float(outside.conductance.max(initial=0.0)))
        shape = enthalpy.shape
        frozen, melted, half, temperature = np.empty((4, *shape))
        between = np.empty((2, shape[0] - 1, shape[1]))
        flow = np.zeros((shape[0] + 1, shape[1]))  # inward through the inner face of each, and the film
        pace = _HOUR / steps / self._volume
        for hour in range(times):
            air, conductance = outside.temperature[:, hour], outside.conductance[:, hour]
            for _ in range(steps):
                self._read(enthalpy, frozen, melted, half, temperature)
                np.subtract(temperature[1:], temperature[:-1], out=between[0])
                np.add(half[1:], half[:-1], out=between[1])
                np.divide(between[0], between[1], out=flow[1:-1])
                flow[1:-1] *= self._area[:-1]
                through = conductance / (1.0 + conductance * half[-1])
                flow[-1] = self._area[-1] * through * (air - temperature[-1])
                np.subtract(flow[1:], flow[:-1], out=melted)
                melted *= pace
                enthalpy += melted
            stem[:, hour] = self.temperature(enthalpy[:1])[0]
        return stem

    def _read(
        self,
        enthalpy: NDArray[np.float64],
        frozen: NDArray[np.float64],
        melted: NDArray[np.float64],
        half: NDArray[np.float64],
        temperature: NDArray[np.float64],
    ) -> None:
        """Put temperature and resistance of half of each ring into arrays; the first two are for the way there."""
        medium = self._medium
        warming = 1.0 / medium.heat_capacity_unfrozen
        np.minimum(enthalpy, 0.0, out=frozen)
        np.subtract(enthalpy, frozen, out=melted)
        np.minimum(melted, self._melting, out=melted)
        np.multiply(melted, self._gain / self._melting, out=half)
        half += self._frozen
        np.divide(self._half_width, half, out=half)
        np.multiply(enthalpy, warming, out=temperature)
        temperature += self._frozen_below
        frozen *= 1.0 / medium.heat_capacity_frozen - warming
        temperature += frozen
        melted *= medium.freezing_width / self._melting - warming
        temperature += melted
