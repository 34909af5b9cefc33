"""Moist media that freeze."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Medium:
    """A moist medium with piecewise linear enthalpy: frozen, freezing over a width of temperature, unfrozen.

    Parameters
    ----------
    conductivity_unfrozen, conductivity_frozen : float
        [W/(m K)] Between them linear in the liquid fraction.
    heat_capacity_unfrozen, heat_capacity_frozen : float
        [J/(m3 K)] By volume.
    latent_heat : float
        [J/m3] Of the water that freezes; 0 for a medium that does not.
    freezing_point : float
        [°C] At it the first water freezes. Assumed: -0.1 °C.
    freezing_width : float
        [K] Over which the water freezes. Assumed: 0.6 K; 0.3 to 2.0 K move the coldest shell of a pot by
        -0.2 to +0.15 K (measured with a prototype).

    Raises
    ------
    ValueError
        If a value is not finite, a conductivity, heat capacity or the width is not above 0, or the latent heat is
        below 0.
    """

    conductivity_unfrozen: float
    conductivity_frozen: float
    heat_capacity_unfrozen: float
    heat_capacity_frozen: float
    latent_heat: float
    freezing_point: float = -0.1
    freezing_width: float = 0.6

    def __post_init__(self) -> None:
        """Refuse what is no medium."""
        positive = (
            self.conductivity_unfrozen,
            self.conductivity_frozen,
            self.heat_capacity_unfrozen,
            self.heat_capacity_frozen,
            self.freezing_width,
        )
        everything = (*positive, self.latent_heat, self.freezing_point)
        if not all(math.isfinite(value) for value in everything) or min(positive) <= 0.0 or self.latent_heat < 0.0:
            message = f"no medium: {self}"
            raise ValueError(message)
