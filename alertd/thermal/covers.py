"""Wood under a wrap, under mulch, and pots in a store room."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.site import CoverMaterial, MulchMaterial, StoreKind

from .column import Column, Layer, solve_column
from .film import Film
from .medium import Medium
from .parameters import Parameter

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from alertd.site import CoverBuild, MulchBuild

#: [m] Depth of the soil that is modelled; below it nothing changes in a cold spell. Derived.
SOIL_DEPTH = 1.5

#: Garden soil. Assumed: moist loam, 1.2 W/(m K) as measured for such (from memory), a fifth of water that freezes.
_SOIL = (1.2, 1.7, 2.4e6, 1.9e6, 5.5e7)

#: Media of mulch: conductivity unfrozen and frozen, heat capacities, latent heat. Straw and dry leaves from memory,
#: wood chips and wet leaves assumed.
_MULCH = {
    MulchMaterial.STRAW: (0.055, 0.055, 1.0e5, 1.0e5, 0.0),
    MulchMaterial.DRY_LEAVES: (0.055, 0.055, 1.0e5, 1.0e5, 0.0),
    MulchMaterial.WET_LEAVES: (0.25, 0.40, 1.6e6, 1.0e6, 1.1e8),
    MulchMaterial.WOOD_CHIPS: (0.11, 0.14, 6.0e5, 4.5e5, 4.3e7),
}

#: Thermal resistance of covers [m2 K/W], and of what fills them [m K/W by thickness]. Assumed.
_COVER_RESISTANCE = {
    CoverMaterial.TARP: 0.0,
    CoverMaterial.BLANKET_AND_TARP: 0.22,
    CoverMaterial.FROST_CLOTH: 0.03,
    CoverMaterial.BUBBLE_WRAP: 0.17,
}
_FILL_CONDUCTIVITY = 0.055

#: Heat capacity of air by volume, in an hour [Wh/(m3 K)].
_AIR = 0.34

#: Air changes of a cover that is open at the foot, by those of one that is closed; the wind adds 0.3 of them for each
#: m/s. Assumed.
_OPEN, _BY_WIND = 8.0, 0.3

#: [K] Gain over bare wood that a wrap is believed to have, and one with a skirt or a fill: 5 and 10 °F, common
#: practice, no source.
USUAL_GAIN, LARGEST_GAIN = 5.0 / 1.8, 10.0 / 1.8

#: [m] From here on a skirt counts as one. Assumed.
_SKIRT = 0.4

#: [s] Time constants of rooms, and how far the air outside pulls the rest: share and temperature of what does not
#: follow [°C]. Assumed.
_ROOMS = {
    StoreKind.SHED: (6.0 * 3600.0, 0.0, 8.0),
    StoreKind.UNHEATED_GARAGE: (20.0 * 3600.0, 0.25, 8.0),
    StoreKind.CELLAR: (100.0 * 3600.0, 0.7, 9.0),
}

COVER_PARAMETERS = (
    Parameter("cover_resistance_factor", 1.0, 0.6, 1.4, "1", "insulation of the cover by the usual one", "assumed"),
    Parameter(
        "air_changes", 1.0, 0.5, 3.0, "/h", "air that a closed cover lets through in an hour without wind", "assumed"
    ),
    Parameter("inside_film", 7.0, 4.0, 9.0, "W/m2/K", "heat between ground and air under a cover", "assumed"),
)

MULCH_PARAMETERS = (
    Parameter(
        "mulch_conductivity_factor",
        1.0,
        0.7,
        1.8,
        "1",
        "conductivity of the mulch by the usual one",
        "assumed: loose to settled and damp",
    ),
)

GROUND_PARAMETERS = (
    Parameter(
        "soil_conductivity_factor", 1.0, 0.6, 1.4, "1", "conductivity of the soil by that of moist loam", "assumed"
    ),
    Parameter("deep_soil_temperature", 9.0, 7.0, 11.0, "Cel", "soil at 1.5 m in winter", "assumed"),
)

STORE_PARAMETERS = (
    Parameter("room_lag_factor", 1.0, 0.6, 1.6, "1", "time constant of the store room by the usual one", "assumed"),
    Parameter(
        "room_ground_share", 1.0, 0.5, 1.3, "1", "how much ground and house keep the room warm, by the usual", "assumed"
    ),
)


@dataclass(frozen=True, slots=True)
class Outside:
    """What a cover or the ground meets, shape (n_members, n_times) each.

    Parameters
    ----------
    air_temperature : numpy.ndarray
        [°C]
    sky_temperature : numpy.ndarray
        [°C]
    wind_speed : numpy.ndarray
        [m/s] At ten metres.
    snow_resistance : numpy.ndarray
        [m2 K/W] Of snow that lies.
    n_before : int
        Hours that lie before the forecast.
    """

    air_temperature: NDArray[np.float64]
    sky_temperature: NDArray[np.float64]
    wind_speed: NDArray[np.float64]
    snow_resistance: NDArray[np.float64]
    n_before: int

    def film(self, sky_share: float) -> Film:
        """Return air and sky as one film: linear convection 4 + 1.75 u (from memory) and long-wave exchange."""
        radiative = 4.0 * 0.95 * 5.670374e-8 * (self.air_temperature + 273.15) ** 3
        total = 4.0 + 1.75 * self.wind_speed + radiative
        pull = radiative * sky_share * (self.sky_temperature - self.air_temperature) / total
        return Film(self.air_temperature + pull, total)


def stems_under_mulch(mulch: MulchBuild, outside: Outside, values: Mapping[str, float]) -> NDArray[np.float64]:
    """Return the temperature where mulch lies on the ground, and stems between them.

    Parameters
    ----------
    mulch : MulchBuild
        What lies there, wide enough that the cold comes from above only.
    outside : Outside
        Weather, the days before included.
    values : mapping of str to float
        Numbers by name, of `MULCH_PARAMETERS` and `GROUND_PARAMETERS`.

    Returns
    -------
    numpy.ndarray
        [°C] At the end of each hour, shape (n_members, n_times).
    """
    usual = _MULCH[mulch.material]
    factor = values["mulch_conductivity_factor"]
    medium = Medium(usual[0] * factor, usual[1] * factor, *usual[2:])
    film = outside.film(1.0)
    above = 1.0 / (1.0 / film.conductance + outside.snow_resistance)
    return _ground_below(Film(film.temperature, above), [Layer(medium, mulch.depth)], mulch.depth, outside, values)


def air_under_wrap(cover: CoverBuild, outside: Outside, values: Mapping[str, float]) -> NDArray[np.float64]:
    """Return the temperature of the air in a wrap.

    Parameters
    ----------
    cover : CoverBuild
        How it is built.
    outside : Outside
        Weather, the days before included.
    values : mapping of str to float
        Numbers by name, of `COVER_PARAMETERS` and `GROUND_PARAMETERS`.

    Returns
    -------
    numpy.ndarray
        [°C] At the end of each hour, shape (n_members, n_times): one for the whole wrap; in truth it is colder at the
        top and warmer at the foot by some K.

    Notes
    -----
    The air holds next to no heat, so it balances at once what comes from the ground and what goes through the cover and
    with the wind: the ground sees the outside through both in a row.
    """
    footprint = np.pi / 4.0 * (cover.diameter + 2.0 * cover.skirt) ** 2
    envelope = np.pi * cover.diameter * cover.height + footprint
    volume = np.pi / 4.0 * cover.diameter**2 * cover.height
    resistance = _COVER_RESISTANCE[cover.material] * values["cover_resistance_factor"]
    if cover.fill is not None:
        resistance += cover.diameter / 4.0 / _FILL_CONDUCTIVITY
    film = outside.film(0.5)
    through = 1.0 / (1.0 / 7.0 + resistance + 1.0 / film.conductance) * envelope
    changes = values["air_changes"] * (1.0 if cover.is_closed_at_ground else _OPEN)
    drawn = _AIR * volume * changes * (1.0 + _BY_WIND * outside.wind_speed)
    outer = (through * film.temperature + drawn * outside.air_temperature) / (through + drawn)
    by_area = (through + drawn) / footprint
    inner = values["inside_film"]
    surface = _ground_below(Film(outer, 1.0 / (1.0 / inner + 1.0 / by_area)), [], 0.0, outside, values)
    return np.asarray((by_area * outer + inner * surface) / (by_area + inner))


def bounded_gain(cover: CoverBuild, gain: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the gain of a wrap over bare wood that may be counted on [K].

    Parameters
    ----------
    cover : CoverBuild
        How it is built; what its people measured is believed.
    gain : numpy.ndarray
        [K] As computed.

    Returns
    -------
    numpy.ndarray
        At most what practice knows: nobody has measured covers as these well enough to trust more.
    """
    if cover.measured_gain is not None:
        return np.full(gain.shape, cover.measured_gain)
    is_wide = cover.skirt >= _SKIRT or cover.fill is not None
    return np.minimum(gain, LARGEST_GAIN if is_wide else USUAL_GAIN)


def room_temperature(
    kind: StoreKind,
    time_constant: float | None,
    air_temperature: NDArray[np.float64],
    values: Mapping[str, float],
    *,
    sensor: float | None = None,
    sensor_hour: int = 0,
) -> NDArray[np.float64]:
    """Return the temperature of a store room that follows the air outside slowly.

    Parameters
    ----------
    kind : StoreKind
        Of room.
    time_constant : float or None
        [s] By its people; ``None`` takes the usual one.
    air_temperature : numpy.ndarray
        [°C] Outside, shape (n_members, n_times), the days before included.
    values : mapping of str to float
        Numbers by name, of `STORE_PARAMETERS`.
    sensor : float or None
        [°C] What a thermometer in the room says at the beginning of an hour; it goes on from there.
    sensor_hour : int
        Which hour.

    Returns
    -------
    numpy.ndarray
        [°C] At the end of each hour.
    """
    usual, share, ground = _ROOMS[kind]
    share = min(share * values["room_ground_share"], 0.95)
    lag = usual * values["room_lag_factor"] if time_constant is None else time_constant
    weight = 1.0 - np.exp(-3600.0 / lag)
    target = (1.0 - share) * air_temperature + share * ground
    room = np.empty_like(target)
    state = target[:, :24].mean(axis=1)
    for hour in range(target.shape[1]):
        if sensor is not None and hour == sensor_hour:
            state = np.full(state.shape, sensor)
        state = state + (target[:, hour] - state) * weight
        room[:, hour] = state
    return room


def _ground_below(
    top: Film, layers: list[Layer], depth: float, outside: Outside, values: Mapping[str, float]
) -> NDArray[np.float64]:
    """Return the temperature at a depth in layers over soil [°C], shape (n_members, n_times)."""
    factor, deep = values["soil_conductivity_factor"], values["deep_soil_temperature"]
    soil = Medium(_SOIL[0] * factor, _SOIL[1] * factor, *_SOIL[2:])
    column = Column([*layers, Layer(soil, SOIL_DEPTH)], 0.02)
    before = float(outside.air_temperature[:, : max(outside.n_before, 1)].mean())
    surface = max((before + deep) / 2.0, 0.0)
    below = np.clip(column.middles - depth, 0.0, None)
    start = surface + (deep - surface) * np.minimum(below / SOIL_DEPTH, 1.0)
    return np.asarray(solve_column(column, top, deep, start, [depth]).temperature[0])
