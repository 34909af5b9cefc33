"""Steps of a root ball through an hour: enthalpy in finite volumes, nodes moved to the freezing front.

What makes coarse cells exact enough, in the order of what it is worth:

1. The flux between two nodes is the difference of a flux variable, the integral of the conductivity over temperature,
   which is piecewise linear in the enthalpy: no mean of conductivities has to be guessed where one cell is frozen and
   its neighbour is not (Kirchhoff's transformation; enthalpy method after Voller and Cross 1981; from memory).
2. In a cell that is partly frozen the node stands not in the middle but at the freezing front, on the cold side as long
   as little is frozen; distances to its neighbours in the ring follow. Own device; without it cells of this size err by
   0.9 °C.
3. Steps of 900 s are made of 2 to 8 stages of a Runge-Kutta-Legendre scheme of first order, which is stable over a
   length that grows with the square of their number (Meyer, Balsara and Aslam 2014, from memory).
4. The surface temperature that belongs to a film is solved exactly on the three linear branches of the flux variable
   once a step; then the film acts like a neighbour with a fixed flux variable.

What leaves one cell enters another or crosses a surface: energy is kept to rounding.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .grid import Grid
    from .medium import Constants

#: [s] Length of a step. Longer ones put large pots and small ones into the wrong order (measured at 1800 s).
LONGEST_STEP = 900.0

#: Steps are this much shorter than the stages would carry. Assumed, against ringing.
_MARGIN = 1.0

#: Within this part of freezing a node moves from the middle of its cell to the front.
START = 0.1

#: Nodes come no nearer to each other, or to a surface, in widths of a ring.
NEAREST, NEAREST_WALL = 0.3, 0.1

#: Share of the flux variable's change over freezing that makes the direction of the front certain.
CERTAIN = 0.25


@dataclass(frozen=True, slots=True)
class FilmHour:
    """Films of one hour, shape (n_members,) each.

    Parameters
    ----------
    temperatures : tuple of numpy.ndarray
        [°C] At wall, top and bottom.
    conductances : tuple of numpy.ndarray
        [W/(m2 K)] Likewise.
    """

    temperatures: tuple[NDArray[np.float64], ...]
    conductances: tuple[NDArray[np.float64], ...]


class Stepper:
    """All members of one pot, with the room that their steps need.

    Parameters
    ----------
    grid : Grid
        Cells.
    constants : Constants
        Of the medium, for all members or for each.
    enthalpy : numpy.ndarray
        [J/m3] At the start, shape (n_layers, n_rings, n_members).
    step : float
        [s] Divides an hour.
    """

    def __init__(self, grid: Grid, constants: Constants, enthalpy: NDArray[np.float64], step: float) -> None:
        n_layers, n_rings, n_members = shape = enthalpy.shape
        self.grid, self.constants, self.step = grid, constants, step
        self.n_steps = round(3600.0 / step)
        volumes = np.repeat(grid.volumes[:, :, None], n_members, axis=2)
        #: [J] Enthalpy of each cell.
        self.energy = enthalpy * volumes
        frozen = constants.conductivity_frozen / constants.capacity_frozen
        unfrozen = constants.conductivity_unfrozen / constants.capacity_unfrozen
        freezing = constants.melting_flux / constants.melting
        self._of_frozen, self._of_unfrozen = frozen / volumes, unfrozen / volumes
        self._freezing_by_frozen = freezing / frozen
        self._unfrozen_by_frozen = unfrozen / frozen
        self._lowered = unfrozen * constants.melting - constants.melting_flux
        self._melting_energy = constants.melting * volumes
        # The flux variable with its neighbours outside: below, above, and beyond the wall.
        self._padded = np.zeros((n_layers + 2, n_rings + 1, n_members))
        self.flux_variable = self._padded[1:-1, :-1]
        self._radial_still = np.zeros((n_layers, n_rings, n_members))
        self._radial_still[:, :-1] = grid.radial[:, :, None] * step
        self._radial = self._radial_still.copy()
        self._axial = np.zeros((n_layers + 1, n_rings, n_members))
        self._axial[1:-1] = grid.axial[:, :, None] * step
        self._net, self._change, self._spare, self._fraction = (np.zeros(shape) for _ in range(4))
        self._flow_up = np.empty((n_layers + 1, n_rings, n_members))
        self._areas = np.concatenate([grid.wall, grid.top, grid.bottom])[:, None]
        half = (
            np.concatenate([grid.ring_widths, *(np.full(n_rings, np.diff(grid.heights)[end]) for end in (-1, 0))]) / 2
        )
        self._depths = np.repeat(half[:, None], n_members, axis=1)
        self._still_depths = self._depths.copy()
        self._inner = np.empty((n_layers + 2 * n_rings, n_members))
        self._counts = [n_layers, n_rings, n_rings]
        self._film_temperature, self._film_conductance = np.empty_like(self._inner), np.empty_like(self._inner)
        self._outer = np.empty_like(self._inner)
        self._branch = np.empty_like(self._inner)
        self._offset = np.zeros(shape)
        self._is_still, self._is_mild = True, False
        self._slope_unfrozen = float(np.max(unfrozen))
        self._slope = max(self._slope_unfrozen, float(np.max(frozen)))
        self._conductivity_most = float(
            np.max(np.maximum(constants.conductivity_frozen, constants.conductivity_unfrozen))
        )
        self._splits = (n_layers, n_layers + n_rings)
        self._inner_conductances = inner = np.zeros_like(grid.volumes)
        inner[:, :-1] += grid.radial
        inner[:, 1:] += grid.radial
        inner[:-1] += grid.axial
        inner[1:] += grid.axial
        self._evaluate()

    def advance(self, films: FilmHour) -> None:
        """Go on by an hour.

        Parameters
        ----------
        films : FilmHour
            Constant for the hour.
        """
        self._take(films)
        n_stages = self._stages()
        for _ in range(self.n_steps):
            if self._is_mild:
                self._stand_still()
            else:
                self._move_nodes()
            self._meet_films()
            self._make_step(n_stages)

    def _take(self, films: FilmHour) -> None:
        """Take the films of an hour."""
        counts = zip(films.temperatures, films.conductances, self._counts, strict=True)
        first = 0
        for temperature, conductance, count in counts:
            self._film_temperature[first : first + count] = temperature
            self._film_conductance[first : first + count] = conductance
            first += count
        self._is_mild = self._stays_unfrozen()

    @property
    def enthalpy(self) -> NDArray[np.float64]:
        """Enthalpy now [J/m3], shape (n_layers, n_rings, n_members)."""
        return self.energy / self.grid.volumes[:, :, None]

    def temperature(self) -> NDArray[np.float64]:
        """Return the temperature of all cells [°C], shape (n_layers, n_rings, n_members)."""
        return self.constants.temperature(self.enthalpy)

    def profile(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return where the nodes stand now, and how cold the wall's inside is, for the films of the hour just gone.

        Returns
        -------
        offset : numpy.ndarray
            By how much each node stands outside the middle of its ring, in widths of the ring, shape as the enthalpy.
        surface : numpy.ndarray
            [°C] shape (n_layers, n_members).
        """
        if self._is_mild:
            self._offset[:] = 0.0
        else:
            self._move_nodes()
        self._meet_films()
        return self._offset, self._surface()

    def _surface(self) -> NDArray[np.float64]:
        """Return how cold the wall's inside is, shape (n_layers, n_members)."""
        count = self.grid.n_layers
        conductance, depth = self._film_conductance[:count], self._depths[:count]
        flow = (self._outer[:count] - self._inner[:count]) / (conductance * depth + self._branch[:count])
        return np.asarray(self._film_temperature[:count] - flow)

    def _evaluate(self) -> None:
        """Compute the flux variable of all cells from their energy."""
        value, spare = self.flux_variable, self._spare
        if self._is_mild:
            np.multiply(self.energy, self._of_unfrozen, out=value)
            np.subtract(value, self._lowered, out=value)
            return
        np.multiply(self.energy, self._of_frozen, out=value)
        np.multiply(value, self._unfrozen_by_frozen, out=spare)
        np.subtract(spare, self._lowered, out=spare)
        np.multiply(value, self._freezing_by_frozen, out=self._net)
        np.minimum(value, self._net, out=value)
        np.maximum(value, spare, out=value)

    def _stays_unfrozen(self) -> bool:
        """Return whether nothing is frozen and nothing can freeze within the hour."""
        point = self.constants.freezing_point
        return bool((self._film_temperature >= point).all() and (self.energy >= self._melting_energy).all())

    def _stages(self) -> int:
        """Return how many stages carry a step of the present hour."""
        grid, slope = self.grid, self._slope_unfrozen if self._is_mild else self._slope
        conductances = self._inner_conductances.copy()
        wall, top, bottom = np.split(self._acting_most(), self._splits)
        conductances[:, -1] += wall
        conductances[-1] += top
        conductances[0] += bottom
        single = float((grid.volumes / conductances).min()) / slope
        return max(2, math.ceil((math.sqrt(1.0 + 8.0 * _MARGIN * self.step / single) - 1.0) / 2.0))

    def _acting_most(self) -> NDArray[np.float64]:
        """Return the largest conductance of any member at each face outside, its node in the middle of its cell [m]."""
        conductance = self._film_conductance.max(axis=1)
        return np.asarray(
            self._areas[:, 0] * conductance / (conductance * self._still_depths[:, 0] + self._conductivity_most)
        )

    def _stand_still(self) -> None:
        """Put all nodes into the middle of their cells."""
        if not self._is_still:
            self._radial[:, :-1] = self._radial_still[:, :-1]
            self._depths[:] = self._still_depths
            self._is_still = True

    def _move_nodes(self) -> None:
        """Put the nodes of cells that are partly frozen to the freezing front."""
        value, padded = self.flux_variable, self._padded
        fraction, spare, offset = self._fraction, self._spare, self._offset
        np.multiply(value, 1.0 / self.constants.melting_flux, out=fraction)
        np.clip(fraction, 0.0, 1.0, out=fraction)
        np.subtract(fraction, 0.5, out=offset)
        np.subtract(1.0, fraction, out=spare)
        np.minimum(fraction, spare, out=fraction)
        np.multiply(fraction, 1.0 / START, out=fraction)
        np.minimum(fraction, 1.0, out=fraction)
        np.multiply(offset, fraction, out=offset)
        # Which side is colder: by the neighbours in the ring; at the axis and at the wall by the one there is.
        np.subtract(value[:, :-2], value[:, 2:], out=spare[:, 1:-1])
        np.subtract(value[:, 0], value[:, 1], out=spare[:, 0])
        np.subtract(value[:, -2], padded[1:-1, -1], out=spare[:, -1])
        np.multiply(spare, 1.0 / (CERTAIN * self.constants.melting_flux), out=spare)
        np.clip(spare, -1.0, 1.0, out=spare)
        np.multiply(offset, spare, out=offset)
        distance = spare[:, :-1]
        np.subtract(offset[:, 1:], offset[:, :-1], out=distance)
        np.add(distance, 1.0, out=distance)
        np.maximum(distance, NEAREST, out=distance)
        np.divide(self._radial_still[:, :-1], distance, out=self._radial[:, :-1])
        count = self.grid.n_layers
        self._depths[:count] = np.maximum(0.5 - offset[:, -1], NEAREST_WALL) * self.grid.ring_widths[:, None]
        self._is_still = False

    def _meet_films(self) -> None:
        """Find the flux variable and the conductance by which films act on the cells at the surfaces."""
        constants, inner, count, n_rings = self.constants, self._inner, self.grid.n_layers, self.grid.n_rings
        self._read_inner()
        temperature, conductance = self._film_temperature, self._film_conductance
        inward = conductance * self._depths
        reached = inner + inward * temperature
        is_frozen = reached < inward * constants.frozen_below
        is_unfrozen = reached > constants.melting_flux + inward * constants.freezing_point
        branch = np.where(
            is_frozen,
            constants.conductivity_frozen,
            np.where(is_unfrozen, constants.conductivity_unfrozen, constants.conductivity_freezing),
        )
        self._branch[:] = branch
        lifted = np.where(is_unfrozen, constants.melting_flux, 0.0)
        corner = np.where(is_unfrozen, constants.freezing_point, constants.frozen_below)
        self._outer[:] = outer = branch * (temperature - corner) + lifted
        acting = self._areas * conductance / (inward + branch) * self.step
        padded, above = self._padded, count + n_rings
        padded[1:-1, -1], padded[-1, :-1], padded[0, :-1] = outer[:count], outer[count:above], outer[above:]
        self._radial[:, -1], self._axial[-1], self._axial[0] = acting[:count], acting[count:above], acting[above:]

    def _read_inner(self) -> None:
        """Read the flux variable of the cells at the surfaces."""
        value, inner, count, n_rings = self.flux_variable, self._inner, self.grid.n_layers, self.grid.n_rings
        inner[:count], inner[count : count + n_rings], inner[count + n_rings :] = value[:, -1], value[-1], value[0]

    def _make_step(self, n_stages: int) -> None:
        """Make one step with conductances as they are."""
        padded, net, change, spare, flow_up = self._padded, self._net, self._change, self._spare, self._flow_up
        first = 2.0 / (n_stages * n_stages + n_stages)
        for stage in range(1, n_stages + 1):
            np.subtract(padded[1:-1, 1:], padded[1:-1, :-1], out=spare)
            np.multiply(spare, self._radial, out=spare)
            np.subtract(padded[1:, :-1], padded[:-1, :-1], out=flow_up)
            np.multiply(flow_up, self._axial, out=flow_up)
            np.subtract(flow_up[1:], flow_up[:-1], out=net)
            np.add(net, spare, out=net)
            np.subtract(net[:, 1:], spare[:, :-1], out=net[:, 1:])
            if stage == 1:
                np.multiply(net, first, out=change)
            else:
                np.multiply(change, (stage - 1.0) / stage, out=change)
                np.multiply(net, (2.0 * stage - 1.0) / stage * first, out=net)
                np.add(change, net, out=change)
            np.add(self.energy, change, out=self.energy)
            self._evaluate()
