"""Stems that lie under mulch, and under snow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.site import MulchBuild, MulchMaterial

from .column import Layer, column_of
from .column_flow import solve_ahead
from .film import Film
from .ground import DEEP, GARDEN_LOAM, GROUND_PARAMETERS, first_days, first_solved, start_profile
from .medium import Medium
from .parameters import Parameter
from .ring import THINNEST

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import Numbers

#: Loose dry stalks or leaves. Source: loose straw conducts 0.045 to 0.08 W/(m K), from memory; Csanady et al. 2021,
#: Materials 14:4408, weigh straw at 80 to 180 kg/m3 (seen).
_LOOSE = Medium(0.055, 0.055, 1.0e5, 1.0e5, 0.0)

#: What mulch is of. Source: assumed, but for straw.
MULCHES: dict[MulchMaterial, Medium] = {
    MulchMaterial.STRAW: _LOOSE,
    MulchMaterial.DRY_LEAVES: _LOOSE,
    MulchMaterial.WOOD_CHIPS: Medium(0.11, 0.13, 4.0e5, 3.2e5, 4.3e7),
    MulchMaterial.WET_LEAVES: Medium(0.25, 0.40, 1.6e6, 1.0e6, 1.1e8),
}

#: Mulch that the rain gets into, by the dry one. Assumed: leaves without a tarp are wet by the time of frost; straw
#: sheds the rain.
_RAINED_ON = {MulchMaterial.DRY_LEAVES: MulchMaterial.WET_LEAVES}

#: Density of snow some days old [kg/m3]. Assumed.
SNOW_DENSITY = 250.0

#: Cells of the columns [m]. A third of it moves the coldest hour of the stems by less than 0.35 K, most
#: while their mulch freezes just above them (tested).
CELL = 0.03

#: [m] Of soil under mulch that has such cells, and by how much thicker they get with each metre below. Assumed.
_EVEN_SOIL, _GROWTH = 0.1, 0.3

MULCH_PARAMETERS = (
    Parameter(
        name="mulch_conductivity_factor",
        value=1.0,
        low=0.7,
        high=1.6,
        unit="1",
        meaning="how well the mulch lets heat through, by what is usual for its material",
        provenance="assumed",
    ),
    Parameter(
        name="snow_density",
        value=SNOW_DENSITY,
        low=180.0,
        high=330.0,
        unit="kg/m3",
        meaning="how dense the snow is",
        provenance="assumed",
    ),
    *GROUND_PARAMETERS,
)


@dataclass(frozen=True, slots=True)
class GroundWeather:
    """Weather over a column, the days before in front.

    Parameters
    ----------
    air_temperature : numpy.ndarray
        [°C] shape (n_members, n_times).
    effective_temperature : numpy.ndarray
        [°C] What the surface exchanges heat with: air, sky and sun together.
    film_coefficient : numpy.ndarray
        [W/(m2 K)] With which it does.
    snow : numpy.ndarray
        [m] Depth of snow, 0 where there is none.
    past : int
        How many of the hours have passed: they start the column and are not in what is returned; at least 1.

    Raises
    ------
    ValueError
        If the shapes differ, the depth of snow is below 0 or not finite, or no hour has passed or none is ahead.
    """

    air_temperature: NDArray[np.float64]
    effective_temperature: NDArray[np.float64]
    film_coefficient: NDArray[np.float64]
    snow: NDArray[np.float64]
    past: int

    def __post_init__(self) -> None:
        """Refuse what is no weather."""
        fields = (self.air_temperature, self.effective_temperature, self.film_coefficient, self.snow)
        if len({each.shape for each in fields}) != 1 or not all(np.isfinite(each).all() for each in fields):
            message = f"weather over the ground of shapes {[each.shape for each in fields]}, or not all finite"
            raise ValueError(message)
        if (self.snow < 0.0).any() or not 0 < self.past < self.air_temperature.shape[1]:
            message = f"snow below 0 m, or {self.past} hours have passed of {self.air_temperature.shape[1]}"
            raise ValueError(message)


def snow_conductivity(density: Numbers) -> NDArray[np.float64]:
    """Return how well snow conducts [W/(m K)].

    Parameters
    ----------
    density : float or numpy.ndarray
        [kg/m3] From 156 to 600; taken to the nearer end beyond.

    Returns
    -------
    numpy.ndarray

    References
    ----------
    Sturm et al. 1997, Journal of Glaciology 43:26, the quadratic (from memory; that it exists, seen).
    """
    ratio = np.clip(np.asarray(density, dtype=np.float64), 156.0, 600.0) / 1000.0
    return np.asarray(0.138 - 1.01 * ratio + 3.233 * ratio * ratio)


def top_film(weather: GroundWeather, snow_density: Numbers = SNOW_DENSITY) -> Film:
    """Return the film over a column, the snow in it.

    Parameters
    ----------
    weather : GroundWeather
        Over it.
    snow_density : float or numpy.ndarray
        [kg/m3] shape (n_members,) if members differ.

    Returns
    -------
    Film
        Snow resists, but neither stores heat nor melts (assumed).
    """
    conductivity = np.atleast_1d(snow_conductivity(snow_density))[:, None]
    coefficient = weather.film_coefficient
    return Film(weather.effective_temperature, coefficient / (1.0 + coefficient * weather.snow / conductivity))


def medium_of_mulch(mulch: MulchBuild) -> Medium:
    """Return what mulch is of when the cold comes."""
    material = mulch.material if mulch.has_tarp else _RAINED_ON.get(mulch.material, mulch.material)
    return MULCHES[material]


def stem_under_mulch(
    weather: GroundWeather,
    mulch: MulchBuild,
    *,
    mulch_conductivity_factor: Numbers = 1.0,
    soil_conductivity_factor: Numbers = 1.0,
    deep_ground_temperature: Numbers = 10.0,
    snow_density: Numbers = SNOW_DENSITY,
    cell: float = CELL,
) -> NDArray[np.float64]:
    """Return the temperature between mulch and soil, where bent stems lie.

    Parameters
    ----------
    weather : GroundWeather
        Over the mulch.
    mulch : MulchBuild
        What lies on the stems.
    mulch_conductivity_factor, soil_conductivity_factor : float or numpy.ndarray
        [1] shape (n_members,) if members differ.
    deep_ground_temperature : float or numpy.ndarray
        [°C] At 2 m.
    snow_density : float or numpy.ndarray
        [kg/m3]
    cell : float
        [m] Of the column near its top.

    Returns
    -------
    numpy.ndarray
        [°C] At the end of each hour ahead, shape (n_members, n_times - past). With less than 2 cm of mulch that of bare
        soil.

    Notes
    -----
    Heat flows up and down only: right in the middle of a heap that reaches out by three times its depth to each side;
    a narrower one is colder. The ground starts as the air of the first of the hours that have passed would leave it,
    and the last week of them is solved.
    """
    layers = [Layer(GARDEN_LOAM, DEEP, soil_conductivity_factor)]
    depth = mulch.depth if mulch.depth >= THINNEST else 0.0
    if depth:
        layers.insert(0, Layer(medium_of_mulch(mulch), depth, mulch_conductivity_factor))
    column = column_of(layers, cell, depth + _EVEN_SOIL, _GROWTH)
    first, film = first_solved(weather.past), top_film(weather, snow_density)
    air = first_days(weather.air_temperature, weather.past)
    start = start_profile(air, column.depths - depth, deep_ground_temperature=deep_ground_temperature)
    top = Film(film.temperature[:, first:], film.conductance[:, first:])
    enthalpy, past = column.enthalpy(start), weather.past - first
    solved = solve_ahead(column, top, deep_ground_temperature, enthalpy, [depth], past)
    return solved.temperature[0] if depth else solved.surface
