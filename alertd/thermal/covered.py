"""Wood under a wrap or in mulch, in the weather of its place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.site import Protection

from .air import ZERO_CELSIUS
from .cover import is_colder_inside
from .film import Film
from .ground import first_days, first_solved
from .mulch import GroundWeather, medium_of_mulch, stem_under_mulch
from .ring import stem_in_ring
from .sky import STEFAN_BOLTZMANN
from .wrap import CoverWeather, under_wrap, why_colder

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from alertd.site import TreeGroup

    from .forcing import Forcing

    Values = Mapping[str, NDArray[np.float64]]

#: Convection at covers and ground [W/(m2 K)]: in still air, and more for each m/s of wind there. From memory, a linear
#: rule for surfaces of buildings.
_STILL, _BY_WIND = 4.0, 3.5

#: Emissivity of covers, mulch and snow [1]. Assumed: of most that does not shine.
_EMISSIVITY = 0.95

#: Share of what it sees that is sky [1]: an upright wall sees half sky, the ground nothing else.
_WALL_SKY, _GROUND_SKY = 0.5, 1.0

#: Share of the sun without shade that a cover takes up [1]. Assumed: 0.7 of the 0.4 that reaches pots beside a house.
_SUN_TAKEN = 0.28

#: [m] Of snow that hides mulch from the sun, and the share [1] of it that such snow takes by what mulch does. Assumed;
#: new snow reflects 0.8 (from memory).
_WHITE, _SNOW_TAKES = 0.02, 0.3

COLDER_THAN_BARE = (
    "Under this cover the wood gets colder than it would bare: it keeps off the air and any warm wall, which warm bare "
    "wood on such a night."
)

COLDER_AS_MEASURED = "By your own measurement it is colder in this cover than outside."

COLDER_IN_MULCH = (
    "In this mulch the wood gets colder than it would bare: broad mulch radiates more to the sky than twigs do, keeps "
    "the cold of the days before, and here too little warmth of the ground comes through it."
)


@dataclass(frozen=True, slots=True)
class Covered:
    """Wood under a cover in the hours ahead.

    Parameters
    ----------
    temperature : numpy.ndarray
        [°C] At the end of each hour, shape (n_members, n_times).
    air_temperature : numpy.ndarray
        [°C] Outside, at the place, in these hours.
    floor : numpy.ndarray or None
        [°C] The coldest that mulch has met so far: no wood in it is colder. ``None`` for a wrap.
    """

    temperature: NDArray[np.float64]
    air_temperature: NDArray[np.float64]
    floor: NDArray[np.float64] | None = None


@dataclass(frozen=True, slots=True)
class Outside:
    """Weather at the place of a cover, the days before in front, shape (n_members, n_times) each.

    Parameters
    ----------
    air_temperature : numpy.ndarray
        [°C] That of a hollow, where the trees stand in one.
    film : Film
        Air, sky and a warm wall, as the cover meets them; the sun makes up for what the sky takes, but warms no
        further, on the side of safety.
    wind_speed : numpy.ndarray
        [m/s] At the cover.
    """

    air_temperature: NDArray[np.float64]
    film: Film
    wind_speed: NDArray[np.float64]


def in_wrap(group: TreeGroup, forcing: Forcing, members: NDArray[np.intp], values: Values) -> Covered:
    """Return the air in a wrap, and so the wood in it.

    Parameters
    ----------
    group : TreeGroup
        How its wrap is built, and its place.
    forcing : Forcing
        Weather, the days before included.
    members : numpy.ndarray
        Which realization each member has.
    values : mapping of str to numpy.ndarray
        Numbers by name, shape (n_members,): `COVER_PARAMETERS` and those of sky, wind and hollow.

    Returns
    -------
    Covered
    """
    outside = outside_of(group, forcing, members, values, sky_share=sky_share_of(group))
    air, ahead = outside.air_temperature, slice(forcing.n_before, None)
    weather = CoverWeather(
        air, outside.film.temperature, outside.film.conductance, outside.wind_speed, forcing.n_before
    )
    inside = under_wrap(
        weather,
        group.cover_build,
        cover_resistance_factor=values["cover_resistance_factor"],
        air_changes_factor=values["air_changes_factor"],
        inside_film=values["inside_film"],
        fill_thickness=values["fill_thickness"],
        soil_conductivity_factor=values["soil_conductivity_factor"],
        deep_ground_temperature=values["deep_ground_temperature"],
    ).inside
    return Covered(inside, air[:, ahead])


def in_mulch(group: TreeGroup, forcing: Forcing, members: NDArray[np.intp], values: Values) -> Covered:
    """Return the temperature of wood in mulch: of stems that stand in a ring of it, or lie under it on the ground.

    Parameters
    ----------
    group, forcing, members
        As `in_wrap` has them.
    values : mapping of str to numpy.ndarray
        Numbers by name, shape (n_members,): `MULCH_PARAMETERS` and those of sky, wind and hollow.

    Returns
    -------
    Covered
        Standing stems far enough above the ground to have nothing of its warmth, for those are worst off.
    """
    is_ring = group.protection is Protection.MULCH_RING
    outside = outside_of(group, forcing, members, values, sky_share=sky_share_of(group))
    air, past, mulch = outside.air_temperature, forcing.n_before, group.mulch_build
    if is_ring:
        first = first_solved(past)
        stems = stem_in_ring(
            Film(outside.film.temperature[:, first:], outside.film.conductance[:, first:]),
            medium_of_mulch(mulch),
            mulch.depth,
            first_days(outside.film.temperature, past).mean(axis=1),
            conductivity_factor=values["mulch_conductivity_factor"],
            past=past - first,
        )
    else:
        weather = GroundWeather(air, outside.film.temperature, outside.film.conductance, forcing.snow[members], past)
        stems = stem_under_mulch(
            weather,
            mulch,
            mulch_conductivity_factor=values["mulch_conductivity_factor"],
            soil_conductivity_factor=values["soil_conductivity_factor"],
            deep_ground_temperature=values["deep_ground_temperature"],
            snow_density=values["snow_density"],
        )
    return Covered(stems, air[:, past:], np.minimum.accumulate(outside.film.temperature, axis=1)[:, past:])


def sky_share_of(group: TreeGroup) -> float:
    """Return how much of what a group's cover sees in the open is sky [1]."""
    return _GROUND_SKY if group.protection is Protection.BEND_AND_MULCH else _WALL_SKY


def outside_of(
    group: TreeGroup, forcing: Forcing, members: NDArray[np.intp], values: Values, *, sky_share: float
) -> Outside:
    """Return the weather that a cover meets.

    Parameters
    ----------
    group, forcing, members, values
        As `in_wrap` has them.
    sky_share : float
        [1] Of what the cover sees in the open.

    Returns
    -------
    Outside
    """

    def number(name: str) -> NDArray[np.float64]:
        return values[name][:, None]

    place, forecast = group.place, forcing.wind_speed[members]
    calm = (1.0 - forcing.cloud[members]) * np.exp(-forecast / number("calm_wind_speed"))
    air = forcing.air_temperature[members] + place.hollow_offset * calm
    sky = forcing.sky_temperature[members] + number("sky_deviation") * forcing.sky_spread[members]
    wind = number("wind_share") * forecast
    radiative = 4.0 * _EMISSIVITY * STEFAN_BOLTZMANN * (air + ZERO_CELSIUS) ** 3
    total = _STILL + _BY_WIND * wind + radiative
    open_sky = min(sky_share, 1.0 - place.wall_view)
    lost = open_sky * radiative * np.maximum(air - sky, 0.0)
    sun = forcing.sun.wall if sky_share < _GROUND_SKY else forcing.sun.top * _not_white(forcing.snow)
    net = np.minimum(_SUN_TAKEN * sun[members] - lost, 0.0) + radiative * place.wall_view * place.wall_warmer_by
    return Outside(air, Film(air + net / total, total), wind)


def _not_white(snow: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what mulch takes of the sun under snow [m], by what it does without [1]."""
    return np.asarray(1.0 - np.clip(snow / _WHITE, 0.0, 1.0) * (1.0 - _SNOW_TAKES))


def why_harmed(group: TreeGroup, covered: Covered, bare: NDArray[np.float64]) -> str | None:
    """Return why a cover makes wood colder, if it does in the coldest night of at least half of the members.

    Parameters
    ----------
    group : TreeGroup
        How it is covered.
    covered : Covered
        Its wood.
    bare : numpy.ndarray
        [°C] What bare wood would feel, shape (n_members, n_times).

    Returns
    -------
    str or None
        A sentence for people.
    """
    air, inside = covered.air_temperature, covered.temperature
    if group.protection is not Protection.WRAP:
        # Mulch is late: what counts is how cold it gets in all, not that it is still cold when the air is warm again.
        lowest, otherwise = inside.min(axis=1, keepdims=True), bare.min(axis=1, keepdims=True)
        return COLDER_IN_MULCH if is_colder_inside(lowest, otherwise, otherwise) else None
    measured = group.cover_build.measured_gain
    if measured is not None:
        return COLDER_AS_MEASURED if measured < 0.0 else None
    return why_colder(inside, air) or (COLDER_THAN_BARE if is_colder_inside(inside, bare, air) else None)
