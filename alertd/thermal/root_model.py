"""What the roots in a group's pots will feel."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from .around import coldest_of, during, films_of, lowest_held, members_of, no_colder_than
from .container import Surroundings, solve_root_zone, uniform_state
from .exposure import Tissue
from .felt import Model, Used, felt_bound, felt_of
from .film import Film
from .heat_bound import heat_bound, missing_heat
from .kept_roots import keep_roots
from .medium import constants_of
from .root_zone import RootState, RootZone
from .substrates import medium_of
from .sun import SolarLoad
from .surroundings import surroundings_of
from .variation import decisive_of, spread_between, variations_of, varied_members

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from .felt import Felt
    from .forcing import Forcing
    from .kept_roots import KeptRoots
    from .medium import Medium
    from .parameters import Parameter
    from .pots import Pot
    from .substrates import Mix

#: [K] An own uncertainty of the equations, beside that of their numbers. Assumed: no measured pot was found.
MODEL_ERROR = 0.5

#: How many days a root ball remembers: this [d/m2] times the square of the cube root of its volume, within bounds [d].
#: Measured with the model itself, begun unfrozen or frozen in air of -5 °C: after so many days the two differ by less
#: than 0.1 K, half as many leave 2 to 5 K. At -3 °C it takes longer, but there it is not dangerous.
_MEMORY, _LEAST_MEMORY, _MOST_MEMORY = 100.0, 4, 20

#: [K] What the days before must add to the uncertainty for it to be said that some of them are guessed. Assumed.
_SAID = 0.2

#: The part of the realizations, in percent, that need not stay above a limit for a root ball to be left uncomputed, and
#: by how much of its heat of freezing it is believed to have then. Assumed: half as many as close an alert by default;
#: what nobody measured of a pot matters a third.
_UNLIKELY, _TRUSTED = 4.0, 0.6

_DAY = 24

#: What is read off root balls.
_READINGS = ("shell", "core", "coldest_share", "frozen_share")


def roots_felt(
    pot: Pot,
    forcing: Forcing,
    times: NDArray[np.datetime64],
    *,
    limit: float,
    critical: float,
    share: float,
    kept: dict[str, KeptRoots] | None = None,
    key: str = "",
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
    kept : dict of str to KeptRoots or None
        Root balls as they last stood; they go on from there, and are kept anew.
    key : str
        Under which.

    Returns
    -------
    Felt
        The temperature below which that part of the root ball's volume lies.
    """
    parameters = list(pot.parameters.values())
    assumed = [parameter for parameter in parameters if parameter.is_assumed]
    n, n_edges = forcing.n_members, 2 * len(assumed)
    varied = varied_members(forcing.air_temperature[:, forcing.n_before :])
    members = np.concatenate([np.arange(n), np.repeat(varied, n_edges)])
    of_all = _standing_in(n, members.size, n_edges)
    values = _values(parameters, n, len(varied))
    weather = _of_members(forcing, members, values["days_before_warmer_by"])
    memory = memory_of(pot)
    first, before = _begin(pot, forcing, memory, None if kept is None else kept.get(key))
    around = during(surroundings_of(pot, weather, values), slice(first, None))
    media = _media(pot.mix, values["water_content"], values["conductivity_factor"])
    at = hours_of(times, forcing) - first
    warmer = np.where(forcing.is_guessed[first], 0.0, values["days_before_warmer_by"])  # else it is in the weather
    n_repeats = 0 if before is not None else memory - (forcing.n_before - first) // _DAY
    shared = slice(n - 1, n + n_edges)
    settling = _settling(members_of(around, shared), warmer[shared], n_repeats)
    start = _start(forcing, first) if before is None else before.state
    begun = np.minimum(coldest_of(settling).min(axis=1, initial=np.inf), _coldest_part(start, media[shared]))
    bound = warm_bound(around, begun[of_all])
    told = coldest_of(around)[:, ~forcing.is_guessed[first:]]  # a guess at the days before need not be bounded twice
    lower = told[members[n:]].min(axis=1) - told[n:].min(axis=1)
    room = max(float(lower.max(initial=0.0)), float(begun[0] - begun.min()))
    safe = bound[:n] - room
    if not settling.n_times:
        lacking = 0.0 if before is None else float(missing_heat(pot.container, media[shared], before.state).max())
        usual = members_of(around, slice(0, n))
        by_heat = heat_bound(pot.container, media[:n], usual, np.full(n, lacking), share, _TRUSTED)
        bound[:n], safe = np.maximum(bound[:n], by_heat), np.maximum(safe, by_heat)
    if float(np.percentile(safe.min(axis=1), _UNLIKELY)) - 2.0 * MODEL_ERROR > limit:
        lowest = np.where(forcing.is_known[:, first:], bound[:n], np.nan)[:, at]
        return felt_bound(Model.ROOT_BALL, Tissue.ROOTS, times, lowest, forcing.missing)
    lowest_known = lowest_held(media)
    is_beyond = bool(coldest_of(around)[:n].min() < lowest_known)
    around, settling = no_colder_than(around, lowest_known), no_colder_than(settling, lowest_known)
    zone, now = _solve(pot, media, around, settling, start, of_all, forcing.n_before - 1 - first, critical, share)
    if kept is not None:
        kept[key] = keep_roots(pot, forcing, forcing.n_before - 1, now)
    coldest = np.where(forcing.is_known[:, first:], zone.coldest_share[:n], np.nan)[:, at]
    variations = variations_of(zone.coldest_share[:, at], n, varied, MODEL_ERROR)
    decisive = decisive_of(variations)
    shares = {each.name: abs(float(decisive.halves[row, decisive.coldest])) for row, each in enumerate(assumed)}
    used = tuple(Used(parameter, shares.get(parameter.name, 0.0)) for parameter in parameters)
    remarks = _remarks(forcing, shares.get("days_before_warmer_by", 0.0), lowest_known if is_beyond else None)
    medians = {
        "shell": np.median(zone.shell[:n], axis=0)[at],
        "core": np.median(zone.core[:n], axis=0)[at],
        "frozen_share": np.median(zone.frozen_share[:n], axis=0)[at],
        "hours_below": _hours_below(zone.coldest_share[:n], forcing.n_before - first, critical)[at],
    }
    spread = spread_between(zone.coldest_share[:n, at], variations)
    felt = felt_of(Model.ROOT_BALL, Tissue.ROOTS, times, coldest, spread, used, medians, forcing.missing, remarks)
    return replace(felt, spread=float(decisive.spread[decisive.coldest]))


def _values(parameters: Sequence[Parameter], n_realizations: int, n_varied: int) -> dict[str, NDArray[np.float64]]:
    """Return the numbers of each member by name.

    After the realizations, and for each of those that are varied, come members that have one assumed number each at
    its lower edge and then at its upper one, in the order given.
    """
    edges = [(each.name, edge) for each in parameters if each.is_assumed for edge in (each.low, each.high)] * n_varied
    values = {parameter.name: np.full(n_realizations + len(edges), parameter.value) for parameter in parameters}
    for place, (name, edge) in enumerate(edges, start=n_realizations):
        values[name][place] = edge
    return values


def memory_of(pot: Pot) -> int:
    """Return how many days the root ball of a pot remembers."""
    return int(np.clip(np.ceil(_MEMORY * np.cbrt(pot.container.volume) ** 2), _LEAST_MEMORY, _MOST_MEMORY))


def _settling(around: Surroundings, warmer: NDArray[np.float64], n_repeats: int) -> Surroundings:
    """Return the first day so many times, so much warmer [K] for each member; not once if its mean is mild."""
    is_mild = bool((around.wall.temperature[:, :_DAY].mean(axis=1) + warmer > 0.0).all())
    days = 0 if is_mild else n_repeats
    wall, top, bottom = (
        Film(np.tile(each.temperature[:, :_DAY] + warmer[:, None], days), np.tile(each.conductance[:, :_DAY], days))
        for each in films_of(around)
    )
    return Surroundings(wall, top, bottom)


def _solve(
    pot: Pot,
    media: list[Medium],
    around: Surroundings,
    settling: Surroundings,
    start: float | RootState,
    of_all: NDArray[np.intp],
    n_shared: int,
    critical: float,
    share: float,
) -> tuple[RootZone, RootState]:
    """Return the root balls of all members, hour by hour, and those that stand for all when they no longer do.

    While they settle and in the first `n_shared` hours the weather is the same for all realizations: there few members
    stand for them all, those of `settling`; by `of_all` it is told which of them for each.
    """
    first = int(np.flatnonzero(of_all == 0)[-1])
    shared = slice(first, first + int(of_all.max()) + 1)
    alike = media[shared]

    def solved(mixes: list[Medium], films: Surroundings, state: RootState) -> RootZone:
        return solve_root_zone(pot.container, mixes, films, state, cold_limit=critical, share=share)

    state = start if isinstance(start, RootState) else uniform_state(pot.container, alike, start, len(alike))
    if settling.n_times:
        state = solved(alike, settling, state).end
    parts = []
    if n_shared:
        before = solved(alike, during(members_of(around, shared), slice(0, n_shared)), state)
        parts.append([getattr(before, name)[of_all] for name in _READINGS])
        state = before.end
    begun = RootState(np.ascontiguousarray(state.enthalpy[:, :, of_all]))
    after = solved(media, during(around, slice(n_shared, None)), begun)
    parts.append([getattr(after, name) for name in _READINGS])
    shell, core, coldest_share, frozen_share = (np.concatenate(part, axis=1) for part in zip(*parts, strict=True))
    return RootZone(shell, core, coldest_share, frozen_share, after.end), state


def _begin(pot: Pot, forcing: Forcing, memory: int, kept: KeptRoots | None) -> tuple[int, KeptRoots | None]:
    """Return from which hour root balls are computed, and how they stood then if that is known."""
    first = max(forcing.n_before - _DAY * memory, 0)
    place = None if kept is None else kept.place_in(pot, forcing, first)
    return (first, None) if place is None else (place, kept)


def _coldest_part(start: float | RootState, media: Sequence[Medium]) -> float | NDArray[np.float64]:
    """Return the temperature of the coldest part of root balls [°C], shape () or (n_members,)."""
    if not isinstance(start, RootState):
        return start
    return np.asarray(constants_of(media).temperature(start.enthalpy).min(axis=(0, 1)))


def _standing_in(n_realizations: int, n_members: int, n_edges: int) -> NDArray[np.intp]:
    """Return which of the last realization and the `n_edges` members after it is alike each member at first."""
    places = np.arange(n_members) - n_realizations
    return np.asarray(np.where(places < 0, 0, 1 + places % max(n_edges, 1)))


def _hours_below(temperature: NDArray[np.float64], n_before: int, critical: float) -> NDArray[np.float64]:
    """Return for how many hours of the forecast the median has been below, up to each hour; shape (n_times,)."""
    is_below = np.median(temperature, axis=0) < critical
    is_below[:n_before] = False
    return np.cumsum(is_below).astype(np.float64)


def _media(mix: Mix, water: NDArray[np.float64], factor: NDArray[np.float64]) -> list[Medium]:
    """Return the substrate of each member; those that are alike are made once."""
    made: dict[tuple[float, float], Medium] = {}
    found = []
    for key in zip(water.tolist(), factor.tolist(), strict=True):
        if key not in made:
            made[key] = medium_of(*key, mix)
        found.append(made[key])
    return found


def _start(forcing: Forcing, first: int) -> float:
    """Return how warm root balls are at the very beginning [°C]: as the air of the first day, but not yet frozen."""
    return max(float(forcing.air_temperature[:, first : first + _DAY].mean()), 0.0)


def warm_bound(around: Surroundings, start: float | NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what no part of a root ball can be colder than, by the maximum principle.

    Parameters
    ----------
    around : Surroundings
        Films of all members.
    start : float or numpy.ndarray
        [°C] Coldest part of the root ball at the beginning; shape () or (n_members,).

    Returns
    -------
    numpy.ndarray
        [°C] shape (n_members, n_times): the coldest that the root ball has met so far, or how it began. Conduction
        only joins what is there, so nothing inside is colder.
    """
    met = np.minimum.accumulate(coldest_of(around), axis=1)
    return np.asarray(np.minimum(met, np.reshape(start, (-1, 1))))


def _of_members(forcing: Forcing, members: NDArray[np.intp], warmer: NDArray[np.float64]) -> Forcing:
    """Return the weather of some members, in their order; guessed hours so much warmer [K] than guessed, each."""
    names = ("air_temperature", "dew_point", "sky_temperature", "sky_spread", "wind_speed", "cloud", "snow", "is_known")
    picked = {name: getattr(forcing, name)[members] for name in names}
    for name in ("air_temperature", "dew_point", "sky_temperature"):
        picked[name] = picked[name] + warmer[:, None] * forcing.is_guessed
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


def _remarks(forcing: Forcing, share: float, held: float | None) -> tuple[str, ...]:
    """Return what people must know beside the numbers.

    What the days before add to the uncertainty is `share` [K]; what colder surroundings were taken for, `held` [°C].
    """
    found = []
    if forcing.n_guessed >= forcing.n_before:
        days = forcing.n_before // _DAY
        found.append(
            f"Nothing is known of the weather of the {days} days before; it is taken to have been as on the first "
            "known day."
        )
    elif forcing.n_guessed and share >= _SAID:
        days = max(round(forcing.n_guessed / _DAY), 1)
        known = "1 day" if days == 1 else f"{days} days"
        found.append(
            f"Nothing is known of the weather of about {known} before; it is taken to have been like that of the day "
            "after."
        )
    if held is not None:
        found.append(f"What is colder than {held:.0f} °C round a pot is computed as if it were {held:.0f} °C.")
    return tuple(found)
