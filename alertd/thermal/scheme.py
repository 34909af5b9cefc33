"""Steps of a root ball through its hours: enthalpy in finite volumes, nodes moved to the freezing front.

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

The arrays. Members are innermost, then rings with one place more for what is beyond the wall, then layers; the flux
variable has one layer more below and above for what is beyond the bottom and the top. All of it is one flat array, in
which the neighbour outside is `n_members` places on and the neighbour above is `stride` places on, so that every
operation runs over one contiguous stretch. Places beyond the wall take part and are given no weight.

The units. The flux variable is counted in that of the melting medium: 0 where the last water has frozen, 1 where the
last ice has melted, between them the liquid fraction. The enthalpy is counted so that both are equal in the frozen
state.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .grid import Grid
    from .medium import Constants

    #: One number for all members, or one for each place of a flat array.
    Factor = float | NDArray[np.float64]

#: [s] Length of a step. Longer ones put large pots and small ones into the wrong order (measured at 1800 s).
LONGEST_STEP = 900.0

#: [s] For so long a film stays as it is.
HOUR = 3600.0

#: Within this part of freezing a node moves from the middle of its cell to the front.
START = 0.1

#: Nodes come no nearer to each other, or to a surface, in widths of a ring.
NEAREST, NEAREST_WALL = 0.3, 0.1

#: Share of the flux variable's change over freezing that makes the direction of the front certain.
CERTAIN = 0.25

#: In which offsets of nodes are counted, by a width of a ring: so no factor is needed.
SCALE = START * CERTAIN

#: With less liquid than this share anywhere, a step is made as short as frozen cells need it: they spread temperature
#: two to three times as fast as unfrozen ones, and in one step a cell at the wall freezes by about as much.
_NEARLY_FROZEN = 0.1

#: Numbers in a line of the cache.
_LINE = 8


def aligned(size: int) -> NDArray[np.float64]:
    """Return room for numbers, all 0, that begins where a line of the processor's cache does."""
    room = np.zeros(size + _LINE)
    first = -(room.ctypes.data // room.itemsize) % _LINE
    return room[first : first + size]


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
    temperatures, conductances : numpy.ndarray
        [°C], [W/(m2 K)] Of the films at wall, top and bottom; shape (3, n_times, n_members).
    step : float
        [s] Divides an hour.
    """

    def __init__(
        self,
        grid: Grid,
        constants: Constants,
        enthalpy: NDArray[np.float64],
        temperatures: NDArray[np.float64],
        conductances: NDArray[np.float64],
        step: float,
    ) -> None:
        self.grid, self.constants = grid, constants
        self.shape = enthalpy.shape
        _, n_rings, n_members = enthalpy.shape
        self.stride = (n_rings + 1) * n_members
        self.n_steps, self.n_times = round(HOUR / step), temperatures.shape[1]
        self.temperatures, self.conductances = temperatures, conductances
        self._lay_out(enthalpy)
        self._measure(step)
        self._allow(step)
        self._is_still, self.is_mild = True, False
        self._evaluate()

    def _lay_out(self, enthalpy: NDArray[np.float64]) -> None:
        """Make the arrays of the cells, and the views by which neighbours are reached."""
        constants, stride = self.constants, self.stride
        n_layers, n_rings, n_members = self.shape
        size = n_layers * stride
        frozen = constants.conductivity_frozen / constants.capacity_frozen
        unfrozen = constants.conductivity_unfrozen / constants.capacity_unfrozen
        melting_flux = constants.melting_flux
        self._diffusivities = frozen, unfrozen
        self._by_enthalpy = frozen / melting_flux
        self.melted = self._by_enthalpy * constants.melting
        self.freezing = self.factor(1.0 / self.melted)
        self.unfrozen = self.factor(unfrozen / frozen)
        self.lowered = self.factor(unfrozen * constants.melting / melting_flux - 1.0)
        # Enthalpy: a place beyond the wall, which has no weight, is held where it alarms nobody.
        self.state = aligned(size)
        places = self.state.reshape(n_layers, n_rings + 1, n_members)
        places[:] = self.melted
        self._cells = places[:, :-1]
        self._cells[:] = enthalpy * self._by_enthalpy
        # Flux variable, its neighbours, and what is beyond the surfaces.
        self.value = aligned(size + 2 * stride)
        self.inside = self.value[stride:-stride]
        self._outside = self.value[stride + n_members : stride + n_members + size]
        self._inward = self.value[stride - n_members : stride - n_members + size]
        self._above, self._below = self.value[stride:], self.value[:-stride]
        layers = self.value.reshape(n_layers + 2, n_rings + 1, n_members)
        self._beyond_wall, self._beyond_top, self._beyond_bottom = layers[1:-1, -1], layers[-1, :-1], layers[0, :-1]
        self._at_wall, self._at_top, self._at_bottom = layers[1:-1, -2], layers[-2, :-1], layers[1, :-1]
        self._at_axis, self._next_to_axis = layers[1:-1, 0], layers[1:-1, 1]
        # Flows out of each cell and up, with nothing before the first.
        self._outflow, self._upflow = aligned(size + n_members), aligned(size + stride)
        self._out, self._in = self._outflow[n_members:], self._outflow[:size]
        self._up, self._from_below = self._upflow[stride:], self._upflow[:size]
        self._net, self.change, self._spare = aligned(size), aligned(size), aligned(size)
        # Bounds as arrays: numpy takes the larger of two arrays twice as fast as that of an array and a number.
        bounds = (0.0, START, CERTAIN, -CERTAIN, NEAREST * SCALE)
        self._zero, self._start, self._certain, self._certainly, self._nearest = (np.full(size, at) for at in bounds)

    def _measure(self, step: float) -> None:
        """Make the conductances between cells, what a flow does to each, and the arrays of the surfaces."""
        grid = self.grid
        n_layers, n_rings, n_members = self.shape

        def spread(values: NDArray[np.float64]) -> NDArray[np.float64]:
            """Put values of cells into a flat array, 0 where there is none."""
            flat = aligned(values.shape[0] * self.stride)
            places = flat.reshape(values.shape[0], n_rings + 1, n_members)
            places[:, : values.shape[1]] = values[:, :, None]
            return flat

        self.radial_still = spread(grid.radial)
        # With a place before the first, so that inner faces can be read too.
        self.faces = aligned(self.radial_still.size + n_members)
        self.radial, self.radial_of_move = self.faces[n_members:], self.radial_still * SCALE
        self.radial[:] = self.radial_still
        self._walls = self.radial.reshape(n_layers, n_rings + 1, n_members)[:, -2]
        axial = np.zeros((n_layers + 1, n_rings))
        axial[1:-1] = grid.axial
        self.axial = spread(axial)
        faces = self.axial.reshape(n_layers + 1, n_rings + 1, n_members)
        self._tops, self._bottoms = faces[-1, :-1], faces[0, :-1]
        self.weight = spread(step / grid.volumes)
        self.weight *= self.factor(self._diffusivities[0])
        self._weights: dict[int, list[NDArray[np.float64]]] = {}
        # Where nodes stand: the offset from the middle of the ring, times `SCALE`; the last has no neighbour.
        self._moves = aligned(self.state.size + n_members)
        self.move, self._move_outside = self._moves[:-n_members], self._moves[n_members:]
        moves = self.move.reshape(n_layers, n_rings + 1, n_members)
        self.offset, self._move_at_wall = moves[:, :-1], moves[:, -2]
        self._side_at_axis = self._spare.reshape(n_layers, n_rings + 1, n_members)[:, 0]
        # Surfaces: walls of all layers, tops and bottoms of all rings.
        self.n_surfaces = n_layers + 2 * n_rings
        self._wall, top = slice(0, n_layers), n_layers + n_rings
        self._top, self._bottom = slice(n_layers, top), slice(top, self.n_surfaces)
        self.areas = np.concatenate([grid.wall, grid.top, grid.bottom])[:, None]
        layers = np.diff(grid.heights)
        ends = [np.full(n_rings, layers[-1]), np.full(n_rings, layers[0])]
        self.middles = np.concatenate([grid.ring_widths, *ends])[:, None] / 2.0
        room = (self.n_surfaces, n_members)
        self.depths = np.repeat(self.middles, n_members, axis=1)
        self._inner, self.outer, self.branch, self.resisting = (np.zeros(room) for _ in range(4))
        self._reach, self.conducting, self.above_frozen, self.above_melting = (np.empty(room) for _ in range(4))
        self.acting, self._outer_unfrozen = np.empty(room), np.empty(room)
        self._is_frozen, self._is_unfrozen = np.empty(room, dtype=bool), np.empty(room, dtype=bool)

    def _allow(self, step: float) -> None:
        """Find how many stages carry a step in each hour: with frozen cells, and without."""
        grid, constants = self.grid, self.constants
        inner = np.zeros_like(grid.volumes)
        inner[:, :-1] += grid.radial
        inner[:, 1:] += grid.radial
        inner[:-1] += grid.axial
        inner[1:] += grid.axial
        most = self.conductances.max(axis=2)
        conducting = np.maximum(constants.conductivity_frozen, constants.conductivity_unfrozen).max()
        wall, top, bottom = (
            self.areas[part, 0] * most[number][:, None] / (most[number][:, None] * self.middles[part, 0] + conducting)
            for number, part in enumerate((self._wall, self._top, self._bottom))
        )
        conductances = np.repeat(inner[None], most.shape[1], axis=0)
        conductances[:, :, -1] += wall
        conductances[:, -1] += top
        conductances[:, 0] += bottom
        quickest = (conductances / grid.volumes).max(axis=(1, 2))
        frozen, unfrozen = (float(np.max(diffusivity)) for diffusivity in self._diffusivities)
        self.stages_frozen = self._stages(step * quickest * max(frozen, unfrozen))
        self.stages_unfrozen = self._stages(step * quickest * unfrozen)
        self.nearly_frozen = _NEARLY_FROZEN * float(np.max(self.melted))

    @staticmethod
    def _stages(lengths: NDArray[np.float64]) -> list[int]:
        """Return how many stages carry steps so much longer than what one of Euler's rule would, at least 2."""
        return [max(2, math.ceil((math.sqrt(1.0 + 8.0 * length) - 1.0) / 2.0)) for length in lengths.tolist()]

    def factor(self, values: NDArray[np.float64]) -> Factor:
        """Return numbers as the flat arrays need them.

        Parameters
        ----------
        values : numpy.ndarray
            Of any unit, for all members or for each; shape () or (n_members,).

        Returns
        -------
        float or numpy.ndarray
            One number, or one for each place of a flat array.
        """
        n_layers, n_rings, _ = self.shape
        return np.tile(values, n_layers * (n_rings + 1)) if values.ndim else float(values)

    def advance(self, hour: int) -> None:
        """Go on by an hour.

        Parameters
        ----------
        hour : int
            Number of it, from 0.
        """
        self._take(hour)
        if self.is_mild:
            self._stand_still()
            self._meet_mild_films()
        elif self._is_still:
            self._meet_films()
            self._move_nodes()
        for _ in range(self.n_steps):
            n_stages = self._stages_of(hour)
            if self.is_mild:
                self._make_step(n_stages)
            else:
                self._meet_films()
                self._make_step(n_stages)
                self._move_nodes()
        if not self.is_mild:
            self._meet_films()

    def _take(self, hour: int) -> None:
        """Take the films of an hour."""
        constants, reach = self.constants, self._reach
        for number, part in enumerate((self._wall, self._top, self._bottom)):
            reach[part] = self.temperatures[number, hour]
            self.conducting[part] = self.conductances[number, hour]
        is_warm = bool((self.temperatures[:, hour] >= constants.freezing_point).all())
        self.is_mild = is_warm and bool((self._cells >= self.melted).all())
        np.subtract(reach, constants.frozen_below, out=self.above_frozen)
        np.subtract(reach, constants.freezing_point, out=self.above_melting)
        by_melting = 1.0 / constants.melting_flux
        np.multiply(self.above_frozen, by_melting, out=self.above_frozen)
        np.multiply(self.above_melting, by_melting, out=self.above_melting)
        np.multiply(self.above_melting, constants.conductivity_unfrozen, out=self._outer_unfrozen)
        np.add(self._outer_unfrozen, 1.0, out=self._outer_unfrozen)
        np.multiply(self.areas, self.conducting, out=self.acting)

    def _stages_of(self, hour: int) -> int:
        """Return how many stages the next step is made of."""
        is_frozen = not self.is_mild and self.state.min() < self.nearly_frozen
        return (self.stages_frozen if is_frozen else self.stages_unfrozen)[hour]

    @property
    def enthalpy(self) -> NDArray[np.float64]:
        """Enthalpy now [J/m3], shape (n_layers, n_rings, n_members)."""
        return np.asarray(self._cells / self._by_enthalpy)

    def surface(self) -> NDArray[np.float64]:
        """Return how cold the wall's inside is, above where the last water has frozen [K], shape (n_layers, n_members).

        Returns
        -------
        numpy.ndarray
            For the films of the hour just gone.
        """
        constants, wall = self.constants, self._wall
        flow = (self.outer[wall] - self._at_wall) / self.resisting[wall]
        return np.asarray((self.above_frozen[wall] - flow) * constants.melting_flux)

    def _evaluate(self) -> None:
        """Compute the flux variable of all cells from their enthalpy."""
        state, inside, spare = self.state, self.inside, self._spare
        if self.is_mild:
            np.multiply(state, self.unfrozen, out=inside)
            np.subtract(inside, self.lowered, out=inside)
        else:
            np.multiply(state, self.freezing, out=spare)
            np.minimum(state, spare, out=inside)
            np.multiply(state, self.unfrozen, out=spare)
            np.subtract(spare, self.lowered, out=spare)
            np.maximum(inside, spare, out=inside)
        self._beyond_wall[:] = self.outer[self._wall]

    def _stand_still(self) -> None:
        """Put all nodes into the middle of their cells."""
        if not self._is_still:
            self.radial[:] = self.radial_still
            self.depths[:] = self.middles
            self._moves[:] = 0.0
            self._is_still = True

    def _move_nodes(self) -> None:
        """Put the nodes of cells that are partly frozen to the freezing front."""
        inside, move, spare = self.inside, self.move, self._spare
        # How far a cell is from half frozen, and from all frozen or all liquid, at most `START`.
        np.subtract(inside, 0.5, out=move)
        np.absolute(move, out=spare)
        np.subtract(0.5, spare, out=spare)
        np.minimum(spare, self._start, out=spare)
        np.maximum(spare, self._zero, out=spare)
        np.multiply(move, spare, out=move)
        # Which side is colder: by the neighbours in the ring; at the axis by the one there is.
        np.subtract(self._inward, self._outside, out=spare)
        np.subtract(self._at_axis, self._next_to_axis, out=self._side_at_axis)
        np.maximum(spare, self._certainly, out=spare)
        np.minimum(spare, self._certain, out=spare)
        np.multiply(move, spare, out=move)
        np.subtract(self._move_outside, move, out=spare)
        np.add(spare, SCALE, out=spare)
        np.maximum(spare, self._nearest, out=spare)
        np.divide(self.radial_of_move, spare, out=self.radial)
        depths = self.depths[self._wall]
        np.multiply(self._move_at_wall, -1.0 / SCALE, out=depths)
        np.add(depths, 0.5, out=depths)
        np.maximum(depths, NEAREST_WALL, out=depths)
        np.multiply(depths, self.grid.ring_widths[:, None], out=depths)
        self._is_still = False

    def _meet_films(self) -> None:
        """Find the flux variable and the conductance by which films act on the cells at the surfaces."""
        constants, inner, reach, branch = self.constants, self._inner, self._reach, self.branch
        resisting, is_frozen, is_unfrozen = self.resisting, self._is_frozen, self._is_unfrozen
        inner[self._wall], inner[self._top], inner[self._bottom] = self._at_wall, self._at_top, self._at_bottom
        np.multiply(self.conducting, self.depths, out=resisting)
        np.multiply(resisting, self.above_frozen, out=reach)
        np.add(reach, inner, out=reach)
        np.less(reach, 0.0, out=is_frozen)
        np.multiply(resisting, self.above_melting, out=reach)
        np.add(reach, inner, out=reach)
        np.greater(reach, 1.0, out=is_unfrozen)
        branch[:] = constants.conductivity_freezing  # numpy's putmask repeats values over members, and is quick
        np.putmask(branch, is_frozen, constants.conductivity_frozen)
        np.putmask(branch, is_unfrozen, constants.conductivity_unfrozen)
        np.multiply(self.above_frozen, branch, out=self.outer)
        np.putmask(self.outer, is_unfrozen, self._outer_unfrozen)
        self._act()

    def _meet_mild_films(self) -> None:
        """Do the same where nothing is frozen or can be: for the whole hour at once."""
        self.branch[:] = self.constants.conductivity_unfrozen
        self.outer[:] = self._outer_unfrozen
        np.multiply(self.conducting, self.depths, out=self.resisting)
        self._act()

    def _act(self) -> None:
        """Put what the films do beside the cells at the surfaces."""
        resisting, reach, outer = self.resisting, self._reach, self.outer
        np.add(resisting, self.branch, out=resisting)
        np.divide(self.acting, resisting, out=reach)
        self._beyond_wall[:], self._walls[:] = outer[self._wall], reach[self._wall]
        self._beyond_top[:], self._tops[:] = outer[self._top], reach[self._top]
        self._beyond_bottom[:], self._bottoms[:] = outer[self._bottom], reach[self._bottom]

    def _weights_of(self, n_stages: int) -> list[NDArray[np.float64]]:
        """Return what a flow does to each cell in each stage."""
        if n_stages not in self._weights:
            first = 2.0 / (n_stages * n_stages + n_stages)
            self._weights[n_stages] = [self.weight * (first * (2 * stage + 1)) for stage in range(n_stages)]
        return self._weights[n_stages]

    def _make_step(self, n_stages: int) -> None:
        """Make one step with conductances as they are.

        Each stage adds (2 j - 1) of the first one's share to the change, and a j-th of that change to the state.
        """
        state, net, change, out, upflow = self.state, self._net, self.change, self._out, self._upflow
        for stage, weight in enumerate(self._weights_of(n_stages), 1):
            np.subtract(self._outside, self.inside, out=out)
            np.multiply(out, self.radial, out=out)
            np.subtract(self._above, self._below, out=upflow)
            np.multiply(upflow, self.axial, out=upflow)
            np.subtract(out, self._in, out=net)
            np.add(net, self._up, out=net)
            np.subtract(net, self._from_below, out=net)
            if stage == 1:
                np.multiply(net, weight, out=change)
                np.add(state, change, out=state)
            else:
                np.multiply(net, weight, out=net)
                np.add(change, net, out=change)
                np.multiply(change, 1.0 / stage, out=net)
                np.add(state, net, out=state)
            self._evaluate()
