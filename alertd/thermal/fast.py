"""The compiled solver, where numba is installed: the extra `fast`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from . import kernels
from .root_zone import CLOSE, LEAST_SLOPE, LEAST_SPAN, MOST_ROUNDS, Probe
from .scheme import FilmHour, Stepper

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .grid import Grid
    from .medium import Constants


class FastStepper(Stepper):
    """`scheme.Stepper` with its arithmetic compiled; the same room, the same steps."""

    def __init__(self, grid: Grid, constants: Constants, enthalpy: NDArray[np.float64], step: float) -> None:
        super().__init__(grid, constants, enthalpy, step)
        n_members, n_rings = enthalpy.shape[2], grid.n_rings
        names = (
            "frozen_below",
            "freezing_point",
            "melting_flux",
            "conductivity_frozen",
            "conductivity_freezing",
            "conductivity_unfrozen",
            "melting",
            "capacity_frozen",
            "width_by_melting",
            "capacity_unfrozen",
        )
        rows = [np.broadcast_to(getattr(constants, name), n_members) for name in names]
        self._constants_by_member = np.array(rows)
        self._by_volume = 1.0 / grid.volumes.ravel()
        self._temperature = np.empty_like(self.energy)

        def along(values: NDArray[np.float64]) -> NDArray[np.float64]:
            return np.tile(np.broadcast_to(values, n_members), n_rings)

        self._by_place = tuple(
            along(np.asarray(values)) for values in (self._freezing_by_frozen, self._unfrozen_by_frozen, self._lowered)
        )
        self._by_melting = along(1.0 / constants.melting_flux)
        self._radial_still_flat = self._radial_still.ravel()

    def advance(self, films: FilmHour) -> None:
        """Go on by an hour.

        Parameters
        ----------
        films : FilmHour
            Constant for the hour.
        """
        self._take(films)
        n_layers, n_rings, n_members = self.energy.shape
        kernels.make_hour(
            self._padded.ravel(),
            self._radial_still_flat,
            self._radial.ravel(),
            self._axial.ravel(),
            self.energy.ravel(),
            self._change.ravel(),
            self._of_frozen.ravel(),
            *self._by_place,
            self._by_melting,
            self.grid.ring_widths,
            self._still_depths.ravel(),
            self._depths.ravel(),
            self._offset.ravel(),
            self._areas.ravel(),
            self._film_temperature.ravel(),
            self._film_conductance.ravel(),
            self._branch.ravel(),
            self._outer.ravel(),
            self._constants_by_member,
            n_layers,
            n_rings,
            n_members,
            self._stages(),
            self.n_steps,
            self.step,
            self._is_mild,
        )

    def temperature(self) -> NDArray[np.float64]:
        """Return the temperature of all cells [°C], shape (n_layers, n_rings, n_members)."""
        n_members = self.energy.shape[2]
        n_cells = self.energy.size // n_members
        kernels.read_temperatures(
            self.energy.ravel(),
            self._by_volume,
            self._constants_by_member,
            n_cells,
            n_members,
            self._temperature.ravel(),
        )
        return self._temperature

    def profile(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return where the nodes stand now, and how cold the wall's inside is; as `Stepper.profile`."""
        n_layers, n_rings, n_members = self.energy.shape
        surface = np.empty((n_layers, n_members))
        kernels.read_surface(
            self._padded.ravel(),
            self._film_temperature.ravel(),
            self._film_conductance.ravel(),
            self._depths.ravel(),
            self._branch.ravel(),
            self._outer.ravel(),
            n_layers,
            n_rings,
            n_members,
            surface.ravel(),
        )
        return self._offset, surface


class FastProbe(Probe):
    """`root_zone.Probe` with its readings compiled."""

    def shell(
        self, temperature: NDArray[np.float64], offset: NDArray[np.float64], surface: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return the mean of the outer 2 cm; as `Probe.shell`."""
        n_members = temperature.shape[2]
        shell = np.empty(n_members)
        kernels.read_shell(
            temperature.ravel(),
            offset.ravel(),
            surface.ravel(),
            self._middle,
            self._inside,
            self._point_weights[:, :, 0],
            self.grid.n_rings,
            n_members,
            shell,
        )
        return shell

    def shares(
        self, temperature: NDArray[np.float64], surface: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the coldest share and the frozen share; as `Probe.shares`."""
        n_layers, n_rings, n_members = temperature.shape
        guess = np.full(n_members, np.nan) if self._guess is None else self._guess.copy()
        frozen, spans = np.empty(n_members), np.empty(temperature.size)
        kernels.read_shares(
            np.ascontiguousarray(temperature).ravel(),
            np.ascontiguousarray(surface).ravel(),
            self._parts.ravel(),
            self.cold_limit,
            self.share,
            guess,
            CLOSE,
            MOST_ROUNDS,
            LEAST_SLOPE,
            LEAST_SPAN,
            n_layers,
            n_rings,
            n_members,
            spans,
            frozen,
        )
        self._guess = guess
        return guess, frozen
