"""Rooms where pots winter: they follow the air outside, late."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.site import StoreKind

from .column import HOUR
from .parameters import Parameter

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import Numbers


@dataclass(frozen=True, slots=True)
class RoomPreset:
    """What is usual for a kind of room.

    Parameters
    ----------
    time_constant : float
        [s] In which it has followed a change outside to about two thirds.
    ground_share : float
        [1] Of the room's exchange that goes to the ground, 0 to 1.
    """

    time_constant: float
    ground_share: float


#: Rooms by kind. Assumed: a garage of masonry, a shed of boards, a cellar most of which is in the ground.
ROOMS: dict[StoreKind, RoomPreset] = {
    StoreKind.UNHEATED_GARAGE: RoomPreset(20.0 * HOUR, 0.0),
    StoreKind.SHED: RoomPreset(6.0 * HOUR, 0.0),
    StoreKind.CELLAR: RoomPreset(200.0 * HOUR, 0.6),
}

#: Temperature of the ground round a cellar in winter [°C]. Assumed.
CELLAR_GROUND = 8.0

STORE_PARAMETERS = (
    Parameter(
        name="room_lag_factor",
        value=1.0,
        low=1.0 / 1.6,
        high=1.6,
        unit="1",
        meaning="how slowly the room follows the air outside, by what is usual for its kind",
        provenance="assumed",
    ),
    Parameter(
        name="cellar_ground_temperature",
        value=CELLAR_GROUND,
        low=6.0,
        high=10.0,
        unit="Cel",
        meaning="temperature of the ground round the cellar in winter",
        provenance="assumed",
    ),
)


def inside_store_room(
    air_temperature: NDArray[np.float64],
    past: int,
    kind: StoreKind,
    *,
    time_constant: Numbers | None = None,
    measured: float | None = None,
    kept_above: float | None = None,
    room_lag_factor: Numbers = 1.0,
    cellar_ground_temperature: Numbers = CELLAR_GROUND,
) -> NDArray[np.float64]:
    """Return the temperature in a room without heating, or with as much as keeps it above a temperature.

    Parameters
    ----------
    air_temperature : numpy.ndarray
        [°C] Outside, the hours that have passed in front, shape (n_members, n_times).
    past : int
        How many of the hours have passed; at least 1.
    kind : StoreKind
        Of room.
    time_constant : float, numpy.ndarray or None
        [s] Of this room, shape (n_members,) if members differ; ``None`` takes the usual one of its kind times the
        factor.
    measured : float or None
        [°C] What its own thermometer says now; ``None`` starts from the hours that have passed.
    kept_above : float or None
        [°C] What heating keeps it at, or above; ``None`` without heating.
    room_lag_factor, cellar_ground_temperature : float or numpy.ndarray
        [1] and [°C]; shape (n_members,) if members differ.

    Returns
    -------
    numpy.ndarray
        [°C] At the end of each hour ahead, shape (n_members, n_times - past).

    Raises
    ------
    ValueError
        If no hour has passed or none is ahead, a temperature is not finite or a time constant is not above 0.

    Notes
    -----
    dT/dt = (T_outside - T) / time constant, exact for air that stays the same all hour. The heat that pots give off
    as they freeze, sun through windows and a car that comes home warm are left out.
    """
    room = ROOMS[kind]
    usual = room.time_constant * np.asarray(room_lag_factor)
    constant = np.asarray(usual if time_constant is None else time_constant, dtype=np.float64)
    if not 0 < past < air_temperature.shape[1] or not np.isfinite(air_temperature).all() or not (constant > 0.0).all():
        message = f"room that follows in {constant} s, {past} hours passed of {air_temperature.shape[1]}, or no weather"
        raise ValueError(message)
    ground = np.atleast_1d(np.asarray(cellar_ground_temperature, dtype=np.float64))[:, None]
    outside = air_temperature * (1.0 - room.ground_share) + ground * room.ground_share
    least = -np.inf if kept_above is None else kept_above
    if measured is None:
        return follow(outside, outside[:, :past].mean(axis=1), constant, least)[:, past:]
    return follow(outside[:, past:], np.full(len(outside), measured), constant, least)


def follow(
    outside: NDArray[np.float64], start: NDArray[np.float64], time_constant: Numbers, least: float = -np.inf
) -> NDArray[np.float64]:
    """Return the temperature of what follows another.

    Parameters
    ----------
    outside : numpy.ndarray
        [°C] That is followed, hour by hour, shape (n_members, n_times).
    start : numpy.ndarray
        [°C] At the beginning, shape (n_members,).
    time_constant : float or numpy.ndarray
        [s] Above 0; shape (n_members,) if members differ.
    least : float
        [°C] It is kept from falling below.

    Returns
    -------
    numpy.ndarray
        [°C] At the end of each hour, shape (n_members, n_times).
    """
    kept = np.exp(-HOUR / np.asarray(time_constant, dtype=np.float64))
    result = np.empty_like(outside)
    temperature = start
    for hour in range(outside.shape[1]):
        temperature = np.maximum(outside[:, hour] + (temperature - outside[:, hour]) * kept, least)
        result[:, hour] = temperature
    return result
