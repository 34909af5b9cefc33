"""What the wood and the buds of a group will feel: bare, in a wrap, under mulch."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from alertd.site import Protection

from .covers import (
    COVER_PARAMETERS,
    GROUND_PARAMETERS,
    MULCH_PARAMETERS,
    Outside,
    air_under_wrap,
    bounded_gain,
    stems_under_mulch,
)
from .felt import Model, Used, felt_bound, felt_of
from .sky import SKY_PARAMETERS
from .wood import WOOD_PARAMETERS, equivalent_air_temperature, wood_temperature

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from alertd.site import TreeGroup

    from .exposure import Tissue
    from .felt import Felt
    from .forcing import Forcing
    from .parameters import Parameter

    Values = Mapping[str, float]

#: [K] No twig cools further below the air than this, nor does a cover; in a hollow its offset comes on top. Derived: a
#: twig of 10 cm in still clear air loses 6 K.
_DEEPEST = 8.0

#: [K] An own uncertainty of the equations, beside that of their numbers. Assumed.
_WOOD_ERROR, _COVER_ERROR = 0.3, 0.8

#: Resistance of snow [m2 K/W by m]: conductivity by Sturm et al. 1997 at 200 to 250 kg/m3 (coefficients from memory).
_SNOW = 1.0 / 0.09

_COLDER_INSIDE = (
    "By the model it gets colder in the cover than outside: in a calm clear night it radiates to the sky, and a narrow "
    "one has little warm ground below it."
)


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
    bound = forcing.air_temperature[:, ahead] - _DEEPEST + group.place.hollow_offset
    if float(bound.min()) > limit:
        lowest = np.where(forcing.is_known[:, ahead], bound, np.nan)[:, at]
        return felt_bound(model, tissue, times, lowest, forcing.missing)
    parameters = _own(_PARAMETERS[model], group)
    remarks: tuple[str, ...] = ()

    def run(members: NDArray[np.intp], values: Values) -> NDArray[np.float64]:
        return _equivalent(group, model, forcing, members, values)

    temperature, spread, used = _with_sensitivities(run, parameters, forcing, _error_of(model), at)
    medians: dict[str, NDArray[np.float64]] = {}
    air = np.median(forcing.air_temperature[:, ahead][:, at], axis=0)
    if model is not Model.BARE_WOOD:
        medians["gain"] = np.median(temperature[:, at], axis=0) - air
    if model is Model.WRAPPED_WOOD:
        inside = air_under_wrap(group.cover_build, _outside(forcing, np.arange(forcing.n_members)), _values(parameters))
        medians["air"] = np.median(inside[:, ahead][:, at], axis=0)
        coldest = int(np.argmin(medians["air"]))
        remarks = (_COLDER_INSIDE,) if medians["air"][coldest] < air[coldest] else ()
    told = np.where(forcing.is_known[:, ahead], temperature, np.nan)[:, at]
    return felt_of(model, tissue, times, told, spread, used, medians, forcing.missing, remarks)


def _model_of(group: TreeGroup, *, is_in_place: bool) -> Model:
    """Return which model speaks for a group's wood."""
    if is_in_place and group.protection is Protection.WRAP:
        return Model.WRAPPED_WOOD
    if is_in_place and group.protection in {Protection.MULCH_RING, Protection.BEND_AND_MULCH}:
        return Model.MULCHED_STEMS
    return Model.BARE_WOOD


_WOOD = (*SKY_PARAMETERS, *(each for each in WOOD_PARAMETERS if each.name != "diameter"))
_PARAMETERS = {
    Model.BARE_WOOD: _WOOD,
    Model.WRAPPED_WOOD: (*_WOOD, *COVER_PARAMETERS, *GROUND_PARAMETERS),
    Model.MULCHED_STEMS: (
        *MULCH_PARAMETERS,
        *GROUND_PARAMETERS,
        *(p for p in _WOOD if p.name == "reference_undercooling"),
    ),
}


def _error_of(model: Model) -> float:
    return _WOOD_ERROR if model is Model.BARE_WOOD else _COVER_ERROR


def _own(parameters: Sequence[Parameter], group: TreeGroup) -> list[Parameter]:
    """Return parameters with what the group's people measured in their place."""
    measured = group.overrides
    return [each.measured(measured[each.name]) if each.name in measured else each for each in parameters]


def _values(parameters: Sequence[Parameter]) -> dict[str, float]:
    return {each.name: each.value for each in parameters}


def _with_sensitivities(
    run: Callable[[NDArray[np.intp], Values], NDArray[np.float64]],
    parameters: Sequence[Parameter],
    forcing: Forcing,
    error: float,
    at: NDArray[np.intp],
) -> tuple[NDArray[np.float64], NDArray[np.float64], tuple[Used, ...]]:
    """Return temperatures of all members, the model's own uncertainty at the times, and what each number adds to it."""
    base = _values(parameters)
    temperature = run(np.arange(forcing.n_members), base)
    lowest = temperature.min(axis=1)
    middle = np.argsort(lowest)[lowest.size // 2 : lowest.size // 2 + 1]
    place = int(np.argmin(temperature[middle[0]][at]))
    variance = np.full(at.size, error**2)
    used = []
    for parameter in parameters:
        share = 0.0
        if parameter.is_assumed:
            edges = [run(middle, {**base, parameter.name: edge})[0][at] for edge in (parameter.low, parameter.high)]
            half = (edges[1] - edges[0]) / 2.0
            variance += half**2
            share = abs(float(half[place]))
        used.append(Used(parameter, share))
    return temperature, np.sqrt(variance), tuple(used)


def _outside(forcing: Forcing, members: NDArray[np.intp], deviation: float = 0.0) -> Outside:
    """Return what a cover meets, for some members."""
    return Outside(
        forcing.air_temperature[members],
        forcing.sky_temperature[members] + deviation * forcing.sky_spread[members],
        forcing.wind_speed[members],
        forcing.snow[members] * _SNOW,
        forcing.n_before,
    )


def _equivalent(
    group: TreeGroup, model: Model, forcing: Forcing, members: NDArray[np.intp], values: Values
) -> NDArray[np.float64]:
    """Return the equivalent air temperature of the hours ahead, for some members."""
    ahead = slice(forcing.n_before, None)
    reference = values["reference_undercooling"]
    if model is Model.MULCHED_STEMS:
        stems = stems_under_mulch(group.mulch_build, _outside(forcing, members), values)[:, ahead]
        return equivalent_air_temperature(stems, reference_undercooling=reference)
    bare = equivalent_air_temperature(_bare(group, forcing, members, values), reference_undercooling=reference)
    if model is Model.BARE_WOOD:
        return bare
    inside = air_under_wrap(group.cover_build, _outside(forcing, members, values["sky_deviation"]), values)[:, ahead]
    covered = equivalent_air_temperature(inside, reference_undercooling=reference)
    return np.asarray(bare + bounded_gain(group.cover_build, covered - bare))


def _bare(group: TreeGroup, forcing: Forcing, members: NDArray[np.intp], values: Values) -> NDArray[np.float64]:
    """Return the temperature of bare twigs in the hours ahead [°C], for some members."""
    ahead = slice(forcing.n_before, None)
    place = group.place
    # Sun warms by day; what is judged is the cold of the night, so it is left out, on the side of safety.
    return wood_temperature(
        forcing.air_temperature[members, ahead],
        forcing.dew_point[members, ahead],
        forcing.wind_speed[members, ahead],
        forcing.cloud[members, ahead],
        diameter=min(place.branch, 0.02),
        sky_view=min(values["sky_view"], 1.0 - place.wall_view),
        wall_view=place.wall_view,
        wall_warmer_by=place.wall_warmer_by,
        wind_share=values["wind_share"],
        hollow_offset=place.hollow_offset,
        calm_wind_speed=values["calm_wind_speed"],
        ground_colder_by=values["ground_colder_by"],
        emissivity=values["emissivity"],
        deposition_share=values["deposition_share"],
        sky_deviation=values["sky_deviation"],
    )
