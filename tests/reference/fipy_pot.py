"""A cylinder of a freezing medium, solved by FiPy: J. Guyer, D. Wheeler and J. Warren, Computing in Science &
Engineering 11(3):6, 2009 (from memory); FiPy 4 from PyPI.

Backward Euler. The enthalpy is not linear in temperature: each sweep takes its tangent at the last temperature and
keeps what the tangent misses as a source; the heat by which the solution follows the tangent, not its temperature, is
what the next sweep begins with (V. Voller and C. Swaminathan, Numerical Heat Transfer B 19:175, 1991, from memory).
"""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING

import numpy as np

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # FiPy 4.0.3 reaches for an inner part of numpy that has moved
    import fipy

if TYPE_CHECKING:
    from alertd.thermal.medium import Medium

HOUR = 3600.0
#: [m] Outermost part of the root ball.
SHELL_THICKNESS = 0.02
#: [K] Change at which sweeping ends, and how often at most.
CLOSE, MOST_SWEEPS = 1e-4, 60


class FipyCylinder:
    """A cylinder of one radius, behind films at wall, top and bottom."""

    def __init__(self, radius: float, height: float, medium: Medium, cells: tuple[int, int]) -> None:
        self.medium, self.height, self.radius = medium, height, radius
        n_r, n_z = cells
        self.mesh = fipy.CylindricalGrid2D(nr=n_r, nz=n_z, dr=radius / n_r, dz=height / n_z)
        self.temperature = fipy.CellVariable(mesh=self.mesh, value=0.0)
        self.conductivity = fipy.CellVariable(mesh=self.mesh, value=1.0)
        self.capacity = fipy.CellVariable(mesh=self.mesh, value=1.0)
        self.source = fipy.CellVariable(mesh=self.mesh, value=0.0)
        self.film_rate = fipy.CellVariable(mesh=self.mesh, value=0.0)
        faces = fipy.FaceVariable(mesh=self.mesh, value=self.conductivity.harmonicFaceValue)
        self.faces = faces
        self.equation = (
            fipy.ImplicitSourceTerm(coeff=self.capacity + self.film_rate)
            == fipy.DiffusionTerm(coeff=faces) + self.source
        )
        x, y = self.mesh.cellCenters.value
        self.columns = {"r": x, "z": y}
        self.volumes = np.asarray(self.mesh.cellVolumes)

    def properties(self, temperature: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return enthalpy [J/m3], its slope [J/(m3 K)] and conductivity [W/(m K)]."""
        medium = self.medium
        low = medium.freezing_point - medium.freezing_width
        mean = (medium.heat_capacity_unfrozen + medium.heat_capacity_frozen) / 2
        slope = mean + medium.latent_heat / medium.freezing_width
        part = np.clip(temperature - low, 0.0, medium.freezing_width)
        enthalpy = medium.heat_capacity_frozen * np.minimum(temperature - low, 0.0) + slope * part
        enthalpy += medium.heat_capacity_unfrozen * np.maximum(temperature - medium.freezing_point, 0.0)
        slopes = np.where(
            temperature < low,
            medium.heat_capacity_frozen,
            np.where(temperature < medium.freezing_point, slope, medium.heat_capacity_unfrozen),
        )
        change = medium.conductivity_unfrozen - medium.conductivity_frozen
        return enthalpy, slopes, medium.conductivity_frozen + change * part / medium.freezing_width

    def from_enthalpy(self, enthalpy: np.ndarray) -> np.ndarray:
        """Return the temperature [°C]."""
        medium = self.medium
        knots = np.array([-100.0, medium.freezing_point - medium.freezing_width, medium.freezing_point, 100.0])
        return np.interp(enthalpy, self.properties(knots)[0], knots)

    def surface_rates(self, conductivity: np.ndarray, films: dict[str, tuple[float, float]]) -> tuple[np.ndarray, ...]:
        """Return for each cell the sum of conductance by volume [W/(m3 K)], and of that times what is outside."""
        d_r, d_z = self.mesh.dx, self.mesh.dy
        x, y = self.columns["r"], self.columns["z"]
        at = {"wall": x > self.radius - d_r, "top": y > self.height - d_z, "bottom": y < d_z}
        by_volume = {"wall": self.radius / x / d_r, "top": 1 / d_z, "bottom": 1 / d_z}
        half = {"wall": d_r / 2, "top": d_z / 2, "bottom": d_z / 2}
        rate, towards = np.zeros_like(x), np.zeros_like(x)
        for side, (outside, film) in films.items():
            through = at[side] * by_volume[side] / (1 / film + half[side] / conductivity)
            rate += through
            towards += through * outside
        return rate, towards

    def advance(self, films: dict[str, tuple[float, float]], steps: int) -> None:
        """Step one hour forward under constant films."""
        step = HOUR / steps
        for _ in range(steps):
            old = self.properties(self.temperature.value)[0]
            for _ in range(MOST_SWEEPS):
                before = self.temperature.value.copy()
                enthalpy, slope, conductivity = self.properties(before)
                rate, towards = self.surface_rates(conductivity, films)
                self.conductivity.setValue(conductivity)
                self.faces.setValue(self.conductivity.harmonicFaceValue)
                self.capacity.setValue(slope / step)
                self.film_rate.setValue(rate)
                self.source.setValue((slope * before - enthalpy + old) / step + towards)
                self.equation.solve(var=self.temperature)
                missed = np.abs(self.temperature.value - before).max()
                self.temperature.setValue(self.from_enthalpy(enthalpy + slope * (self.temperature.value - before)))
                if missed < CLOSE:
                    break
            else:
                message = "FiPy's sweeps do not converge"
                raise ArithmeticError(message)

    def solve(self, start: float, films: list[dict[str, tuple[float, float]]], steps: int) -> np.ndarray:
        """Return shell, core and mean [°C] at the end of each hour, shape (3, n_times)."""
        self.temperature.setValue(start)
        rows = []
        for hour in films:
            self.advance(hour, steps)
            rows.append(self._told())
        return np.array(rows).T

    def _told(self) -> tuple[float, float, float]:
        x, y = self.columns["r"], self.columns["z"]
        d_r, d_z = self.mesh.dx, self.mesh.dy
        outer = np.clip((x + d_r / 2) ** 2 - np.maximum(x - d_r / 2, self.radius - SHELL_THICKNESS) ** 2, 0.0, None)
        third = np.minimum(y + d_z / 2, self.height * 2 / 3) - np.maximum(y - d_z / 2, self.height / 3)
        temperature = self.temperature.value
        axis = x < d_r
        return (
            float(np.average(temperature, weights=outer * np.clip(third, 0.0, None))),
            float(np.interp(self.height / 2, y[axis], temperature[axis])),
            float(np.average(temperature, weights=self.volumes)),
        )
