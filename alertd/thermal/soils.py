"""What garden ground is of, and how warm it is with depth when nobody has followed the days before."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np

from .medium import Medium

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

_YEAR = 365.25


class Soil(StrEnum):
    """What the ground is of, moist as in winter."""

    LOAM = "loam"
    SAND = "sand"
    CLAY = "clay"
    GARDEN_SOIL = "garden_soil"


@dataclass(frozen=True, slots=True)
class SoilPreset:
    """One kind of ground.

    Parameters
    ----------
    medium : Medium
        As it conducts, stores heat and freezes.
    provenance : str
        Where the numbers come from.
    """

    medium: Medium
    provenance: str


_TABLE = "Moene & van Dam 2014, Transport in the Atmosphere-Vegetation-Soil Continuum, table 2.2 (seen)"

#: Grounds by kind. Frozen values are assumed throughout: water that freezes gives up 2.3 MJ/(m3 K) of heat capacity and
#: 334 MJ/m3 of latent heat, and the frozen ground conducts 1.2 to 1.5 times as well.
SOILS: Mapping[Soil, SoilPreset] = {
    Soil.LOAM: SoilPreset(Medium(1.2, 1.8, 2.4e6, 2.0e6, 6.0e7), "assumed, in the range of moist loam (from memory)"),
    Soil.SAND: SoilPreset(
        Medium(2.1, 2.6, 2.12e6, 1.7e6, 6.1e7), f"unfrozen with 0.2 m3/m3 of water: {_TABLE}; frozen: assumed"
    ),
    Soil.CLAY: SoilPreset(
        Medium(1.15, 1.6, 2.69e6, 2.34e6, 5.0e7),
        f"unfrozen between 0.2 and 0.4 m3/m3 of water: {_TABLE}; frozen, half of the water: assumed",
    ),
    Soil.GARDEN_SOIL: SoilPreset(Medium(0.9, 1.3, 2.4e6, 1.9e6, 7.0e7), "assumed: loam with much humus, moist"),
}


def yearly_profile(
    depths: NDArray[np.float64],
    days_since_coldest: float,
    *,
    mean: float,
    amplitude: float,
    medium: Medium,
) -> NDArray[np.float64]:
    """Return how warm the ground is by the wave of the year.

    Parameters
    ----------
    depths : numpy.ndarray
        [m] Below the surface, shape (n_depths,); above it the surface.
    days_since_coldest : float
        [d] Since the surface is coldest in a usual year; below 0 before.
    mean : float
        [°C] Of the surface over the year, about that of the air.
    amplitude : float
        [K] Half of the difference between its warmest and coldest month, at least 0.
    medium : Medium
        Of the ground; as unfrozen.

    Returns
    -------
    numpy.ndarray
        [°C] shape (n_depths,).

    Raises
    ------
    ValueError
        If the amplitude is below 0 or a number is not finite.

    Notes
    -----
    T = mean - amplitude exp(-z/d) cos(w t - z/d), d = sqrt(2 a / w) (Carslaw & Jaeger 1959, section 2.6, from memory).
    Freezing, which slows the wave, and snow are left out.
    """
    numbers = (days_since_coldest, mean, amplitude)
    if not all(math.isfinite(each) for each in numbers) or amplitude < 0.0 or not np.isfinite(depths).all():
        message = f"no wave of a year: {days_since_coldest} days, mean {mean} °C, amplitude {amplitude} K"
        raise ValueError(message)
    pulsation = 2.0 * math.pi / (_YEAR * 86400.0)
    diffusivity = medium.conductivity_unfrozen / medium.heat_capacity_unfrozen
    phase = np.maximum(depths, 0.0) / math.sqrt(2.0 * diffusivity / pulsation)
    now = pulsation * 86400.0 * days_since_coldest
    return np.asarray(mean - amplitude * np.exp(-phase) * np.cos(now - phase))


def measured_profile(
    depths: NDArray[np.float64],
    measured_depths: NDArray[np.float64],
    measured: NDArray[np.float64],
    background: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return how warm the ground is where some depths of it are known.

    Parameters
    ----------
    depths : numpy.ndarray
        [m] That are wanted, shape (n_depths,).
    measured_depths : numpy.ndarray
        [m] Of what is known, downwards, shape (n_known,).
    measured : numpy.ndarray
        [°C] What is known, by a thermometer or a source's own soil, shape (n_known, n_members); NaN where it is not.
    background : numpy.ndarray
        [°C] What is taken otherwise, at the depths that are wanted, shape (n_depths, n_members).

    Returns
    -------
    numpy.ndarray
        [°C] shape (n_depths, n_members): the background, moved to pass through what is known. Beyond the deepest known
        the difference fades to a third with every half metre (assumed); above the first it stays.

    Raises
    ------
    ValueError
        If shapes do not fit or the known depths do not go downwards.
    """
    if measured.shape != (measured_depths.size, background.shape[1]) or background.shape[0] != depths.size:
        message = f"soil of {measured.shape} at {measured_depths.size} depths, for {background.shape} of {depths.size}"
        raise ValueError(message)
    if (np.diff(measured_depths) <= 0.0).any():
        message = f"depths of soil temperatures do not go downwards: {measured_depths} m"
        raise ValueError(message)
    result = background.copy()
    for member in range(background.shape[1]):
        known = np.isfinite(measured[:, member])
        if known.any():
            at = measured_depths[known]
            away = measured[known, member] - np.interp(at, depths, background[:, member])
            fading = np.exp(-np.maximum(depths - at[-1], 0.0) / 0.5)
            result[:, member] += np.interp(depths, at, away) * fading
    return result
