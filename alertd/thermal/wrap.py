"""The air inside a wrap: warmed by the ground, cooled through cloth and gaps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .column import Layer, column_of
from .column_flow import solve_ahead
from .cover import (
    AIR_CHANGE_HEAT,
    CLOSED_AIR_CHANGES,
    COVER_RESISTANCES,
    FILL_CONDUCTIVITIES,
    OPEN_AIR_CHANGES,
    WIND_SHARE_OF_AIR_CHANGES,
    envelope_of,
    is_colder_inside,
)
from .film import Film
from .ground import DEEP, GARDEN_LOAM, first_days, first_solved, start_profile

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from alertd.site import CoverBuild

    from .air import Numbers

#: Cells of the ground below [m]. A quarter of it moves no hour inside by more than 0.3 K, the coldest one by 0.2 K
#: (tested).
CELL = 0.04

#: Said where a cover makes it colder [text].
COLDER_THAN_AIR = (
    "Under this cover it gets colder than the air outside: it radiates to the sky, and too little heat comes up from "
    "the ground to make up for it."
)

#: [m] Of soil that has such cells, and by how much thicker they get with each metre below. Assumed.
_EVEN_SOIL, _GROWTH = 0.1, 0.3


@dataclass(frozen=True, slots=True)
class CoverWeather:
    """Weather round a wrap, the days before in front.

    Parameters
    ----------
    air_temperature : numpy.ndarray
        [°C] shape (n_members, n_times).
    effective_temperature : numpy.ndarray
        [°C] What the outside of the cover exchanges heat with: air, sky and sun together.
    film_coefficient : numpy.ndarray
        [W/(m2 K)] With which it does; above 0.
    wind_speed : numpy.ndarray
        [m/s] At the wrap.
    past : int
        How many of the hours have passed: they start the ground and are not in what is returned; at least 1.

    Raises
    ------
    ValueError
        If the shapes differ, a value is not finite, there is no film, wind is below 0, or no hour has passed or none
        is ahead.
    """

    air_temperature: NDArray[np.float64]
    effective_temperature: NDArray[np.float64]
    film_coefficient: NDArray[np.float64]
    wind_speed: NDArray[np.float64]
    past: int

    def __post_init__(self) -> None:
        """Refuse what is no weather."""
        fields = (self.air_temperature, self.effective_temperature, self.film_coefficient, self.wind_speed)
        if len({each.shape for each in fields}) != 1 or not all(np.isfinite(each).all() for each in fields):
            message = f"weather round a wrap of shapes {[each.shape for each in fields]}, or not all finite"
            raise ValueError(message)
        if (self.wind_speed < 0.0).any() or (self.film_coefficient <= 0.0).any():
            message = "wind below 0 m/s or no film round a wrap"
            raise ValueError(message)
        if not 0 < self.past < self.air_temperature.shape[1]:
            message = f"{self.past} hours have passed of {self.air_temperature.shape[1]}"
            raise ValueError(message)


@dataclass(frozen=True, slots=True)
class WrapResult:
    """What it is like inside a wrap.

    Parameters
    ----------
    inside : numpy.ndarray
        [°C] At the end of each hour ahead, shape (n_members, n_times - past).
    reason : str or None
        A sentence for people, where the cover makes it colder than the air outside.
    """

    inside: NDArray[np.float64]
    reason: str | None


def under_wrap(
    weather: CoverWeather,
    cover: CoverBuild,
    *,
    cover_resistance_factor: Numbers = 1.0,
    air_changes_factor: Numbers = 1.0,
    inside_film: Numbers = 7.0,
    fill_thickness: Numbers = 0.25,
    soil_conductivity_factor: Numbers = 1.0,
    deep_ground_temperature: Numbers = 10.0,
    stood_before: bool = True,
    cell: float = CELL,
) -> WrapResult:
    """Return the temperature inside a wrap.

    Parameters
    ----------
    weather : CoverWeather
        Round it.
    cover : CoverBuild
        How it is built.
    cover_resistance_factor, air_changes_factor, soil_conductivity_factor : float or numpy.ndarray
        [1] shape (n_members,) if members differ, here and below.
    inside_film : float or numpy.ndarray
        [W/(m2 K)] At the inside of the cloth, and at the ground. At the ground it is probably high (cold air lies
        still on it), so that gains of narrow wraps are optimistic.
    fill_thickness : float or numpy.ndarray
        [m] No more than half of the diameter is counted.
    deep_ground_temperature : float or numpy.ndarray
        [°C] At 2 m.
    stood_before : bool
        Whether the wrap stood in the hours that have passed, too; else the ground was bare.
    cell : float
        [m] Of the ground near its surface.

    Returns
    -------
    WrapResult

    Notes
    -----
    One node of air at rest with the ground below and the world outside at every moment, as air holds next to no heat.
    A tall column is colder than this at its top and warmer at its base, by some degrees.
    """
    first = first_solved(weather.past)
    film = _row(inside_film)
    envelope = envelope_of(cover)
    loss = _cloth_loss(weather, cover, _row(cover_resistance_factor), film, _row(fill_thickness)) * envelope.cloth
    exchange = _air_loss(weather, cover, _row(air_changes_factor)) * envelope.volume
    outside = (loss * weather.effective_temperature + exchange * weather.air_temperature) / (loss + exchange)
    conductance, outside = ((loss + exchange) / envelope.ground)[:, first:], outside[:, first:]
    covered = Film(outside, conductance * film / (conductance + film))
    bare = Film(weather.effective_temperature[:, first:], weather.film_coefficient[:, first:])
    is_covered = (np.arange(outside.shape[1]) >= weather.past - first) | stood_before
    top = Film(
        np.where(is_covered, covered.temperature, bare.temperature),
        np.where(is_covered, covered.conductance, bare.conductance),
    )
    column = column_of([Layer(GARDEN_LOAM, DEEP, soil_conductivity_factor)], cell, _EVEN_SOIL, _GROWTH)
    air = first_days(weather.air_temperature, weather.past)
    start = column.enthalpy(start_profile(air, column.depths, deep_ground_temperature=deep_ground_temperature))
    past = weather.past - first
    ground = solve_ahead(column, top, deep_ground_temperature, start, [], past)
    conductance, outside = conductance[:, past:], outside[:, past:]
    inside = np.asarray((conductance * outside + film * ground.surface) / (conductance + film))
    return WrapResult(inside, why_colder(inside, weather.air_temperature[:, weather.past :]))


def _cloth_loss(
    weather: CoverWeather,
    cover: CoverBuild,
    factor: NDArray[np.float64],
    film: NDArray[np.float64],
    fill_thickness: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the U-value of the cloth and its fill [W/(m2 K)]."""
    resistance = 1.0 / film + COVER_RESISTANCES[cover.material] * factor + 1.0 / weather.film_coefficient
    if cover.fill is not None:
        resistance = resistance + np.minimum(fill_thickness, cover.diameter / 2.0) / FILL_CONDUCTIVITIES[cover.fill]
    return np.asarray(1.0 / resistance)


def _air_loss(weather: CoverWeather, cover: CoverBuild, factor: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what the air that comes in carries off [W/(m3 K)]."""
    calm = CLOSED_AIR_CHANGES if cover.is_closed_at_ground else OPEN_AIR_CHANGES
    return np.asarray(AIR_CHANGE_HEAT * calm * factor * (1.0 + WIND_SHARE_OF_AIR_CHANGES * weather.wind_speed))


def why_colder(inside: NDArray[np.float64], air_temperature: NDArray[np.float64]) -> str | None:
    """Return why it is colder under a cover than outside, if it is in any hour of the coldest night.

    Parameters
    ----------
    inside, air_temperature : numpy.ndarray
        [°C] shape (n_members, n_times).

    Returns
    -------
    str or None
        A sentence, if it is so for at least half of the members.
    """
    return COLDER_THAN_AIR if is_colder_inside(inside, air_temperature, air_temperature) else None


def _row(value: Numbers) -> NDArray[np.float64]:
    """Return a number of each member to go with hours, shape (1 or n_members, 1)."""
    return np.atleast_1d(np.asarray(value, dtype=np.float64))[:, None]
