"""What the roots of pots in store will feel: a room that follows the air outside slowly, and root balls in it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from .around import lowest_held, no_colder_than
from .container import Surroundings, solve_root_zone
from .covers import STORE_PARAMETERS, room_temperature
from .exposure import Tissue
from .felt import Model, Used, felt_bound, felt_of
from .film import Film
from .root_model import MODEL_ERROR, hours_of
from .substrates import medium_of
from .variation import decisive_of, spread_between, variations_of, varied_members

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from alertd.site import TreeGroup

    from .felt import Felt
    from .forcing import Forcing
    from .pots import Pot

#: What pots in a room without wind exchange with it, long-wave included [W/(m2 K)]. From memory: 7 to 8 indoors.
_STILL = 7.5


def stored_roots_felt(
    group: TreeGroup,
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
        [°C] What a thermometer in the room says now; from then on the room follows the air outside from there.

    Returns
    -------
    Felt
        The temperature below which that part of the root ball's volume lies; the room is ``air`` of its medians.
    """
    at = hours_of(times, forcing)
    room, n = group.store_room, forcing.n_members
    parameters = [
        each.measured(group.overrides[each.name]) if each.name in group.overrides else each for each in STORE_PARAMETERS
    ]
    base = {each.name: each.value for each in parameters}
    varied = varied_members(forcing.air_temperature[:, forcing.n_before :])

    def rooms(members: list[int] | slice, changed: dict[str, float]) -> NDArray[np.float64]:
        return room_temperature(
            room.kind,
            room.time_constant,
            forcing.air_temperature[members],
            {**base, **changed},
            sensor=sensor,
            sensor_hour=forcing.n_before,
        )

    usual = rooms(slice(None), {})
    bound = np.minimum.accumulate(usual, axis=1)
    if float(bound.min()) > limit + 2.0:
        known = np.where(forcing.is_known, bound, np.nan)[:, at]
        return felt_bound(Model.STORE_ROOM, Tissue.ROOTS, times, known, ())
    assumed = [each for each in parameters if each.is_assumed]
    rows = [
        rooms([member], {each.name: edge}) for member in varied for each in assumed for edge in (each.low, each.high)
    ]
    every = np.concatenate([usual, *rows])
    film = Film(every, np.full(every.shape, _STILL))
    values = {name: each.value for name, each in pot.parameters.items()}
    medium = medium_of(values["water_content"], values["conductivity_factor"], pot.mix)
    start = max(float(usual[:, :24].mean()), 0.0)
    around = no_colder_than(Surroundings(film, film, film), lowest_held(medium))
    zone = solve_root_zone(pot.container, medium, around, start, share=share)
    variations = variations_of(zone.coldest_share[:, at], n, varied, MODEL_ERROR)
    decisive = decisive_of(variations)
    shares = decisive.halves[:, decisive.coldest]
    used = [Used(each, abs(float(shares[row]))) for row, each in enumerate(assumed)]
    used += [Used(each, 0.0) for each in parameters if not each.is_assumed]
    coldest = np.where(forcing.is_known, zone.coldest_share[:n], np.nan)[:, at]
    medians = {"air": np.median(usual[:, at], axis=0), "core": np.median(zone.core[:n][:, at], axis=0)}
    spread = spread_between(zone.coldest_share[:n, at], variations)
    felt = felt_of(Model.STORE_ROOM, Tissue.ROOTS, times, coldest, spread, tuple(used), medians)
    return replace(felt, spread=float(decisive.spread[decisive.coldest]))
