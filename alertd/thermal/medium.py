"""Moist media that freeze."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray


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


#: Slopes that differ by less are equal.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Constants:
    """Slopes and corners by which temperature and heat flow follow from the enthalpy of media, one for each member.

    Enthalpy and the flux variable, the integral of the conductivity over temperature (Kirchhoff 1894), are 0 where the
    last water has frozen, and both are piecewise linear: so is one in the other.

    Parameters
    ----------
    frozen_below : numpy.ndarray
        [°C] Where the last water has frozen; shape (n_members,) or (), like all here.
    freezing_point : numpy.ndarray
        [°C] Where the first water freezes.
    melting : numpy.ndarray
        [J/m3] Enthalpy where the last ice has melted.
    capacity_frozen, capacity_unfrozen : numpy.ndarray
        [J/(m3 K)]
    conductivity_frozen, conductivity_freezing, conductivity_unfrozen : numpy.ndarray
        [W/(m K)] The middle one is the mean over the width of freezing.
    melting_flux : numpy.ndarray
        [W/m] Flux variable where the last ice has melted.
    lowest : float
        [°C] Below it the formulae no longer hold.
    is_orderly : bool
        Whether melting takes more heat, and conducts it less far, than warming does: false where the latent heat is
        small beside what freezing changes.
    """

    frozen_below: NDArray[np.float64]
    freezing_point: NDArray[np.float64]
    melting: NDArray[np.float64]
    capacity_frozen: NDArray[np.float64]
    capacity_unfrozen: NDArray[np.float64]
    conductivity_frozen: NDArray[np.float64]
    conductivity_freezing: NDArray[np.float64]
    conductivity_unfrozen: NDArray[np.float64]
    melting_flux: NDArray[np.float64]
    lowest: float
    is_orderly: bool

    @property
    def width_by_melting(self) -> NDArray[np.float64]:
        """Width of freezing by the enthalpy of melting [K m3/J]."""
        return np.asarray((self.freezing_point - self.frozen_below) / self.melting)

    def enthalpy(self, temperature: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the enthalpy [J/m3] at temperatures [°C], shape (..., n_members)."""
        width = self.freezing_point - self.frozen_below
        frozen = self.capacity_frozen * np.minimum(temperature - self.frozen_below, 0.0)
        freezing = self.melting / width * np.clip(temperature - self.frozen_below, 0.0, width)
        return np.asarray(
            frozen + freezing + self.capacity_unfrozen * np.maximum(temperature - self.freezing_point, 0.0)
        )

    def temperature(self, enthalpy: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the temperature [°C] at enthalpies [J/m3], shape (..., n_members)."""
        frozen = np.minimum(enthalpy, 0.0) / self.capacity_frozen
        freezing = np.clip(enthalpy, 0.0, self.melting) * self.width_by_melting
        unfrozen = np.maximum(enthalpy - self.melting, 0.0) / self.capacity_unfrozen
        return np.asarray(self.frozen_below + frozen + freezing + unfrozen)

    def flux_variable(self, temperature: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the flux variable [W/m] at temperatures [°C], shape (..., n_members)."""
        width = self.freezing_point - self.frozen_below
        frozen = self.conductivity_frozen * np.minimum(temperature - self.frozen_below, 0.0)
        freezing = self.conductivity_freezing * np.clip(temperature - self.frozen_below, 0.0, width)
        return np.asarray(
            frozen + freezing + self.conductivity_unfrozen * np.maximum(temperature - self.freezing_point, 0.0)
        )


def constants_of(media: Medium | Sequence[Medium]) -> Constants:
    """Return the constants of one medium, or of one for each member.

    Parameters
    ----------
    media : Medium or sequence of Medium
        One for all members, or one for each.

    Returns
    -------
    Constants
        Of shape () or (n_members,).

    Raises
    ------
    ValueError
        If the sequence is empty.
    """
    if not isinstance(media, Medium) and not media:
        message = "no medium is given"
        raise ValueError(message)
    names = [field.name for field in fields(Medium)]
    if isinstance(media, Medium):
        values = {name: np.array(getattr(media, name)) for name in names}
    else:
        values = {name: np.array([getattr(medium, name) for medium in media]) for name in names}
    frozen, unfrozen = values["conductivity_frozen"], values["conductivity_unfrozen"]
    width, point = values["freezing_width"], values["freezing_point"]
    capacity_frozen, capacity_unfrozen = values["heat_capacity_frozen"], values["heat_capacity_unfrozen"]
    melting = (capacity_frozen + capacity_unfrozen) / 2.0 * width + values["latent_heat"]
    freezing = (frozen + unfrozen) / 2.0
    # The lines of the frozen and of the unfrozen state cross again in deep cold; below it the scheme, which takes the
    # higher one, no longer holds. Once for the flux variable, once for the temperature.
    depth = np.minimum(
        _crossing(frozen / capacity_frozen, unfrozen / capacity_unfrozen, melting, freezing * width),
        _crossing(1.0 / capacity_frozen, 1.0 / capacity_unfrozen, melting, width),
    )
    slowest = np.minimum(frozen / capacity_frozen, unfrozen / capacity_unfrozen) * (1.0 + _ROUNDING)
    is_slow = freezing * width / melting <= slowest
    is_slow &= np.maximum(capacity_frozen, capacity_unfrozen) <= melting / width * (1.0 + _ROUNDING)
    return Constants(
        frozen_below=np.asarray(point - width),
        freezing_point=np.asarray(point),
        melting=np.asarray(melting),
        capacity_frozen=np.asarray(capacity_frozen),
        capacity_unfrozen=np.asarray(capacity_unfrozen),
        conductivity_frozen=np.asarray(frozen),
        conductivity_freezing=np.asarray(freezing),
        conductivity_unfrozen=np.asarray(unfrozen),
        melting_flux=np.asarray(freezing * width),
        lowest=float(np.max(point - width - depth / capacity_frozen)),
        is_orderly=bool(np.all(is_slow)),
    )


def _crossing(
    frozen: NDArray[np.float64],
    unfrozen: NDArray[np.float64],
    melting: NDArray[np.float64],
    melted: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return how far below 0 in enthalpy two lines cross that rise by slopes and stand at (0, 0), (melting, melted)."""
    steeper = frozen - unfrozen
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(steeper > 0.0, (unfrozen * melting - melted) / steeper, np.inf))
