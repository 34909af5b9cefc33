"""What the roots in a group's pots will feel."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from .container import solve_root_zone, uniform_state
from .exposure import Tissue
from .felt import Model, Used, felt_bound, felt_of
from .pots import medium_of
from .sun import SolarLoad
from .surroundings import surroundings_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from .container import Surroundings
    from .felt import Felt
    from .forcing import Forcing
    from .medium import Medium
    from .pots import Pot
    from .root_zone import RootZone

#: [K] An own uncertainty of the equations, beside that of their numbers. Assumed: no measured pot was found.
MODEL_ERROR = 0.5


def roots_felt(
    pot: Pot, forcing: Forcing, times: NDArray[np.datetime64], *, limit: float, critical: float, share: float
) -> Felt:
    """Return what the roots in pots will feel.

    Parameters
    ----------
    pot : Pot
        One of the group.
    forcing : Forcing
        Weather, the days before included.
    times : numpy.ndarray
        Those of the forecast, ``datetime64[s]``, UTC.
    limit : float
        [°C] What stays above it need not be known exactly.
    critical : float
        [°C] Below it roots die; for the share of the volume and the hours below it.
    share : float
        0 to 1, part of the root ball that may be lost before it counts.

    Returns
    -------
    Felt
        The temperature below which that part of the root ball's volume lies.
    """
    base = {name: np.asarray(parameter.value) for name, parameter in pot.parameters.items()}
    around = surroundings_of(pot, forcing, base)
    bound = _bound(around, _start(forcing))
    at = hours_of(times, forcing)
    if float(bound.min()) > limit:
        lowest = np.where(forcing.is_known, bound, np.nan)[:, at]
        return felt_bound(Model.ROOT_BALL, Tissue.ROOTS, times, lowest, forcing.missing)
    middle = middle_member(forcing)
    assumed = [parameter for parameter in pot.parameters.values() if parameter.is_assumed]
    runs = [(parameter, edge) for parameter in assumed for edge in (parameter.low, parameter.high)]
    members = np.concatenate([np.arange(forcing.n_members), np.full(len(runs), middle)])
    values = {name: np.full(members.size, value) for name, value in base.items()}
    for place, (parameter, edge) in enumerate(runs, start=forcing.n_members):
        values[parameter.name][place] = edge
    zone = _solve(pot, _of_members(forcing, members), values, critical, share)
    n = forcing.n_members
    coldest = np.where(forcing.is_known, zone.coldest_share[:n], np.nan)[:, at]
    low, high = zone.coldest_share[n::2][:, at], zone.coldest_share[n + 1 :: 2][:, at]
    halves = (high - low) / 2.0
    spread = np.sqrt(MODEL_ERROR**2 + (halves**2).sum(axis=0))
    place = int(np.argmin(zone.coldest_share[middle][at]))
    used = [Used(parameter, abs(float(halves[row, place]))) for row, parameter in enumerate(assumed)]
    used += [Used(parameter, 0.0) for parameter in pot.parameters.values() if not parameter.is_assumed]
    frozen = np.median(zone.frozen_share[:n][:, at], axis=0)
    medians = {
        "shell": np.median(zone.shell[:n][:, at], axis=0),
        "core": np.median(zone.core[:n][:, at], axis=0),
        "frozen_share": frozen,
        "hours_below": np.cumsum(np.median(zone.coldest_share[:n][:, at], axis=0) < critical).astype(np.float64),
    }
    return felt_of(
        Model.ROOT_BALL,
        Tissue.ROOTS,
        times,
        coldest,
        spread,
        tuple(used),
        medians,
        forcing.missing,
        _remarks(forcing),
    )


def _solve(
    pot: Pot, forcing: Forcing, values: Mapping[str, NDArray[np.float64]], critical: float, share: float
) -> RootZone:
    """Return the root balls of all members, from the days before on."""
    media = _media(values["water_content"], values["conductivity_factor"])
    around = surroundings_of(pot, forcing, values)
    start = uniform_state(pot.container, media, _start(forcing), forcing.n_members)
    return solve_root_zone(pot.container, media, around, start, cold_limit=critical, share=share)


def _media(water: NDArray[np.float64], factor: NDArray[np.float64]) -> list[Medium]:
    """Return the substrate of each member; those that are alike are made once."""
    made: dict[tuple[float, float], Medium] = {}
    found = []
    for key in zip(water.tolist(), factor.tolist(), strict=True):
        if key not in made:
            made[key] = medium_of(*key)
        found.append(made[key])
    return found


def _start(forcing: Forcing) -> float:
    """Return how warm root balls are at the very beginning [°C]: as the air of the first day, but not yet frozen."""
    return max(float(forcing.air_temperature[:, :24].mean()), 0.0)


def _bound(around: Surroundings, start: float) -> NDArray[np.float64]:
    """Return what no part of a root ball can be colder than, by the maximum principle [°C]; shape as the films.

    It is the coldest that the root ball has met so far, and how it began.
    """
    films = (around.wall, around.top, around.bottom)
    lowest = np.minimum.reduce([film.temperature for film in films])
    return np.asarray(np.minimum(np.minimum.accumulate(lowest, axis=1), start))


def middle_member(forcing: Forcing) -> int:
    """Return the member whose lowest air temperature ahead is the median one.

    Parameters
    ----------
    forcing : Forcing
        Weather.

    Returns
    -------
    int
        Its place; numbers are varied on it.
    """
    lowest = forcing.air_temperature[:, forcing.n_before :].min(axis=1)
    return int(np.argsort(lowest)[lowest.size // 2])


def _of_members(forcing: Forcing, members: NDArray[np.intp]) -> Forcing:
    """Return the weather of some members, in their order."""
    names = ("air_temperature", "dew_point", "sky_temperature", "sky_spread", "wind_speed", "cloud", "snow", "is_known")
    picked = {name: getattr(forcing, name)[members] for name in names}
    return replace(forcing, sun=SolarLoad(forcing.sun.top[members], forcing.sun.wall[members]), **picked)


def hours_of(times: NDArray[np.datetime64], forcing: Forcing) -> NDArray[np.intp]:
    """Return which hour's end is each time: the state at a time is what the hour before has left.

    Parameters
    ----------
    times : numpy.ndarray
        ``datetime64[s]``, UTC.
    forcing : Forcing
        Weather, hour by hour.

    Returns
    -------
    numpy.ndarray
        Places of hours, shape as the times.
    """
    hours = (times - forcing.times[0]) // np.timedelta64(3600, "s") - 1
    return np.asarray(np.clip(hours, 0, forcing.times.size - 1), dtype=np.intp)


def _remarks(forcing: Forcing) -> tuple[str, ...]:
    """Return what people must know beside the numbers."""
    if forcing.n_guessed == 0:
        return ()
    days = forcing.n_guessed / 24.0
    return (f"Of the {days:.0f} days before nothing is known; they are taken to have been like the first known day.",)
