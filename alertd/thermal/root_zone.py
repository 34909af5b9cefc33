"""What is to be known of a root ball, hour by hour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .grid import SHELL_THICKNESS
from .scheme import CERTAIN

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .scheme import Stepper

#: Points across the shell at which its profile is taken, and their weights: Gauss-Legendre.
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(4)

#: How near the share must be met before the last round, in how many rounds at most, and the least slope that is divided by [1/K].
CLOSE, MOST_ROUNDS, LEAST_SLOPE = 5e-4, 40, 1e-3

#: [K] A cell spans at least so much; cells without any gradient pass a limit within it.
LEAST_SPAN = 0.02

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
    for hour in range(stepper.n_times):
        stepper.advance(hour)
        shell, core, coldest_share, frozen_share = probe.read()
        readings.shell[hour], readings.core[hour] = shell, core
        readings.coldest_share[hour], readings.frozen_share[hour] = coldest_share, frozen_share
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
        self._make_room()
        self._divide_shell()
        self._find_core()
        #: [K] Coldest share an hour ago, and two hours ago.
        self.guess = self.guess_before = np.full(stepper.shape[2], np.nan)

    def _make_room(self) -> None:
        """Make the arrays of the cells, and the views by which neighbours are reached."""
        stepper, constants = self.stepper, self.stepper.constants
        n_layers, n_rings, n_members = stepper.shape
        stride, size = stepper.stride, stepper.state.size
        by_state = constants.melting_flux * constants.capacity_frozen / constants.conductivity_frozen
        self.frozen = stepper._factor(by_state / constants.capacity_frozen)
        self.freezing = stepper._factor(by_state * constants.width_by_melting)
        self.unfrozen = stepper._factor(by_state / constants.capacity_unfrozen)
        width = constants.freezing_point - constants.frozen_below
        self.lowered = stepper._factor(np.asarray(constants.melting / constants.capacity_unfrozen - width))
        #: [K] Temperature of all cells.
        self.warmth = np.zeros(size + 2 * stride)
        self._inside = self.warmth[stride:-stride]
        self._outside = self.warmth[stride + n_members : stride + n_members + size]
        self._inward = self.warmth[stride - n_members : stride - n_members + size]
        self._above, self._below = self.warmth[2 * stride :], self.warmth[: -2 * stride]
        self._layers = self.warmth.reshape(n_layers + 2, n_rings + 1, n_members)
        self.spans, self._spare = np.zeros(size), np.zeros(size)
        spans = self.spans.reshape(n_layers, n_rings + 1, n_members)
        self._at_axis, self._cell_spans = spans[:, 0], spans[:, :-1]
        by_cell = (n_layers * (n_rings + 1), n_members)
        self._inside_by_cell, self._spans_by_cell = self._inside.reshape(by_cell), self.spans.reshape(by_cell)
        # Bounds as arrays: numpy takes the larger of two arrays twice as fast as that of an array and a number.
        self._zero, self._one, self._least = np.zeros(size), np.ones(size), np.full(size, 2.0 * LEAST_SPAN)
        parts = np.zeros((n_layers, n_rings + 1))
        parts[:, :-1] = stepper.grid.volumes / stepper.grid.volumes.sum()
        #: Share of the volume that each place has.
        self.parts = parts.ravel()

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

    def read(self) -> tuple[NDArray[np.float64], ...]:
        """Return what is to be known at the end of an hour.

        Returns
        -------
        shell, core, coldest_share, frozen_share : numpy.ndarray
            As `RootZone` has them, shape (n_members,).
        """
        surface = self.stepper.surface()
        self._warm(surface)
        below = self.below
        shell, core = self._shell(surface) + below, self._core() + below
        coldest, frozen = self._shares()
        return shell, core, coldest + below, frozen

    def _shares(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the temperature of the coldest share [K], and the share below the limit; shape (n_members,)."""
        self._spread()
        return self._coldest_share(), self._frozen_share()

    def _warm(self, surface: NDArray[np.float64]) -> None:
        """Compute the temperature of all cells, and put beside those at surfaces what makes their gradients right."""
        state, inside, spare, layers = self.stepper.state, self._inside, self._spare, self._layers
        np.multiply(state, self.frozen, out=inside)
        np.multiply(state, self.freezing, out=spare)
        np.minimum(inside, spare, out=inside)
        np.multiply(state, self.unfrozen, out=spare)
        np.subtract(spare, self.lowered, out=spare)
        np.maximum(inside, spare, out=inside)
        layers[1:-1, -1] = 2.0 * surface - layers[1:-1, -2]
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
            place = (back + 0.5) - offset[rows, -1 - back] / CERTAIN
            gap = place - outer_place
            beyond = points - outer_place[:, None, :]
            np.maximum(beyond, 0.0, out=beyond)
            np.minimum(beyond, gap[:, None, :], out=beyond)
            rise = (value - outer_value) / np.maximum(gap, LEAST_GAP)
            np.multiply(beyond, rise[:, None, :], out=beyond)
            np.add(profile, beyond, out=profile)
        np.multiply(profile, self.weights[:, :, None], out=profile)
        return np.asarray(profile.sum(axis=(0, 1)))

    def _spread(self) -> None:
        """Compute over how much temperature each cell is spread, by the gradients across it; the inverse [1/K]."""
        spans, spare = self.spans, self._spare
        np.subtract(self._outside, self._inward, out=spans)
        np.subtract(self._layers[1:-1, 1], self._layers[1:-1, 0], out=self._at_axis)
        np.absolute(spans, out=spans)
        np.subtract(self._above, self._below, out=spare)
        np.absolute(spare, out=spare)
        np.add(spans, spare, out=spans)
        np.maximum(spans, self._least, out=spans)
        np.divide(2.0, spans, out=spans)

    def _frozen_share(self) -> NDArray[np.float64]:
        """Return the share of the volume below the limit: no jumps as single cells pass. Shape (n_members,)."""
        return np.asarray(self.parts @ self._passed(self.limit, self._inside_by_cell, self._spans_by_cell))

    def _passed(
        self, limit: NDArray[np.float64], warmth: NDArray[np.float64], spans: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return which part of each cell is below a limit, shape (n_places, some members)."""
        places = limit.size * self.parts.size
        part = self._spare[:places].reshape(warmth.shape)
        np.subtract(limit, warmth, out=part)
        np.multiply(part, spans, out=part)
        np.add(part, 0.5, out=part)
        np.maximum(part, self._zero[:places].reshape(part.shape), out=part)
        return np.minimum(part, self._one[:places].reshape(part.shape), out=part)

    def _coldest_share(self) -> NDArray[np.float64]:
        """Return the temperature below which the share of the volume lies [K], shape (n_members,).

        That at which `_frozen_share` would be the share: by Newton's rule from where the last hours point, halving the
        bracket wherever that does not converge. The share is a line between corners, so the step from a place that is
        close is the last.
        """
        warmth, spans = self._inside_by_cell, self._spans_by_cell
        reach, cells = 2.0 / float(self._cell_spans.min()), self._layers[1:-1, :-1]
        lowest, highest = float(cells.min()) - reach, float(cells.max()) + reach
        guess = 2.0 * self.guess - self.guess_before
        guess = np.where(np.isnan(guess), (lowest + highest) / 2.0, np.minimum(np.maximum(guess, lowest), highest))
        low, high = np.full_like(guess, lowest), np.full_like(guess, highest)
        before = np.full_like(guess, np.inf)
        found, members = guess.copy(), np.arange(guess.size)
        for _ in range(MOST_ROUNDS):
            part = self._passed(guess, warmth, spans)
            excess = self.parts @ part - self.share
            error = np.abs(excess)
            slope = self.parts @ (spans * ((part > 0.0) & (part < 1.0)))
            is_past = excess > 0.0
            high, low = np.where(is_past, guess, high), np.where(is_past, low, guess)
            step = guess - excess / np.maximum(slope, LEAST_SLOPE)
            is_sound = (step > low) & (step < high) & (error < 0.5 * before)
            guess = np.where(is_sound, step, np.where(error < CLOSE, guess, (low + high) / 2.0))
            before, is_open = error, error >= CLOSE
            n_open = np.count_nonzero(is_open)
            if n_open < guess.size:  # go on with those that are not yet there
                found[members] = guess
                if n_open == 0:
                    break
                members, guess, low, high, before = (a[is_open] for a in (members, guess, low, high, before))
                warmth, spans = warmth[:, is_open], spans[:, is_open]
        self.guess, self.guess_before = found, self.guess
        return found
