"""The compiled solver, where numba is installed: the extra `fast`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from . import kernels
from .root_zone import Probe
from .scheme import Stepper

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .grid import Grid
    from .medium import Constants
    from .scheme import Factor


class FastStepper(Stepper):
    """`scheme.Stepper` with its arithmetic compiled; the same room, the same steps."""

    def __init__(
        self,
        grid: Grid,
        constants: Constants,
        enthalpy: NDArray[np.float64],
        temperatures: NDArray[np.float64],
        conductances: NDArray[np.float64],
        step: float,
    ) -> None:
        super().__init__(grid, constants, enthalpy, temperatures, conductances, step)
        kinds = ("conductivity_frozen", "conductivity_freezing", "conductivity_unfrozen")
        n_members = enthalpy.shape[2]
        self._conductivities = np.array([np.broadcast_to(getattr(constants, kind), n_members) for kind in kinds])
        self._lines = tuple(self.row_of(line) for line in (self.freezing, self.unfrozen, self.lowered))

    def row_of(self, factor: Factor) -> NDArray[np.float64]:
        """Return a factor for each place of one layer."""
        return np.ascontiguousarray(np.broadcast_to(factor, self.state.size)[: self.stride])

    def advance(self, hour: int) -> None:
        """Go on by an hour.

        Parameters
        ----------
        hour : int
            Number of it, from 0.
        """
        self._take(hour)
        was_still = self._is_still
        if self.is_mild:
            self._stand_still()
        kernels.make_hour(
            self.value,
            self.state,
            self.change,
            self._radial_of_move,
            self.radial,
            self.axial,
            self.weight,
            *self._lines,
            self.depths.ravel(),
            self.move,
            self.grid.ring_widths,
            self._acting.ravel(),
            self._conducting.ravel(),
            self._above_frozen.ravel(),
            self._above_melting.ravel(),
            self._conductivities,
            self.branch.ravel(),
            self.outer.ravel(),
            self.resisting.ravel(),
            self._nearly_frozen,
            self._stages_frozen[hour],
            self._stages_unfrozen[hour],
            self.n_steps,
            *self.shape,
            self.is_mild,
            was_still,
        )
        self._is_still = self.is_mild

    def surface(self) -> NDArray[np.float64]:
        """Return how cold the wall's inside is; as `Stepper.surface`."""
        n_layers, _, n_members = self.shape
        surface = np.empty((n_layers, n_members))
        melting_flux = np.broadcast_to(self.constants.melting_flux, n_members)
        kernels.read_surface(
            self.value,
            self.outer.ravel(),
            self.resisting.ravel(),
            self._above_frozen.ravel(),
            melting_flux,
            *self.shape,
            surface.ravel(),
        )
        return surface


class FastProbe(Probe):
    """`root_zone.Probe` with its readings compiled."""

    def __init__(self, stepper: FastStepper, cold_limit: float, share: float) -> None:
        super().__init__(stepper, cold_limit, share)
        lines = (self.frozen, self.freezing, self.unfrozen, self.lowered)
        self._lines = tuple(stepper.row_of(line) for line in lines)

    def _warm(self, surface: NDArray[np.float64]) -> None:
        """Compute the temperature of all cells; as `Probe._warm`."""
        stepper = self.stepper
        kernels.read_temperatures(stepper.state, *self._lines, surface.ravel(), *stepper.shape, self.warmth)

    def _shell(self, surface: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the mean of the outer 2 cm; as `Probe._shell`."""
        _, n_rings, n_members = self.stepper.shape
        shell = np.empty(n_members)
        kernels.read_shell(
            self.warmth,
            self.stepper.move,
            surface.ravel(),
            self.rows.start,
            self.points,
            self.weights,
            self.n_reached,
            n_rings,
            n_members,
            shell,
        )
        return shell

    def _shares(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the coldest share and the frozen share; as `Probe._shares`."""
        guess = 2.0 * self.guess - self.guess_before
        frozen = np.empty(guess.size)
        kernels.read_shares(
            self.warmth,
            self.parts,
            self.limit,
            self.share,
            guess,
            *self.stepper.shape,
            self._spans,
            frozen,
        )
        self.guess, self.guess_before = guess, self.guess
        return guess, frozen
