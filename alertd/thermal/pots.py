"""Pots by what people know of them: their litres, perhaps a size; and what they are filled with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.site import Insulation, StandsOn, Wetness

from .grid import Container
from .medium import Medium
from .parameters import Parameter
from .sky import SKY_PARAMETERS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from alertd.site import PotStanding, TreeGroup

#: Volume [L] and inner diameters at top and bottom and height [m] of usual nursery pots. Assumed: invented sizes close
#: to what is sold.
_USUAL = ((15.0, 0.29, 0.24, 0.27), (25.0, 0.34, 0.28, 0.33), (60.0, 0.46, 0.38, 0.43))

#: [L] Of a pot of which nobody said how large it is: a small one, on the side of safety. Assumed.
UNKNOWN_VOLUME = 15.0

#: Water by volume: value, one standard deviation below and above [1]. Assumed; a bark and peat mix holds 0.5 after
#: watering and wilts plants at 0.15 (from memory).
_WATER = {Wetness.DRY: (0.20, 0.15, 0.27), Wetness.MOIST: (0.35, 0.27, 0.43), Wetness.WET: (0.50, 0.43, 0.57)}

#: Thermal resistance round the pot [m2 K/W]. Assumed: 1 cm of still air has 0.4.
INSULATION_RESISTANCE = {
    Insulation.NONE: 0.0,
    Insulation.BUBBLE_WRAP: 0.35,
    Insulation.BLANKET: 0.35,
    Insulation.JUTE: 0.10,
    Insulation.STYROFOAM: 0.55,
}

#: What is under a pot: conductance to it [W/(m2 K)]. Assumed: some millimetres of air under a flat bottom, wind under
#: feet.
_BOTTOM_CONDUCTANCE = {StandsOn.PAVING: 8.0, StandsOn.SOIL: 10.0, StandsOn.FEET: 5.0}

#: Conductivity of what has dried out, and of solids, water and ice [W/(m K)]; porosity [1]. Sources: Moene & van Dam,
#: Transport in the Atmosphere-Vegetation-Soil Continuum, table 2.2, for organic solids and water (seen); dry mix and
#: porosity assumed.
_DRY, _SOLID, _WATER_CONDUCTIVITY, _ICE = 0.06, 0.25, 0.57, 2.22
_POROSITY = 0.85

#: Cote and Konrad 2005, kappa of organic fibrous soils, unfrozen and frozen (from memory).
_KAPPA_UNFROZEN, _KAPPA_FROZEN = 0.60, 0.25

#: Heat capacity of the solids, water and ice by volume [J/(m3 K)], latent heat [J/m3], water that never freezes [1].
#: Sources: table 2.2 of Moene & van Dam (seen); unfrozen water assumed.
_SOLID_CAPACITY, _WATER_CAPACITY, _ICE_CAPACITY = 0.30e6, 4.18e6, 1.94e6
_LATENT, _NEVER_FROZEN = 3.34e8, 0.04

#: Numbers of every pot, whatever its people say; those that depend on what they say are made by `pot_parameters`.
POT_PARAMETERS = (
    *SKY_PARAMETERS,
    Parameter(
        "pot_wind_share",
        0.5,
        0.35,
        0.7,
        "1",
        "wind at the pots by the forecast wind at ten metres",
        "assumed; 0.75 over open grass at two metres by FAO-56",
    ),
    Parameter(
        "water_content",
        *_WATER[Wetness.MOIST],
        "1",
        "water in the root ball by volume",
        "assumed: moist, as some days after watering",
    ),
    Parameter(
        "conductivity_factor",
        1.0,
        0.7,
        1.4,
        "1",
        "conductivity of the substrate by that of the formula",
        "assumed: measured organic media scatter so",
    ),
    Parameter(
        "pot_absorptance", 0.7, 0.55, 0.85, "1", "share of the sun that pot and surface absorb", "assumed: dark plastic"
    ),
    Parameter("sun_share", 0.4, 0.2, 0.6, "1", "share of the day's sun that reaches the pot", "assumed"),
    Parameter("bottom_conductance", 8.0, 5.0, 12.0, "W/m2/K", "contact of the pot with what is under it", "assumed"),
    Parameter(
        "cluster_share",
        0.35,
        0.2,
        0.6,
        "1",
        "heat that the sides within a cluster exchange, by that of a free wall",
        "assumed",
    ),
)


def container_of(litres: float, top_diameter: float | None = None, height: float | None = None) -> Container:
    """Return the inside of a usual pot of a volume.

    Parameters
    ----------
    litres : float
        [L] Above 0.
    top_diameter, height : float or None
        [m] Measured; the rest is as usual.

    Returns
    -------
    Container
        Of exactly that volume, unless both lengths are given: then as slender as they and the usual taper make it.

    Raises
    ------
    ValueError
        If the volume is not above 0.
    """
    if not litres > 0.0:
        message = f"a pot holds more than 0 L, not {litres}"
        raise ValueError(message)
    volumes, tops, bottoms, heights = (np.array(column) for column in zip(*_USUAL, strict=True))
    at = np.log(litres)
    scale = np.cbrt(litres / volumes)  # each usual pot blown up to the volume
    top, bottom, tall = (float(np.interp(at, np.log(volumes), lengths * scale)) for lengths in (tops, bottoms, heights))
    taper = bottom / top
    volume = litres / 1000.0
    if top_diameter is not None and height is not None:
        return Container(top_diameter / 2.0, top_diameter / 2.0 * taper, height)
    shape = np.pi / 12.0 * (1.0 + taper + taper * taper)
    if top_diameter is not None:
        top, tall = top_diameter, volume / (shape * top_diameter**2)
    elif height is not None:
        top, tall = float(np.sqrt(volume / (shape * height))), height
    else:
        stretch = float(np.cbrt(volume / (shape * top**2 * tall)))
        top, tall = top * stretch, tall * stretch
    return Container(top / 2.0, top / 2.0 * taper, tall)


def medium_of(water_content: float, conductivity_factor: float = 1.0) -> Medium:
    """Return an organic substrate of some moisture.

    Parameters
    ----------
    water_content : float
        By volume [1], 0.05 to 0.85.
    conductivity_factor : float
        [1]

    Returns
    -------
    Medium
        At 0.45, 0.24 W/(m K) and 2.2 MJ/(m3 K) unfrozen; peat soil has 0.27 and 2.1 (Moene & van Dam, seen).

    Raises
    ------
    ValueError
        If there is no such moisture.
    """
    if not _NEVER_FROZEN < water_content <= _POROSITY:
        message = f"the water content must be above {_NEVER_FROZEN} and at most {_POROSITY}, not {water_content}"
        raise ValueError(message)
    saturation = water_content / _POROSITY

    def conductivity(water: float, kappa: float) -> float:
        saturated = _SOLID ** (1.0 - _POROSITY) * water**_POROSITY
        weight = kappa * saturation / (1.0 + (kappa - 1.0) * saturation)
        return float(_DRY + (saturated - _DRY) * weight) * conductivity_factor

    return Medium(
        conductivity_unfrozen=conductivity(_WATER_CONDUCTIVITY, _KAPPA_UNFROZEN),
        conductivity_frozen=conductivity(_ICE, _KAPPA_FROZEN),
        heat_capacity_unfrozen=_SOLID_CAPACITY + _WATER_CAPACITY * water_content,
        heat_capacity_frozen=_SOLID_CAPACITY + _ICE_CAPACITY * water_content,
        latent_heat=_LATENT * (water_content - _NEVER_FROZEN),
    )


@dataclass(frozen=True, slots=True)
class Pot:
    """One pot of a group, with the numbers that its model goes by.

    Parameters
    ----------
    container : Container
        Its inside.
    standing : PotStanding
        What its people say.
    parameters : mapping of str to Parameter
        By name.
    neighbours : int
        How many stand together, itself included.
    """

    container: Container
    standing: PotStanding
    parameters: Mapping[str, Parameter]
    neighbours: int


def pot_of(group: TreeGroup, *, is_clustered: bool) -> Pot:
    """Return what is modelled of a group's pots.

    Parameters
    ----------
    group : TreeGroup
        In containers.
    is_clustered : bool
        Whether they have been pushed together, all of them.

    Returns
    -------
    Pot
        With the numbers that people measured in their place.
    """
    standing = group.pot
    volume = UNKNOWN_VOLUME if group.container_volume is None else group.container_volume
    neighbours = max(standing.together, group.count) if is_clustered else standing.together
    parameters = {parameter.name: parameter for parameter in _parameters(standing, neighbours)}
    for name, value in group.overrides.items():
        if name in parameters:
            parameters[name] = parameters[name].measured(value)
    return Pot(container_of(volume, standing.top_diameter, standing.height), standing, parameters, neighbours)


def _parameters(standing: PotStanding, neighbours: int) -> list[Parameter]:
    """Return the numbers of a pot that stands as people say."""
    changed = {
        "water_content": _WATER[standing.wetness],
        "sun_share": (standing.sun, max(standing.sun - 0.2, 0.0), min(standing.sun + 0.2, 1.0)),
        "bottom_conductance": tuple(_BOTTOM_CONDUCTANCE[standing.stands_on] * factor for factor in (1.0, 0.6, 1.5)),
    }
    found = []
    for parameter in POT_PARAMETERS:
        if parameter.name == "cluster_share" and neighbours == 1:
            continue
        value, low, high = changed.get(parameter.name, (parameter.value, parameter.low, parameter.high))
        found.append(
            Parameter(parameter.name, value, low, high, parameter.unit, parameter.meaning, parameter.provenance)
        )
    return found
