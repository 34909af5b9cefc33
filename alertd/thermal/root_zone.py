"""What is to be known of a root ball, hour by hour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .grid import SHELL_THICKNESS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .grid import Grid

#: Points across the shell at which its profile is taken, and their weights: Gauss-Legendre.
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(4)

#: How near the share must be met, in how many rounds at most, and the least slope that is divided by [1/K].
CLOSE, MOST_ROUNDS, LEAST_SLOPE = 1e-4, 40, 1e-3

#: [K] A cell spans at least so much; cells without any gradient pass a limit at once.
LEAST_SPAN = 1e-6


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


class Probe:
    """Reads off a root ball what is to be known of it.

    Parameters
    ----------
    grid : Grid
        Cells.
    cold_limit : float
        [°C] For the share of the volume below it.
    share : float
        0 to 1, of the volume, for the temperature below which it lies.
    """

    def __init__(self, grid: Grid, cold_limit: float, share: float) -> None:
        self.grid, self.cold_limit, self.share = grid, cold_limit, share
        self._guess: NDArray[np.float64] | None = None
        self._parts = (grid.volumes / grid.volumes.sum())[:, :, None]
        edges, height = grid.heights, grid.heights[-1]
        within = np.minimum(edges[1:], height * 2 / 3) - np.maximum(edges[:-1], height / 3)
        self._middle = np.flatnonzero(within > 0.0)
        radii, widths = grid.radii[self._middle], grid.ring_widths[self._middle]
        thickness = np.minimum(SHELL_THICKNESS, radii)
        # Radii of the points in each layer, in widths of a ring inside the wall, and what each stands for.
        inside = (_POINTS + 1.0) / 2.0 * thickness[:, None]
        weights = _WEIGHTS * (radii[:, None] - inside) * thickness[:, None] * within[self._middle, None]
        self._inside = inside / widths[:, None]
        self._point_weights = (weights / weights.sum())[:, :, None]
        middle = height / 2.0
        centres = (edges[1:] + edges[:-1]) / 2.0
        self._upper = int(np.clip(np.searchsorted(centres, middle), 1, grid.n_layers - 1))
        below, above = centres[self._upper - 1], centres[self._upper]
        self._core_weight = (middle - below) / (above - below)

    def shell(
        self, temperature: NDArray[np.float64], offset: NDArray[np.float64], surface: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return the mean of the outer 2 cm in the middle third of the height [°C], shape (n_members,).

        Parameters
        ----------
        temperature : numpy.ndarray
            [°C] of cells, shape (n_layers, n_rings, n_members).
        offset : numpy.ndarray
            By how much each node stands outside the middle of its ring, in widths of the ring; same shape.
        surface : numpy.ndarray
            [°C] Inside of the wall, shape (n_layers, n_members).

        Returns
        -------
        numpy.ndarray
            The mean of the profile that is linear between wall and nodes.
        """
        rows = self._middle
        surface = surface[rows][:, None, :]
        offset = offset[rows]
        n_rings = self.grid.n_rings
        inside = self._inside[:, :, None]
        profile = np.zeros((rows.size, inside.shape[1], temperature.shape[2]))
        outer_place, outer_value = np.zeros_like(surface), surface
        is_open = np.ones(profile.shape, dtype=bool)
        for ring in range(n_rings - 1, -1, -1):
            place = (n_rings - ring - 0.5 - offset[:, ring])[:, None, :]
            value = temperature[rows, ring][:, None, :]
            is_here = is_open & (inside <= place)
            distance = np.maximum(place - outer_place, 1e-9)
            np.copyto(
                profile, outer_value + (value - outer_value) * np.clip((inside - outer_place) / distance, 0.0, 1.0),
                where=is_here,
            )  # fmt: skip
            is_open &= ~is_here
            if not is_open.any():
                break
            outer_place, outer_value = place, value
        else:
            np.copyto(profile, np.broadcast_to(outer_value, profile.shape), where=is_open)
        return np.asarray((profile * self._point_weights).sum(axis=(0, 1)))

    def core(self, temperature: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the temperature on the axis at half the height [°C], shape (n_members,)."""
        below, above = temperature[self._upper - 1, 0], temperature[self._upper, 0]
        return np.asarray(below + self._core_weight * (above - below))

    def shares(
        self, temperature: NDArray[np.float64], surface: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the temperature below which the share of the volume lies, and the share below the limit.

        Parameters
        ----------
        temperature : numpy.ndarray
            [°C] of cells, shape (n_layers, n_rings, n_members).
        surface : numpy.ndarray
            [°C] Inside of the wall, shape (n_layers, n_members).

        Returns
        -------
        coldest_share, frozen_share : numpy.ndarray
            [°C] and [1], shape (n_members,).
        """
        spans = self.spans(temperature, surface)
        return self.coldest_share(temperature, spans), self.frozen_share(temperature, spans)

    def spans(self, temperature: NDArray[np.float64], surface: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return over how much temperature each cell is spread, by the gradients across it [K].

        Parameters
        ----------
        temperature : numpy.ndarray
            [°C] of cells, shape (n_layers, n_rings, n_members).
        surface : numpy.ndarray
            [°C] Inside of the wall, shape (n_layers, n_members).

        Returns
        -------
        numpy.ndarray
            shape (n_layers, n_rings, n_members).
        """
        across = np.empty_like(temperature)
        across[:, 1:-1] = temperature[:, 2:] - temperature[:, :-2]
        across[:, 0] = temperature[:, 1] - temperature[:, 0]
        across[:, -1] = 2.0 * surface - temperature[:, -1] - temperature[:, -2]
        np.abs(across, out=across)
        along = temperature[2:] - temperature[:-2]
        across[1:-1] += np.abs(along, out=along)
        across[0] += np.abs(temperature[1] - temperature[0])
        across[-1] += np.abs(temperature[-1] - temperature[-2])
        across *= 0.5
        np.maximum(across, LEAST_SPAN, out=across)
        return across

    def frozen_share(self, temperature: NDArray[np.float64], spans: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the share of the volume below the limit, shape (n_members,).

        Parameters
        ----------
        temperature : numpy.ndarray
            [°C] of cells, shape (n_layers, n_rings, n_members).
        spans : numpy.ndarray
            [K] As `spans` gives them.

        Returns
        -------
        numpy.ndarray
            Each cell counts in part, by the gradient across it: no jumps as single cells pass.
        """
        part = np.subtract(self.cold_limit, temperature)
        part /= spans
        part += 0.5
        np.clip(part, 0.0, 1.0, out=part)
        part *= self._parts
        return np.asarray(part.sum(axis=(0, 1)))

    def coldest_share(self, temperature: NDArray[np.float64], spans: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the temperature below which the share of the volume lies [°C], shape (n_members,).

        Parameters
        ----------
        temperature : numpy.ndarray
            [°C] of cells, shape (n_layers, n_rings, n_members).
        spans : numpy.ndarray
            [K] As `spans` gives them.

        Returns
        -------
        numpy.ndarray
            Where `frozen_share` would be the share, within `CLOSE`: by Newton's rule from where the last hour's ended,
            halving the bracket wherever that does not converge.
        """
        low, high = temperature.min(axis=(0, 1)), temperature.max(axis=(0, 1))
        guess: NDArray[np.float64] = (low + high) / 2.0 if self._guess is None else self._guess
        guess = np.minimum(np.maximum(guess, low), high)
        inverse = 1.0 / spans
        before = np.full(guess.shape, np.inf)
        for _ in range(MOST_ROUNDS):
            part = guess - temperature
            part *= inverse
            part += 0.5
            is_within = (part > 0.0) & (part < 1.0)
            np.maximum(part, 0.0, out=part)
            np.minimum(part, 1.0, out=part)
            part *= self._parts
            excess = part.sum(axis=(0, 1)) - self.share
            if np.abs(excess).max() < CLOSE:
                break
            high, low = np.where(excess > 0.0, guess, high), np.where(excess > 0.0, low, guess)
            np.multiply(inverse, is_within, out=part)
            part *= self._parts
            slope = part.sum(axis=(0, 1))
            step = guess - excess / np.maximum(slope, LEAST_SLOPE)
            is_sound = (step > low) & (step < high) & (np.abs(excess) < 0.5 * before)
            guess = np.where(np.abs(excess) < CLOSE, guess, np.where(is_sound, step, (low + high) / 2.0))
            before = np.abs(excess)
        self._guess = guess
        return guess
