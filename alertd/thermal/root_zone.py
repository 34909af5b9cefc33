"""What is to be known of a root ball, hour by hour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .grid import SHELL_THICKNESS
from .scheme import SCALE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .scheme import Stepper

#: Points across the shell at which its profile is taken, and their weights: Gauss-Legendre.
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(4)

#: How near the share must be met before the last step, and in how many rounds at most.
CLOSE, MOST_ROUNDS = 1e-9, 60

#: [1/K] Least slope of the share that is divided by.
LEAST_SLOPE = 3e-3

#: [K] How far the first step goes where Newton's rule does not help, how much farther each later one; how many times as
#: far one of Newton's may go; and by how much it must have come nearer.
FIRST_REACH, FARTHER, FARTHEST, NEARER = 0.3, 4.0, 10.0, 0.9

#: [K] A shell that has moved by less says nothing of how the coldest share follows it.
LEAST_MOVE = 0.01

#: [K] A cell spans at least so much; cells without any gradient pass a limit within it.
LEAST_SPAN = 0.02

#: For so many columns, members times hours, the shares are found together: then numpy's calls cost little beside what
#: they do, and the arrays still stay in the processor's cache.
_COLUMNS = 200

#: Columns that are done are left out once no more than this share of them is open.
_WORTHWHILE = 0.8

#: Nodes come no nearer to each other across the shell, in widths of a ring.
LEAST_GAP = 1e-9


@dataclass(frozen=True, slots=True)
class RootState:
    """A root ball at one instant, from which it can go on.

    Parameters
    ----------
    enthalpy : numpy.ndarray
        [J/m3] 0 where the last water has frozen; shape (n_layers, n_rings, n_members).
    """

    enthalpy: NDArray[np.float64]

    def repeated(self, n_members: int) -> RootState:
        """Return the state of a single member for many.

        Parameters
        ----------
        n_members : int
            How many.

        Returns
        -------
        RootState
            A copy.
        """
        return RootState(np.repeat(self.enthalpy[:, :, :1], n_members, axis=2))


@dataclass(frozen=True, slots=True)
class RootZone:
    """A root ball, at the end of each hour; shape (n_members, n_times) each.

    Parameters
    ----------
    shell : numpy.ndarray
        [°C] Mean of the outer 2 cm in the middle third of the height.
    core : numpy.ndarray
        [°C] On the axis at half the height.
    coldest_share : numpy.ndarray
        [°C] Below it lies the share of the volume that was asked for.
    frozen_share : numpy.ndarray
        0 to 1, share of the volume below the limit that was asked for.
    end : RootState
        At the end of the last hour.
    """

    shell: NDArray[np.float64]
    core: NDArray[np.float64]
    coldest_share: NDArray[np.float64]
    frozen_share: NDArray[np.float64]
    end: RootState


@dataclass(frozen=True, slots=True)
class Readings:
    """What is to be known of a root ball at the end of each hour, as `RootZone`; shape (n_times, n_members) each."""

    shell: NDArray[np.float64]
    core: NDArray[np.float64]
    coldest_share: NDArray[np.float64]
    frozen_share: NDArray[np.float64]


def run(stepper: Stepper, probe: Probe) -> Readings:
    """Go through all hours.

    Parameters
    ----------
    stepper : Stepper
        The root ball at the start; at the end afterwards.
    probe : Probe
        What is to be known of it.

    Returns
    -------
    Readings
        At the end of each hour.
    """
    readings = Readings(*(np.empty((stepper.n_times, stepper.shape[2])) for _ in range(4)))
    for first in range(0, stepper.n_times, probe.n_together):
        hours = slice(first, min(first + probe.n_together, stepper.n_times))
        for hour in range(hours.start, hours.stop):
            stepper.advance(hour)
            probe.take(hour - first)
            readings.shell[hour], readings.core[hour] = probe.shell, probe.core
        readings.coldest_share[hours], readings.frozen_share[hours] = probe.shares(readings.shell[hours])
    for degrees in (readings.shell, readings.core, readings.coldest_share):
        np.add(degrees, probe.below, out=degrees)
    return readings


class Probe:
    """Reads off a root ball what is to be known of it.

    Inside, temperatures are counted from where the last water has frozen, in a flat array like the flux variable's.

    Parameters
    ----------
    stepper : Stepper
        The root ball.
    cold_limit : float
        [°C] For the share of the volume below it.
    share : float
        0 to 1, of the volume, for the temperature below which it lies.
    """

    def __init__(self, stepper: Stepper, cold_limit: float, share: float) -> None:
        self.stepper, self.share = stepper, share
        self.below = np.broadcast_to(stepper.constants.frozen_below, stepper.shape[2:])
        self.limit = cold_limit - self.below
        #: How many hours are taken before the shares of all of them are found.
        self.n_together = max(1, _COLUMNS // stepper.shape[2])
        self._make_room()
        self._make_cells()
        self._divide_shell()
        self._find_core()
        #: [K] Shell and coldest share in the last hour, and how the one followed the other; nothing is known at first.
        self._last_shell = self._last_coldest = self._follows = np.zeros(stepper.shape[2])

    def _make_room(self) -> None:
        """Make the arrays of the cells, and the views by which neighbours are reached."""
        stepper, constants = self.stepper, self.stepper.constants
        n_layers, n_rings, n_members = stepper.shape
        stride, size = stepper.stride, stepper.state.size
        by_state = constants.melting_flux * constants.capacity_frozen / constants.conductivity_frozen
        self.frozen = stepper.factor(by_state / constants.capacity_frozen)
        self.freezing = stepper.factor(by_state * constants.width_by_melting)
        self.unfrozen = stepper.factor(by_state / constants.capacity_unfrozen)
        width = constants.freezing_point - constants.frozen_below
        self.lowered = stepper.factor(np.asarray(constants.melting / constants.capacity_unfrozen - width))
        #: [K] Temperature of all cells.
        self.warmth = np.zeros(size + 2 * stride)
        self._inside = self.warmth[stride:-stride]
        self._outside = self.warmth[stride + n_members : stride + n_members + size]
        self._above, self._under = self.warmth[2 * stride :], self.warmth[: -2 * stride]
        self._layers = self.warmth.reshape(n_layers + 2, n_rings + 1, n_members)
        self._spare, self._faced = np.zeros(size), np.zeros(size)

    def _make_cells(self) -> None:
        """Make the arrays of how temperature is spread over cells, and what they need."""
        stepper, grid = self.stepper, self.stepper.grid
        n_layers, n_rings, n_members = stepper.shape
        size = stepper.state.size
        # Faces between rings; that inside the first ring of a layer has the place beyond the wall of the layer below.
        self._faces = np.zeros(size + n_members)
        self._outer_face, self._inner_face = self._faces[n_members:], self._faces[:size]
        inner, outer = (
            faces.reshape(n_layers, n_rings + 1, n_members) for faces in (self._inner_face, self._outer_face)
        )
        self._at_axis, self._at_wall = inner[:, 0], outer[:, -2]
        #: How far the node of an undisturbed cell is from its outer face, and by how much less when it has moved, by
        #: the conductance between undisturbed nodes.
        with np.errstate(divide="ignore"):
            by_still = np.where(stepper.radial_still > 0.0, 1.0 / stepper.radial_still, 0.0)
        self.half_by_still, self.move_by_still = 0.5 * by_still, by_still / SCALE
        #: Where in a ring, from its inside, half of its volume is reached, if the temperature rises evenly.
        rings = np.arange(n_rings + 1.0)
        self.centres = 2.0 / 3.0 * (3.0 * rings**2 + 3.0 * rings + 1.0) / (2.0 * rings + 1.0) - rings
        self._centres = np.tile(np.repeat(self.centres, n_members), n_layers)
        parts = np.zeros((n_layers, n_rings + 1))
        parts[:, :-1] = grid.volumes / grid.volumes.sum()
        #: Share of the volume that each place has.
        self.parts = parts.ravel()
        #: [K], [1/K] Temperature in the middle of each cell, and the inverse of what it spans, for hours by members.
        self._middles = np.zeros((parts.size, self.n_together * n_members))
        self._inverses = np.zeros_like(self._middles)
        # Room to find shares in: large arrays that come and go cost more than what is done with them.
        self._room = [np.empty(self._middles.size) for _ in range(6)]
        self._masks = [np.empty(self._middles.size, dtype=bool) for _ in range(2)]
        self._least = np.full(size, LEAST_SPAN)
        # A bound as an array: numpy takes the larger of two arrays twice as fast as that of an array and a number.
        self._zero, self._one = np.zeros(self._middles.shape[1]), np.ones(self._middles.shape[1])

    def _divide_shell(self) -> None:
        """Place points across the shell of each layer of the middle third, by the share that each stands for."""
        grid = self.stepper.grid
        edges, height = grid.heights, grid.heights[-1]
        within = np.minimum(edges[1:], height * 2 / 3) - np.maximum(edges[:-1], height / 3)
        rows = np.flatnonzero(within > 0.0)
        self.rows = slice(int(rows[0]), int(rows[-1]) + 1)
        radii, widths = grid.radii[self.rows], grid.ring_widths[self.rows]
        thickness = np.minimum(SHELL_THICKNESS, radii)
        depths = (_POINTS + 1.0) / 2.0 * thickness[:, None]
        weights = _WEIGHTS * (radii[:, None] - depths) * thickness[:, None] * within[self.rows, None]
        #: Depths in widths of a ring, and weights, of points in each layer; shape (n_rows, n_points).
        self.points, self.weights = depths / widths[:, None], weights / weights.sum()
        # Nodes are moved by half a ring at most.
        self.n_reached = min(grid.n_rings, int(np.ceil(self.points.max())) + 1)

    def _find_core(self) -> None:
        """Find the two layers beside half the height."""
        grid = self.stepper.grid
        middle, centres = grid.heights[-1] / 2.0, (grid.heights[1:] + grid.heights[:-1]) / 2.0
        self.upper = int(np.clip(np.searchsorted(centres, middle), 1, grid.n_layers - 1))
        below, above = centres[self.upper - 1], centres[self.upper]
        self.core_weight = float((middle - below) / (above - below))

    def take(self, number: int) -> None:
        """Read shell and core of the hour just gone, and keep what its shares need.

        Parameters
        ----------
        number : int
            Of the hour among those that are taken together.
        """
        surface = self.stepper.surface()
        self._warm()
        self.shell, self.core = self._shell(surface), self._core()
        self._spread(number, surface)

    def _warm(self) -> None:
        """Compute the temperature of all cells, and put beside those at the ends what they have themselves."""
        state, inside, spare, layers = self.stepper.state, self._inside, self._spare, self._layers
        np.multiply(state, self.frozen, out=inside)
        np.multiply(state, self.freezing, out=spare)
        np.minimum(inside, spare, out=inside)
        np.multiply(state, self.unfrozen, out=spare)
        np.subtract(spare, self.lowered, out=spare)
        np.maximum(inside, spare, out=inside)
        layers[0], layers[-1] = layers[1], layers[-2]

    def _core(self) -> NDArray[np.float64]:
        """Return the temperature on the axis at half the height [K], shape (n_members,)."""
        below, above = self._layers[self.upper, 0], self._layers[self.upper + 1, 0]
        return np.asarray(below + self.core_weight * (above - below))

    def _shell(self, surface: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the mean of the outer 2 cm in the middle third of the height [K], shape (n_members,).

        Of the profile that is linear between wall and nodes: each stretch between two of them adds its rise, as far as
        a point lies within or beyond it.
        """
        rows, layers, offset = self.rows, self._layers[1:-1], self.stepper.offset
        points = self.points[:, :, None]
        value = surface[rows]
        place = np.zeros_like(value)
        profile = np.repeat(value[:, None, :], points.shape[1], axis=1)
        for back in range(self.n_reached):
            outer_value, outer_place = value, place
            value = layers[rows, -2 - back]
            place = (back + 0.5) - offset[rows, -1 - back] / SCALE
            gap = place - outer_place
            beyond = points - outer_place[:, None, :]
            np.maximum(beyond, 0.0, out=beyond)
            np.minimum(beyond, gap[:, None, :], out=beyond)
            rise = (value - outer_value) / np.maximum(gap, LEAST_GAP)
            np.multiply(beyond, rise[:, None, :], out=beyond)
            np.add(profile, beyond, out=profile)
        np.multiply(profile, self.weights[:, :, None], out=profile)
        return np.asarray(profile.sum(axis=(0, 1)))

    def _spread(self, number: int, surface: NDArray[np.float64]) -> None:
        """Compute the temperature in the middle of each cell and what it spans, by the profile between moved nodes.

        Over the ring by what the profile has at its faces, and as much more as the layers above and below differ.
        """
        n_members, spare, outer, inner = self.stepper.shape[2], self._spare, self._outer_face, self._inner_face
        np.subtract(self._outside, self._inside, out=outer)
        np.multiply(self.stepper.move, self.move_by_still, out=spare)
        np.subtract(self.half_by_still, spare, out=spare)
        np.multiply(spare, self.stepper.radial, out=spare)
        np.multiply(outer, spare, out=outer)
        np.add(outer, self._inside, out=outer)
        self._at_axis[:] = self._layers[1:-1, 0]
        self._at_wall[:] = surface
        columns = slice(number * n_members, (number + 1) * n_members)
        middles, inverses = self._middles[:, columns], self._inverses[:, columns]
        np.subtract(outer, inner, out=spare)
        np.multiply(spare, self._centres, out=self._faced)
        np.add(inner.reshape(middles.shape), self._faced.reshape(middles.shape), out=middles)
        np.absolute(spare, out=spare)
        np.subtract(self._above, self._under, out=self._faced)
        np.multiply(self._faced, 0.5, out=self._faced)
        np.absolute(self._faced, out=self._faced)
        np.add(spare, self._faced, out=spare)
        np.maximum(spare, self._least, out=spare)
        np.divide(1.0, spare.reshape(middles.shape), out=inverses)

    def shares(self, shell: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the temperature of the coldest share and the share below the limit, for the hours taken.

        Parameters
        ----------
        shell : numpy.ndarray
            [K] Of these hours, shape (n_hours, n_members).

        Returns
        -------
        coldest_share, frozen_share : numpy.ndarray
            [K] and [1], shape as the shell.
        """
        middles, inverses = self._middles[:, : shell.size], self._inverses[:, : shell.size]
        frozen = self.parts @ self._passed(np.tile(self.limit, shell.shape[0]), middles, inverses)
        guess = self._last_coldest + self._follows * (shell - self._last_shell)
        coldest = self._coldest(guess.ravel(), middles, inverses).reshape(shell.shape)
        self._follow(shell, coldest)
        return coldest, frozen.reshape(shell.shape)

    def _follow(self, shell: NDArray[np.float64], coldest: NDArray[np.float64]) -> None:
        """Note how the coldest share follows the shell: as far at most, and not at all where much is freezing."""
        shells, colds = (
            np.vstack([last, values])[-2:]
            for last, values in ((self._last_shell, shell), (self._last_coldest, coldest))
        )
        moved = shells[1] - shells[0]
        moved[np.abs(moved) < LEAST_MOVE] = np.inf
        self._follows = np.clip((colds[1] - colds[0]) / moved, 0.0, 1.0)
        self._last_shell, self._last_coldest = shells[1], colds[1]

    def _passed(
        self, limit: NDArray[np.float64], middles: NDArray[np.float64], inverses: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return which part of each cell is below a limit, shape (n_places, n_columns)."""
        part = self._room[0][: middles.size].reshape(middles.shape)
        np.subtract(limit, middles, out=part)
        np.multiply(part, inverses, out=part)
        np.add(part, 0.5, out=part)
        np.maximum(part, self._zero[: limit.size], out=part)
        return np.minimum(part, self._one[: limit.size], out=part)

    def _rising(self, part: NDArray[np.float64], inverses: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how fast the share of the volume rises where cells are passed in part [1/K], shape (n_columns,)."""
        slopes = self._room[1][: part.size].reshape(part.shape)
        is_begun, is_within = (mask[: part.size].reshape(part.shape) for mask in self._masks)
        np.greater(part, 0.0, out=is_begun)
        np.less(part, 1.0, out=is_within)
        np.logical_and(is_begun, is_within, out=is_within)
        np.multiply(inverses, is_within, out=slopes)
        return np.asarray(self.parts @ slopes)

    def _left(self, columns: NDArray[np.intp], rooms: slice, *arrays: NDArray[np.float64]) -> list[NDArray[np.float64]]:
        """Return some columns of arrays, in the room given for them."""
        shape = (self.parts.size, columns.size)
        return [
            np.take(array, columns, axis=1, out=room[: shape[0] * shape[1]].reshape(shape), mode="clip")
            for array, room in zip(arrays, self._room[rooms], strict=True)
        ]

    def _coldest(
        self, guess: NDArray[np.float64], middles: NDArray[np.float64], inverses: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return the temperature below which the share of the volume lies [K], shape (n_columns,).

        The share below a temperature is a line between corners, so Newton's rule meets it exactly once it is on the
        right one. Where that does not come nearer, ever larger steps are made until it is passed, and then the bracket
        is halved. Columns that are done are left out.
        """
        found, columns = guess, np.arange(guess.size)
        low, high = np.full_like(guess, -np.inf), np.full_like(guess, np.inf)
        before, reach, rooms = np.full_like(guess, np.inf), FIRST_REACH, slice(2, 4)
        for _ in range(MOST_ROUNDS):
            part = self._passed(guess, middles, inverses)
            excess = self.parts @ part - self.share
            slope = self._rising(part, inverses)
            error, is_past = np.abs(excess), excess > 0.0
            high, low = np.where(is_past, guess, high), np.where(is_past, low, guess)
            step = -excess / np.maximum(slope, LEAST_SLOPE)
            reached = guess + step
            is_sound = (reached > low) & (reached < high) & (error < NEARER * before)
            is_sound &= np.abs(step) < FARTHEST * reach
            is_open = error >= CLOSE
            others = np.where(np.isinf(high), guess + reach, np.where(np.isinf(low), guess - reach, (low + high) / 2.0))
            guess = np.where(is_sound, reached, np.where(is_open, others, guess))
            n_open = np.count_nonzero(is_open)
            if n_open < _WORTHWHILE * guess.size:
                found[columns] = guess
                if n_open == 0:
                    return found
                left = np.flatnonzero(is_open)
                middles, inverses = self._left(left, rooms, middles, inverses)
                columns = columns[left]
                guess, low, high, error = (array[left] for array in (guess, low, high, error))
                rooms = slice(4, 6) if rooms.start == 2 else slice(2, 4)  # noqa: PLR2004
            before, reach = error, reach * FARTHER
        found[columns] = guess  # as near as it comes
        return found
