"""What the roots of pots in store will feel: a room that follows the air outside slowly, and root balls in it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from alertd.site import StoreKind

from .alike import alike
from .around import lowest_held, no_colder_than
from .container import Surroundings, solve_root_zone, uniform_state
from .exposure import Tissue
from .felt import Model, Used, felt_bound, felt_of
from .film import Film
from .root_model import MODEL_ERROR, hours_of, memory_of
from .root_zone import RootState
from .store_room import STORE_PARAMETERS, inside_store_room
from .substrates import medium_of
from .variation import decisive_of, spread_between, variations_of, varied_members

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from alertd.site import StoreRoom, TreeGroup

    from .felt import Felt
    from .forcing import Forcing
    from .parameters import Parameter
    from .pots import Pot
    from .root_zone import RootZone

#: What pots in a room without wind exchange with it, long-wave included [W/(m2 K)]. From memory: 7 to 8 indoors.
_STILL = 7.5

#: [K] A room that stays this far above the limit needs no root balls. Assumed: four times the error of their model.
_ROOM_TO_SPARE = 2.0

_DAY = 24


def stored_roots_felt(
    group: TreeGroup,
    room: StoreRoom,
    pot: Pot,
    forcing: Forcing,
    times: NDArray[np.datetime64],
    *,
    limit: float,
    share: float,
    sensor: float | None = None,
) -> Felt:
    """Return what the roots of pots in store will feel.

    Parameters
    ----------
    group : TreeGroup
        With the numbers that its people measured.
    room : StoreRoom
        Where it is stored.
    pot : Pot
        One of its pots.
    forcing : Forcing
        Weather, the days before included.
    times : numpy.ndarray
        Those of the forecast, ``datetime64[s]``, UTC.
    limit : float
        [°C] What stays above it need not be known exactly.
    share : float
        0 to 1, part of the root ball that may be lost before it counts.
    sensor : float or None
        [°C] What a thermometer in the room says now; from then on the room follows the air outside from there. The
        days before are taken to have been as much warmer or colder than the model says.

    Returns
    -------
    Felt
        The temperature below which that part of the root ball's volume lies; the room is ``air`` of its medians.
    """
    n = forcing.n_members
    parameters = [
        each.measured(group.overrides[each.name]) if each.name in group.overrides else each
        for each in STORE_PARAMETERS
        if _matters(each, room)
    ]
    assumed = [each for each in parameters if each.is_assumed]
    varied = varied_members(forcing.air_temperature[:, forcing.n_before :])
    edges = [(each.name, edge) for _ in varied for each in assumed for edge in (each.low, each.high)]
    members = np.concatenate([np.arange(n), np.repeat(varied, 2 * len(assumed))]).astype(np.intp)
    values = {each.name: np.full(members.size, each.value) for each in STORE_PARAMETERS}
    values |= {each.name: np.full(members.size, each.value) for each in parameters}
    for place, (name, edge) in enumerate(edges, start=n):
        values[name][place] = edge
    inside = _room(room, forcing, members, values, sensor)
    skipped = max(forcing.n_before - _DAY * memory_of(pot), _DAY)
    inside, past = inside[:, skipped - _DAY :], forcing.n_before - skipped
    is_known = forcing.is_known[:, skipped:]
    at = np.clip(hours_of(times, forcing) - skipped, 0, None)
    bound = np.minimum.accumulate(inside[:n], axis=1)
    if float(bound.min()) > limit + _ROOM_TO_SPARE:
        return felt_bound(Model.STORE_ROOM, Tissue.ROOTS, times, np.where(is_known, bound, np.nan)[:, at], ())
    coldest_share, core = _roots(pot, inside, past, share)
    variations = variations_of(coldest_share[:, at], n, varied, MODEL_ERROR)
    decisive = decisive_of(variations)
    shares = {each.name: abs(float(decisive.halves[row, decisive.coldest])) for row, each in enumerate(assumed)}
    used = tuple(Used(each, shares.get(each.name, 0.0)) for each in parameters)
    coldest = np.where(is_known, coldest_share[:n], np.nan)[:, at]
    medians = {"air": np.median(inside[:n][:, at], axis=0), "core": np.median(core[:n][:, at], axis=0)}
    spread = spread_between(coldest_share[:n, at], variations)
    remarks = _remarks(room, sensor)
    felt = felt_of(Model.STORE_ROOM, Tissue.ROOTS, times, coldest, spread, used, medians, (), remarks)
    return replace(felt, spread=float(decisive.spread[decisive.coldest]))


def _remarks(room: StoreRoom, sensor: float | None) -> tuple[str, ...]:
    """Return that a thermometer which should tell how cold the room is does not."""
    if room.sensor is None or sensor is not None:
        return ()
    return (f"The thermometer {room.sensor} in the store tells nothing: the room is computed from the air outside.",)


def _matters(parameter: Parameter, room: StoreRoom) -> bool:
    """Return whether a number matters for a room: the ground for cellars, the lag where nobody knows it."""
    if parameter.name == "room_lag_factor":
        return room.time_constant is None
    return room.kind is StoreKind.CELLAR


def _room(
    room: StoreRoom,
    forcing: Forcing,
    members: NDArray[np.intp],
    values: Mapping[str, NDArray[np.float64]],
    sensor: float | None,
) -> NDArray[np.float64]:
    """Return the room from the second day on [°C], shape (n_members, n_times - 24)."""
    air = forcing.air_temperature[members]

    def followed(past: int, measured: float | None) -> NDArray[np.float64]:
        return inside_store_room(
            air,
            past,
            room.kind,
            time_constant=room.time_constant,
            measured=measured,
            kept_above=room.kept_above,
            room_lag_factor=values["room_lag_factor"],
            cellar_ground_temperature=values["cellar_ground_temperature"],
        )

    modelled = followed(_DAY, None)
    if sensor is None:
        return modelled
    before = modelled[:, : forcing.n_before - _DAY]
    shifted = before + (sensor - before[:, -1:])
    if room.kept_above is not None:
        shifted = np.maximum(shifted, room.kept_above)
    return np.concatenate([shifted, followed(forcing.n_before, sensor)], axis=1)


def _roots(
    pot: Pot, inside: NDArray[np.float64], past: int, share: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the coldest share and the core of root balls in a room [°C], each shape (n_members, n_times).

    In the hours that have passed the weather is one for all realizations; root balls that are alike are solved once.
    """
    numbers = {name: each.value for name, each in pot.parameters.items()}
    medium = medium_of(numbers["water_content"], numbers["conductivity_factor"], pot.mix)
    members = len(inside)
    rows, of_all = alike(inside[:, :past], members=members)
    # Not yet frozen at first: the water of a root ball is there to freeze.
    start = uniform_state(pot.container, medium, max(float(inside[:, :_DAY].mean()), 0.0), rows.size)

    def solved(room: NDArray[np.float64], state: RootState) -> RootZone:
        film = Film(room, np.full(room.shape, _STILL))
        around = no_colder_than(Surroundings(film, film, film), lowest_held(medium))
        return solve_root_zone(pot.container, medium, around, state, share=share)

    before = solved(inside[rows, :past], start)
    begun = RootState(np.ascontiguousarray(before.end.enthalpy[:, :, of_all]))
    after = solved(inside[:, past:], begun)
    coldest_share = np.concatenate([before.coldest_share[of_all], after.coldest_share], axis=1)
    return coldest_share, np.concatenate([before.core[of_all], after.core], axis=1)
