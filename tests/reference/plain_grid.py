"""A root ball on a plain graded grid, left to scipy's `solve_ivp`: what somebody would write first.

Another discretisation than that of `fine_grid`: rings and layers that grow away from the surfaces, the flux through a
face by Kirchhoff's integral of the conductivity over the temperature (H. S. Carslaw and J. C. Jaeger, Conduction of
Heat in Solids, 1959, section 1.6, from memory), and time left to a stiff solver with error control. Several members at
once are one large system.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import sparse
from scipy.integrate import solve_ivp

if TYPE_CHECKING:
    from alertd.thermal.film import Film
    from alertd.thermal.medium import Medium

HOUR = 3600.0
#: [m] Outermost part of the root ball.
SHELL_THICKNESS = 0.02


@dataclass(frozen=True)
class PlainTraces:
    """Temperatures [°C] at the end of each hour, of shape (n_members, n_times)."""

    shell: np.ndarray
    core: np.ndarray
    mean: np.ndarray
    cold_share: np.ndarray


def edges_to_one_end(length: float, count: int, growth: float) -> np.ndarray:
    """Return edges from 0 to `length` whose distances shrink towards the far end."""
    widths = growth ** np.arange(count)[::-1]
    return np.concatenate([[0.0], np.cumsum(widths)]) * length / widths.sum()


def edges_to_both_ends(length: float, count: int, growth: float) -> np.ndarray:
    """Return edges from 0 to `length` whose distances shrink towards both ends."""
    widths = growth ** np.minimum(np.arange(count), np.arange(count)[::-1])
    return np.concatenate([[0.0], np.cumsum(widths)]) * length / widths.sum()


class PlainPot:
    """The system of ordinary differential equations of one pot, for all members at once."""

    def __init__(
        self,
        shape: tuple[float, float, float],
        medium: Medium,
        films: tuple[Film, Film, Film],
        cells: tuple[int, int] = (19, 14),
        growth: float = 1.1,
    ) -> None:
        top, bottom, height = shape
        n_r, n_z = cells
        self.medium, self.films = medium, films
        self.rho = edges_to_one_end(1.0, n_r, growth)
        self.z = edges_to_both_ends(height, n_z, growth)
        edge_radii = bottom + (top - bottom) * self.z / height
        self.radii = (edge_radii[:-1] + edge_radii[1:]) / 2
        self.thickness = np.diff(self.z)
        nodes = (self.rho[:-1] + self.rho[1:]) / 2
        rings = np.pi * np.diff(self.rho**2)
        squares = (edge_radii[:-1] ** 2 + edge_radii[:-1] * edge_radii[1:] + edge_radii[1:] ** 2) / 3
        self.volumes = np.outer(squares * self.thickness, rings)
        self.radial = np.outer(self.thickness, 2 * np.pi * self.rho[1:-1] / np.diff(nodes))
        middles = (self.z[:-1] + self.z[1:]) / 2
        self.axial = np.outer(edge_radii[1:-1] ** 2 / np.diff(middles), rings)
        self.middles = middles
        slant = np.hypot(1.0, (top - bottom) / height)
        self.wall_areas = 2 * np.pi * self.radii * self.thickness * slant
        self.wall_distance = (1.0 - nodes[-1]) * self.radii
        self.top_areas, self.bottom_areas = edge_radii[-1] ** 2 * rings, edge_radii[0] ** 2 * rings
        begin = np.maximum(self.rho[None, :-1], 1.0 - SHELL_THICKNESS / self.radii[:, None])
        in_ring = np.clip(self.rho[None, 1:] ** 2 - begin**2, 0.0, None) / np.diff(self.rho**2)
        third = np.clip(np.minimum(self.z[1:], 2 * height / 3) - np.maximum(self.z[:-1], height / 3), 0.0, None)
        self.shell_weights = self.volumes * in_ring * (third / self.thickness)[:, None]
        self.shell_weights /= self.shell_weights.sum()
        self.members = films[0].temperature.shape[0]
        self.hours = films[0].temperature.shape[1]
        width, point = medium.freezing_width, medium.freezing_point
        self.just_frozen = point - width
        mean_capacity = (medium.heat_capacity_unfrozen + medium.heat_capacity_frozen) / 2
        self.melting = mean_capacity * width + medium.latent_heat

    def enthalpy(self, temperature: float) -> float:
        """Return the enthalpy [J/m3] of an unfrozen medium."""
        return self.melting + self.medium.heat_capacity_unfrozen * (temperature - self.medium.freezing_point)

    def state(self, enthalpy: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return temperature [°C], Kirchhoff's integral [W/m] and conductivity [W/(m K)]."""
        medium = self.medium
        liquid = np.clip(enthalpy / self.melting, 0.0, 1.0)
        frozen = np.minimum(enthalpy, 0.0) / medium.heat_capacity_frozen
        warm = np.maximum(enthalpy - self.melting, 0.0) / medium.heat_capacity_unfrozen
        temperature = self.just_frozen + frozen + medium.freezing_width * liquid + warm
        change = medium.conductivity_unfrozen - medium.conductivity_frozen
        integral = medium.freezing_width * liquid * (medium.conductivity_frozen + change * liquid / 2)
        integral += medium.conductivity_frozen * frozen + medium.conductivity_unfrozen * warm
        return temperature, integral, medium.conductivity_frozen + change * liquid

    def surfaces(self) -> tuple[tuple[Any, np.ndarray, Any], ...]:
        """Return for wall, top and bottom which cells, with what area [m2] and distance to the surface [m]."""
        return (
            (np.s_[:, :, -1], self.wall_areas, self.wall_distance),
            (np.s_[:, -1, :], self.top_areas, self.thickness[-1] / 2),
            (np.s_[:, 0, :], self.bottom_areas, self.thickness[0] / 2),
        )

    def rate(self, seconds: float, flat: np.ndarray) -> np.ndarray:
        """Return the change of all enthalpies [W/m3]."""
        hour = min(int(seconds / HOUR), self.hours - 1)
        enthalpy = flat.reshape(self.members, *self.volumes.shape)
        temperature, integral, conductivity = self.state(enthalpy)
        gain = np.zeros_like(enthalpy)
        outward = self.radial * (integral[:, :, :-1] - integral[:, :, 1:])
        gain[:, :, :-1] -= outward
        gain[:, :, 1:] += outward
        upward = self.axial * (integral[:, :-1] - integral[:, 1:])
        gain[:, :-1] -= upward
        gain[:, 1:] += upward
        for film, (cells, areas, distance) in zip(self.films, self.surfaces(), strict=True):
            outside, conductance = film.temperature[:, hour, None], film.conductance[:, hour, None]
            inside = conductivity[cells] / distance
            gain[cells] += areas * (outside - temperature[cells]) * conductance * inside / (conductance + inside)
        return (gain / self.volumes).ravel()

    def sparsity(self) -> sparse.csc_matrix:
        """Return which cells depend on which."""
        n_z, n_r = self.volumes.shape

        def chain(length: int) -> sparse.dia_matrix:
            return sparse.diags([1.0, 1.0, 1.0], [-1, 0, 1], shape=(length, length))

        one = sparse.kron(sparse.eye(n_z), chain(n_r)) + sparse.kron(chain(n_z), sparse.eye(n_r))
        return sparse.csc_matrix(sparse.kron(sparse.eye(self.members), one))

    def laplacian(self) -> sparse.csc_matrix:
        """Return by how much the integral [W/m] of each cell warms each cell [W], for all members."""
        n_z, n_r = self.volumes.shape
        numbers = np.arange(n_z * n_r).reshape(n_z, n_r)
        pairs = ((numbers[:, :-1], numbers[:, 1:], self.radial), (numbers[:-1], numbers[1:], self.axial))
        one = np.concatenate([first.ravel() for first, _, _ in pairs])
        two = np.concatenate([second.ravel() for _, second, _ in pairs])
        through = np.concatenate([conductance.ravel() for _, _, conductance in pairs])
        rows, columns = np.concatenate([one, two, one, two]), np.concatenate([two, one, one, two])
        values = np.concatenate([through, through, -through, -through])
        single = sparse.coo_matrix((values, (rows, columns)), shape=(numbers.size, numbers.size))
        return sparse.csc_matrix(sparse.kron(sparse.eye(self.members), single))

    def jacobian(self, seconds: float, flat: np.ndarray, laplacian: sparse.csc_matrix) -> sparse.csc_matrix:
        """Return the derivatives of `rate`; that of the conductivity at the surfaces is left out."""
        hour = min(int(seconds / HOUR), self.hours - 1)
        enthalpy = flat.reshape(self.members, *self.volumes.shape)
        conductivity = self.state(enthalpy)[2]
        slope = np.where(
            enthalpy < 0.0,
            1 / self.medium.heat_capacity_frozen,
            np.where(
                enthalpy < self.melting,
                self.medium.freezing_width / self.melting,
                1 / self.medium.heat_capacity_unfrozen,
            ),
        )
        loss = np.zeros_like(enthalpy)
        for film, (cells, areas, distance) in zip(self.films, self.surfaces(), strict=True):
            conductance = film.conductance[:, hour, None]
            inside = conductivity[cells] / distance
            loss[cells] += areas * conductance * inside / (conductance + inside)
        scaled = laplacian.copy()
        scaled.data *= np.repeat((conductivity * slope).ravel(), np.diff(laplacian.indptr))
        by_volume = sparse.diags(np.tile(1 / self.volumes.ravel(), self.members))
        return sparse.csc_matrix(by_volume @ (scaled - sparse.diags((loss * slope).ravel())))

    def solve(
        self,
        start: float,
        *,
        method: str = "BDF",
        tolerance: float = 1e-4,
        restart: bool = True,
        has_jacobian: bool = True,
    ) -> PlainTraces:
        """Return the traces.

        `restart` begins the integration anew with each hour, where the forcing jumps; without `has_jacobian` scipy
        takes differences for it, knowing which cells depend on which.
        """
        flat = np.full(self.members * self.volumes.size, self.enthalpy(start))
        ends = HOUR * np.arange(1, self.hours + 1)
        options = {"method": method, "rtol": tolerance, "atol": tolerance * self.medium.heat_capacity_unfrozen}
        if has_jacobian:
            laplacian = self.laplacian()
            options["jac"] = lambda seconds, state: self.jacobian(seconds, state, laplacian)
        else:
            options["jac_sparsity"] = self.sparsity()
        columns = []
        if restart:
            for end in ends:
                # not beyond the end of the hour by a rounding, where the next forcing would be taken
                found = solve_ivp(
                    lambda seconds, state, end=end: self.rate(min(seconds, end - 1e-3), state),
                    (end - HOUR, end),
                    flat,
                    t_eval=[end],
                    **options,
                )
                flat = found.y[:, -1]
                columns.append(flat)
        else:
            columns = list(solve_ivp(self.rate, (0.0, ends[-1]), flat, t_eval=ends, **options).y.T)
        return self._traces(np.array(columns).reshape(self.hours, self.members, *self.volumes.shape))

    def _traces(self, enthalpy: np.ndarray) -> PlainTraces:
        temperature = self.state(enthalpy)[0]
        height = self.z[-1]
        core = np.array(
            [[np.interp(height / 2, self.middles, member[:, 0]) for member in hour] for hour in temperature]
        )
        volume = self.volumes / self.volumes.sum()
        return PlainTraces(
            (temperature * self.shell_weights).sum(axis=(2, 3)).T,
            core.T,
            (temperature * volume).sum(axis=(2, 3)).T,
            _cold_share(temperature, volume).T,
        )


def _cold_share(temperature: np.ndarray, volume: np.ndarray, limit: float = -5.0) -> np.ndarray:
    """Return the share below a limit, the temperature taken as linear along the radius in each cell."""
    lean = np.abs(np.gradient(temperature, axis=3)) + 1e-9
    return (np.clip((limit - temperature) / lean + 0.5, 0.0, 1.0) * volume).sum(axis=(2, 3))
