"""How wraps are built, and what they are credited with."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.site import CoverBuild, CoverFill, CoverMaterial

from .ground import GROUND_PARAMETERS
from .parameters import Parameter

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: Thermal resistance of what wraps are made of [m2 K/W], films left out. Assumed: a tarp has none; a blanket of some
#: 9 mm of still air under it; thin cloth; two layers of film with small bubbles.
COVER_RESISTANCES: dict[CoverMaterial, float] = {
    CoverMaterial.TARP: 0.0,
    CoverMaterial.BLANKET_AND_TARP: 0.22,
    CoverMaterial.FROST_CLOTH: 0.05,
    CoverMaterial.BUBBLE_WRAP: 0.17,
}

#: Conductivity of what wraps are filled with [W/(m K)]. Source: as of loose straw, from memory.
FILL_CONDUCTIVITIES: dict[CoverFill, float] = {CoverFill.DRY_LEAVES: 0.055, CoverFill.STRAW: 0.055}

#: Air changes an hour without wind [1/h]: closed at the ground, and open. Assumed.
CLOSED_AIR_CHANGES, OPEN_AIR_CHANGES = 1.0, 10.0

#: By how much a wind of 1 m/s multiplies the air changes, beside 1 [s/m]. Assumed.
WIND_SHARE_OF_AIR_CHANGES = 0.3

#: Heat that an air change an hour of a cubic metre carries [W/(m3 K)] per 1/h. Source: 1.23 kg/m3 times
#: 1006 J/(kg K) / 3600 s.
AIR_CHANGE_HEAT = 0.34

#: Most that a wrap is credited with unless somebody has measured it [K]: 5 °F, or 10 °F with a wide skirt or a fill.
#: Source: what growers go by (common practice, no source).
USUAL_GAIN_LIMIT, GENEROUS_GAIN_LIMIT = 2.8, 5.6

#: A skirt from this on is a wide one [m]. Assumed.
WIDE_SKIRT = 0.5

#: Hours before and after the coldest one among which its night is looked for [1]. By the length of a day.
NIGHT_REACH = 12

#: Share of the range of the air in that time which is cold enough to matter [1]. Assumed.
NIGHT_SHARE = 0.4

COVER_PARAMETERS = (
    Parameter(
        name="cover_resistance_factor",
        value=1.0,
        low=0.6,
        high=1.5,
        unit="1",
        meaning="how well the cloth keeps heat in, by what is usual for its material",
        provenance="assumed",
    ),
    Parameter(
        name="air_changes_factor",
        value=1.0,
        low=0.4,
        high=2.5,
        unit="1",
        meaning="how often the air in the wrap is changed, by once an hour if closed and ten times if open",
        provenance="assumed",
    ),
    Parameter(
        name="inside_film",
        value=7.0,
        low=4.0,
        high=9.0,
        unit="W/(m2.K)",
        meaning="how readily the air in the wrap takes heat from ground and cloth",
        provenance="assumed",
    ),
    Parameter(
        name="fill_thickness",
        value=0.25,
        low=0.15,
        high=0.35,
        unit="m",
        meaning="how thick the fill between cloth and wood is",
        provenance="assumed",
    ),
    *GROUND_PARAMETERS,
)


@dataclass(frozen=True, slots=True)
class Envelope:
    """The form of a wrap: a column, spread to the foot by its skirt.

    Parameters
    ----------
    ground, cloth : float
        [m2] Area of covered ground, and of walls and top.
    volume : float
        [m3]
    """

    ground: float
    cloth: float
    volume: float


def envelope_of(cover: CoverBuild) -> Envelope:
    """Return the form of a wrap: a truncated cone as wide at the foot as its skirt reaches."""
    upper = cover.diameter / 2.0
    lower = upper + cover.skirt
    side = math.pi * (upper + lower) * math.hypot(cover.height, cover.skirt)
    return Envelope(
        ground=math.pi * lower**2,
        cloth=side + math.pi * upper**2,
        volume=math.pi * cover.height / 3.0 * (upper**2 + upper * lower + lower**2),
    )


def gain_limit(cover: CoverBuild) -> float:
    """Return the most that a wrap is credited with [K], unless somebody has measured it."""
    is_generous = cover.skirt >= WIDE_SKIRT or cover.fill is not None
    return GENEROUS_GAIN_LIMIT if is_generous else USUAL_GAIN_LIMIT


def bounded_gain(gain: NDArray[np.float64], cover: CoverBuild) -> NDArray[np.float64]:
    """Return what a wrap is credited with.

    Parameters
    ----------
    gain : numpy.ndarray
        [K] How much warmer than the bare wood would be it is inside, after the model.
    cover : CoverBuild
        How it is built, or what it was measured to do.

    Returns
    -------
    numpy.ndarray
        [K] Of the same shape; exactly what was measured, if so; else never above what growers go by. What is below 0
        stays so.
    """
    if cover.measured_gain is not None:
        return np.full_like(gain, cover.measured_gain)
    return np.minimum(gain, gain_limit(cover))


def coldest_night(air_temperature: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which hours belong to the coldest night of each member.

    Parameters
    ----------
    air_temperature : numpy.ndarray
        [°C] shape (n_members, n_times).

    Returns
    -------
    numpy.ndarray
        Same shape: the hours within half a day of the coldest one that are in the lower `NIGHT_SHARE` of what the air
        ranges over then. So cold that comes by day counts, too, and the mild hours before and after do not.
    """
    hours = np.arange(air_temperature.shape[1])
    is_near = np.abs(hours - air_temperature.argmin(axis=1)[:, None]) <= NIGHT_REACH
    warmest = np.where(is_near, air_temperature, -np.inf).max(axis=1)
    lowest = air_temperature.min(axis=1)
    highest = lowest + NIGHT_SHARE * (warmest - lowest)
    return np.asarray(is_near & (air_temperature <= highest[:, None]))


def is_colder_inside(
    inside: NDArray[np.float64], outside: NDArray[np.float64], air_temperature: NDArray[np.float64]
) -> bool:
    """Return whether a cover harms in any hour of the coldest night outside or inside, for half of the members or more.

    Parameters
    ----------
    inside, outside : numpy.ndarray
        [°C] What is compared, shape (n_members, n_times).
    air_temperature : numpy.ndarray
        [°C] That says which night is the coldest.

    Returns
    -------
    bool
    """
    is_night = coldest_night(air_temperature) | coldest_night(inside)
    is_colder = ((inside < outside) & is_night).any(axis=1)
    return float(is_colder.mean()) >= 0.5  # noqa: PLR2004
