"""What the wood and the buds of a group will feel: bare, in a wrap, under mulch."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from alertd.site import Protection

from .cover import COVER_PARAMETERS, bounded_gain
from .covered import Covered, in_mulch, in_wrap, outside_of, sky_share_of, why_harmed
from .felt import DRAWS, Model, Used, felt_bound, felt_of
from .mulch import MULCH_PARAMETERS
from .sky import SKY_PARAMETERS
from .variation import decisive_of, spread_between, variations_of, varied_members
from .wood import WOOD_PARAMETERS, equivalent_air_temperature, wood_temperature

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping, Sequence

    from numpy.typing import NDArray

    from alertd.site import TreeGroup

    from .exposure import Tissue
    from .felt import Felt
    from .forcing import Forcing
    from .parameters import Parameter

    Values = Mapping[str, NDArray[np.float64]]

#: [K] No twig cools further below the air than the first, nor does a wrap; and no mulch below any air of the week
#: before than the second; in a hollow its offset comes on top. Derived: a twig of 10 cm in still clear air loses 6 K,
#: ground that sees nothing but a sky 25 K colder than the air 13 K.
_DEEPEST, _DEEPEST_GROUND = 8.0, 14.0

#: [K] How much colder than what its cover has met covered wood is put at most, for what nobody measured; and the part
#: of the realizations, in percent, that need not stay above a limit for it to be left uncomputed. Assumed.
_COVERED_ROOM, _UNLIKELY = 1.5, 4.0

#: [1] How many spreads the coldest draw lies below the middle one; so far down no wood in mulch is put below the cold
#: that reached it. By the normal distribution.
_LOWEST_DRAW = -NormalDist().inv_cdf(0.5 / DRAWS)

#: Hours whose cold mulch can still have [1]: as many as are computed before the forecast. Assumed.
_REMEMBERED = 168

#: [K] An own uncertainty of the equations, beside that of their numbers. Assumed.
_WOOD_ERROR, _COVER_ERROR = 0.3, 0.8


def wood_felt(
    group: TreeGroup,
    tissue: Tissue,
    forcing: Forcing,
    times: NDArray[np.datetime64],
    *,
    limit: float,
    is_in_place: bool,
) -> Felt | None:
    """Return what wood or buds will feel, as the air temperature that would chill them as much on an ordinary night.

    Parameters
    ----------
    group : TreeGroup
        How it stands, and how its protection is built.
    tissue : Tissue
        Wood or growth.
    forcing : Forcing
        Weather, the days before included.
    times : numpy.ndarray
        Those of the forecast, ``datetime64[s]``, UTC.
    limit : float
        [°C] What stays above it need not be known exactly.
    is_in_place : bool
        Whether its protection is in place.

    Returns
    -------
    Felt or None
        ``None`` where no source tells of wind or cloud: then nothing is known beside the air.
    """
    if {"wind_speed", "cloud_area_fraction"} <= set(forcing.missing):
        return None
    model = _model_of(group, is_in_place=is_in_place)
    ahead = slice(forcing.n_before, None)
    at = np.clip((times - forcing.times[forcing.n_before]) // np.timedelta64(3600, "s"), 0, None).astype(np.intp)
    bound = _bound(group, model, forcing)
    if float(bound.min()) > limit:
        lowest = np.where(forcing.is_known[:, ahead], bound, np.nan)[:, at]
        return felt_bound(model, tissue, times, lowest, forcing.missing)
    parameters = _parameters(model, group)
    if model is not Model.BARE_WOOD:
        bound = _covered_bound(group, forcing, parameters)
        if float(np.percentile(bound.min(axis=1), _UNLIKELY)) > limit:
            lowest = np.where(forcing.is_known[:, ahead], bound, np.nan)[:, at]
            return felt_bound(model, tissue, times, lowest, forcing.missing)
    assumed = [each for each in parameters if each.is_assumed]
    n, air = forcing.n_members, forcing.air_temperature[:, ahead]
    varied = varied_members(air)
    members = np.concatenate([np.arange(n), np.repeat(varied, 2 * len(assumed))]).astype(np.intp)
    values = _values(parameters, members.size, n, len(varied))
    temperature, covered, remarks = _computed(group, model, forcing, members, values)
    variations = variations_of(temperature[:, at], n, varied, _WOOD_ERROR if covered is None else _COVER_ERROR)
    decisive = decisive_of(variations)
    shares = {each.name: abs(float(decisive.halves[row, decisive.coldest])) for row, each in enumerate(assumed)}
    used = tuple(Used(each, shares.get(each.name, 0.0)) for each in parameters)
    medians: dict[str, NDArray[np.float64]] = {}
    if covered is not None:
        medians["gain"] = np.median(temperature[:n, at], axis=0) - np.median(air[:, at], axis=0)
        if model is Model.WRAPPED_WOOD:
            medians["air"] = np.median(covered.temperature[:n, at], axis=0)
    told = np.where(forcing.is_known[:, ahead], temperature[:n], np.nan)[:, at]
    spread = spread_between(temperature[:n, at], variations)
    if covered is not None and covered.floor is not None:
        room = (covered.temperature - covered.floor)[:n, at] / _LOWEST_DRAW
        spread = np.minimum(spread, np.maximum(room, _COVER_ERROR))
    felt = felt_of(model, tissue, times, told, spread, used, medians, forcing.missing, remarks)
    return replace(felt, spread=min(float(decisive.spread[decisive.coldest]), float(spread.max(initial=0.0))))


def bare_wood_of(group: TreeGroup, *, is_in_place: bool) -> Hashable | None:
    """Return what the temperature of a group's bare twigs depends on beside the weather.

    Parameters
    ----------
    group : TreeGroup
        How it stands.
    is_in_place : bool
        Whether its protection is in place.

    Returns
    -------
    hashable or None
        The same for groups whose twigs are of one temperature; ``None`` under a cover.
    """
    model = _model_of(group, is_in_place=is_in_place)
    if model is not Model.BARE_WOOD:
        return None
    return group.place, tuple(_parameters(model, group))


def _model_of(group: TreeGroup, *, is_in_place: bool) -> Model:
    """Return which model speaks for a group's wood."""
    if is_in_place and group.protection is Protection.WRAP:
        return Model.WRAPPED_WOOD
    if is_in_place and group.protection in {Protection.MULCH_RING, Protection.BEND_AND_MULCH}:
        return Model.MULCHED_STEMS
    return Model.BARE_WOOD


_WOOD = (*SKY_PARAMETERS, *(each for each in WOOD_PARAMETERS if each.name != "diameter"))

#: Of the weather round a cover and of what thresholds mean, beside the numbers of the cover itself.
_ROUND_MULCH = ("sky_deviation", "wind_share", "calm_wind_speed", "reference_undercooling")

#: What models go by where a number does not matter for a group.
_USUAL = {each.name: each for each in (*_WOOD, *COVER_PARAMETERS, *MULCH_PARAMETERS)}

#: Of the ground, and of snow that lies on it: a ring stands above both.
_GROUND = ("soil_conductivity_factor", "deep_ground_temperature", "snow_density")


def _parameters(model: Model, group: TreeGroup) -> list[Parameter]:
    """Return the numbers that matter for a group, with what its people measured in their place."""
    found = {each.name: each for each in _WOOD}
    without: set[str] = set()
    if model is Model.WRAPPED_WOOD and group.cover_build.measured_gain is None:
        found |= {each.name: each for each in COVER_PARAMETERS}
        without = set() if group.cover_build.fill is not None else {"fill_thickness"}
    elif model is Model.MULCHED_STEMS:
        found = {name: found[name] for name in _ROUND_MULCH} | {each.name: each for each in MULCH_PARAMETERS}
        without = set(_GROUND) if group.protection is Protection.MULCH_RING else set()
        without |= set() if group.place.hollow_offset else {"calm_wind_speed"}
    own = group.overrides
    kept = [each for each in found.values() if each.name not in without]
    return [each.measured(own[each.name]) if each.name in own else each for each in kept]


def _values(
    parameters: Sequence[Parameter], n_members: int, n_realizations: int, n_varied: int
) -> dict[str, NDArray[np.float64]]:
    """Return the numbers of each member by name.

    After the realizations, and for each of those that are varied, come members that have one assumed number each at
    its lower edge and then at its upper one, in the order given.
    """
    known = _USUAL | {each.name: each for each in parameters}
    values = {name: np.full(n_members, each.value) for name, each in known.items()}
    edges = [(each.name, edge) for each in parameters if each.is_assumed for edge in (each.low, each.high)] * n_varied
    for place, (name, edge) in enumerate(edges, start=n_realizations):
        values[name][place] = edge
    return values


def _bound(group: TreeGroup, model: Model, forcing: Forcing) -> NDArray[np.float64]:
    """Return what wood cannot get colder than in the hours ahead [°C]."""
    if model is not Model.MULCHED_STEMS:
        return forcing.air_temperature[:, forcing.n_before :] - _DEEPEST + group.place.hollow_offset
    first = max(forcing.n_before - _REMEMBERED, 0)
    met = np.minimum.accumulate(forcing.air_temperature[:, first:], axis=1)
    return np.asarray(met[:, forcing.n_before - first :] - _DEEPEST_GROUND + group.place.hollow_offset)


def _covered_bound(group: TreeGroup, forcing: Forcing, parameters: Sequence[Parameter]) -> NDArray[np.float64]:
    """Return what covered wood cannot get colder than in the hours ahead [°C]: what its cover met, with some room."""
    n, first = forcing.n_members, max(forcing.n_before - _REMEMBERED, 0)
    values = _values(parameters, n, n, 0)
    film = outside_of(group, forcing, np.arange(n), values, sky_share=sky_share_of(group)).film
    met = np.minimum.accumulate(film.temperature[:, first:], axis=1)[:, forcing.n_before - first :]
    reference = values["reference_undercooling"][:, None]
    return equivalent_air_temperature(met, reference_undercooling=reference) - _COVERED_ROOM


def _computed(
    group: TreeGroup, model: Model, forcing: Forcing, members: NDArray[np.intp], values: Values
) -> tuple[NDArray[np.float64], Covered | None, tuple[str, ...]]:
    """Return the equivalent air temperature of all members, the wood under its cover, and what is to be said of it."""
    n, reference = forcing.n_members, values["reference_undercooling"][:, None]

    def equivalent(wood: NDArray[np.float64]) -> NDArray[np.float64]:
        return equivalent_air_temperature(wood, reference_undercooling=reference[: len(wood)])

    if model is Model.MULCHED_STEMS:
        covered = in_mulch(group, forcing, members, values)
        bare = _bare(group, forcing, members[:n], values)
        return equivalent(covered.temperature), covered, _remarks(group, covered, bare)
    bare = _bare(group, forcing, members, values)
    if model is Model.BARE_WOOD:
        return equivalent(bare), None, ()
    measured = group.cover_build.measured_gain
    if measured is not None:
        air = forcing.air_temperature[:, forcing.n_before :][members]
        covered = Covered(air + measured, air)
    else:
        covered = in_wrap(group, forcing, members, values)
    credited = bare + bounded_gain(covered.temperature - bare, group.cover_build)
    return equivalent(credited), covered, _remarks(group, covered, bare[:n])


def _remarks(group: TreeGroup, covered: Covered, bare: NDArray[np.float64]) -> tuple[str, ...]:
    """Return what people must know of a cover, by the realizations and not the varied ones."""
    n = len(bare)
    why = why_harmed(group, Covered(covered.temperature[:n], covered.air_temperature[:n]), bare)
    return () if why is None else (why,)


def _bare(group: TreeGroup, forcing: Forcing, members: NDArray[np.intp], values: Values) -> NDArray[np.float64]:
    """Return the temperature of bare twigs in the hours ahead [°C], for some members."""
    place = group.place

    def ahead(field: NDArray[np.float64]) -> NDArray[np.float64]:
        return field[:, forcing.n_before :][members]

    def number(name: str) -> NDArray[np.float64]:
        return values[name][: members.size, None]

    # Sun warms by day; what is judged is the cold of the night, so it is left out, on the side of safety.
    return wood_temperature(
        ahead(forcing.air_temperature),
        ahead(forcing.dew_point),
        ahead(forcing.wind_speed),
        ahead(forcing.cloud),
        diameter=min(place.branch, 0.02),
        sky_view=np.minimum(number("sky_view"), 1.0 - place.wall_view),
        wall_view=place.wall_view,
        wall_warmer_by=place.wall_warmer_by,
        wind_share=number("wind_share"),
        hollow_offset=place.hollow_offset,
        calm_wind_speed=number("calm_wind_speed"),
        ground_colder_by=number("ground_colder_by"),
        emissivity=number("emissivity"),
        deposition_share=number("deposition_share"),
        sky_deviation=number("sky_deviation"),
    )
