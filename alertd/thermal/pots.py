"""Pots by what people know of them: their litres, perhaps a size; and what they are filled with."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from alertd.site import Insulation, StandsOn, Wetness

from .grid import Container
from .parameters import Parameter
from .sky import SKY_PARAMETERS
from .substrates import DRIEST, MIXES, POTTING_MIX

if TYPE_CHECKING:
    from collections.abc import Mapping

    from alertd.site import PotStanding, TreeGroup

    from .substrates import Mix

#: Volume [L] and inner diameters at top and bottom and height [m] of usual nursery pots. Assumed: invented sizes close
#: to what is sold.
_USUAL = ((15.0, 0.29, 0.24, 0.27), (25.0, 0.34, 0.28, 0.33), (60.0, 0.46, 0.38, 0.43))

#: Diameter at the bottom by that at the top: least and most [1]. Assumed.
_TAPERS = (0.5, 1.0)

#: [L] Of a pot of which nobody said how large it is, not even a length: a small one, on the side of safety. Assumed.
UNKNOWN_VOLUME = 15.0

#: Thermal resistance round the pot [m2 K/W]: value, one standard deviation below and above. Assumed: 1 cm of still air
#: has 0.4, and two layers of bubble wrap hold as much; jute gets wet.
_INSULATION = {
    Insulation.BUBBLE_WRAP: (0.35, 0.20, 0.50),
    Insulation.BLANKET: (0.35, 0.20, 0.50),
    Insulation.JUTE: (0.10, 0.05, 0.20),
    Insulation.STYROFOAM: (0.55, 0.40, 0.80),
}

#: What is under a pot: conductance to it [W/(m2 K)]. Assumed: some millimetres of air under a flat bottom, wind under
#: feet.
_BOTTOM_CONDUCTANCE = {StandsOn.PAVING: 8.0, StandsOn.SOIL: 10.0, StandsOn.FEET: 5.0}

#: What is known of the share of sun that a person names, and of a contact, 1 sd [1]. Assumed.
_SUN_SPREAD, _CONTACT_LOW, _CONTACT_HIGH = 0.2, 0.6, 1.5

#: Least and most that a number of a pot can be, whatever people measured: a slip of theirs must not stop the models
#: nor make pots warm. Assumed where physics sets no bound; the sky by the spread of its formulae.
POSSIBLE = {
    "sky_deviation": (-3.0, 3.0),
    "pot_wind_share": (0.0, 2.0),
    "conductivity_factor": (0.1, 10.0),
    "pot_absorptance": (0.0, 1.0),
    "sun_share": (0.0, 1.0),
    "bottom_conductance": (0.0, 100.0),
    "pot_ground_temperature": (-20.0, 25.0),
    "insulation_resistance": (0.0, 10.0),
    "cluster_share": (0.0, 1.0),
    "days_before_warmer_by": (-30.0, 30.0),
}

#: Numbers of every pot, whatever its people say; those that depend on what they say are made by `pot_parameters`.
POT_PARAMETERS = (
    *SKY_PARAMETERS,
    Parameter(
        "pot_wind_share",
        0.5,
        0.35,
        0.7,
        "1",
        "how much of the forecast wind reaches the pots",
        "assumed; 0.75 over open grass at two metres by FAO-56",
    ),
    Parameter(
        "water_content",
        *POTTING_MIX.water[Wetness.MOIST],
        "1",
        "how wet the root balls are, water by volume",
        "assumed: moist, as some days after watering",
    ),
    Parameter(
        "conductivity_factor",
        1.0,
        0.7,
        1.4,
        "1",
        "how well the substrate lets heat through, by what is usual for its water",
        "assumed: measured organic media scatter so",
    ),
    Parameter(
        "pot_absorptance",
        0.7,
        0.55,
        0.85,
        "1",
        "how much of the sun the pots take up, more if they are dark",
        "assumed: dark plastic",
    ),
    Parameter("sun_share", 0.4, 0.2, 0.6, "1", "how much of the day's sun reaches the pots", "assumed"),
    Parameter(
        "bottom_conductance", 8.0, 5.0, 12.0, "W/m2/K", "how closely the pots touch what is under them", "assumed"
    ),
    Parameter(
        "pot_ground_temperature",
        8.0,
        4.0,
        11.0,
        "Cel",
        "temperature of the ground a metre below the pots",
        "assumed: a garden's in early winter",
    ),
    Parameter(
        "insulation_resistance",
        *_INSULATION[Insulation.BUBBLE_WRAP],
        "m2.K/W",
        "how well what is wrapped round the pots keeps heat in",
        "assumed: 1 cm of still air has 0.4",
    ),
    Parameter(
        "cluster_share",
        0.35,
        0.2,
        0.6,
        "1",
        "how much heat the sides within a cluster lose, by a free wall",
        "assumed",
    ),
    Parameter(
        "days_before_warmer_by",
        0.0,
        -3.0,
        3.0,
        "K",
        "how cold the days before were, where nothing is known of them: by how much warmer than taken",
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
        Of exactly that volume; if both lengths are given, with the taper that makes it so, as far as pots have such
        tapers.

    Raises
    ------
    ValueError
        If the volume is not above 0.
    """
    if not litres > 0.0:
        message = f"a pot holds more than 0 L, not {litres}"
        raise ValueError(message)
    top, bottom, tall = _usual_lengths(litres)
    taper = bottom / top
    by_square = 12.0 / np.pi * litres / 1000.0  # volume = pi/12 top^2 height (1 + taper + taper^2)
    if top_diameter is not None and height is not None:
        least, most = _TAPERS
        wanted = by_square / (top_diameter**2 * height)
        bounded = min(max(wanted, 1.0 + least + least * least), 1.0 + most + most * most)
        taper = (math.sqrt(4.0 * bounded - 3.0) - 1.0) / 2.0
        return Container(top_diameter / 2.0, top_diameter / 2.0 * taper, height)
    by_square /= 1.0 + taper + taper * taper
    if top_diameter is not None:
        top, tall = top_diameter, by_square / top_diameter**2
    elif height is not None:
        top, tall = math.sqrt(by_square / height), height
    else:
        stretch = math.cbrt(by_square / (top * top * tall))
        top, tall = top * stretch, tall * stretch
    return Container(top / 2.0, top / 2.0 * taper, tall)


def _usual_lengths(litres: float) -> tuple[float, float, float]:
    """Return the diameters at top and bottom and the height [m] of a usual pot of about a volume.

    Each pot of the table is blown up to the volume; between two of them the lengths are linear in its logarithm.
    """
    volumes, *lengths = (np.array(column) for column in zip(*_USUAL, strict=True))
    scale = np.cbrt(litres / volumes)
    top, bottom, height = (float(np.interp(np.log(litres), np.log(volumes), each * scale)) for each in lengths)
    return top, bottom, height


def _volume_by_lengths(standing: PotStanding) -> float:
    """Return the volume [L] of a usual pot with the lengths that people measured, if any."""
    usual = container_of(UNKNOWN_VOLUME)
    wider = None if standing.top_diameter is None else standing.top_diameter / (2.0 * usual.radius_top)
    taller = None if standing.height is None else standing.height / usual.height
    wider, taller = wider or taller or 1.0, taller or wider or 1.0
    return UNKNOWN_VOLUME * wider * wider * taller


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

    @property
    def mix(self) -> Mix:
        """What it is filled with."""
        return MIXES[self.standing.substrate.value]


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
        With the numbers that people measured in their place; one that no pot can have becomes the nearest that it can.
    """
    standing = group.pot
    volume = _volume_by_lengths(standing) if group.container_volume is None else group.container_volume
    neighbours = max(standing.together, group.count) if is_clustered else standing.together
    parameters = pot_parameters(standing, neighbours, group.overrides)
    return Pot(container_of(volume, standing.top_diameter, standing.height), standing, parameters, neighbours)


def pot_parameters(
    standing: PotStanding, neighbours: int, measured: Mapping[str, float] | None = None
) -> dict[str, Parameter]:
    """Return the numbers that the model of a pot goes by, those that matter for how it stands.

    Parameters
    ----------
    standing : PotStanding
        What its people say.
    neighbours : int
        How many stand together, itself included.
    measured : mapping of str to float or None
        What they measured, by name; other names are passed over.

    Returns
    -------
    dict of str to Parameter
        By name, of `POT_PARAMETERS`.
    """
    mix, own = MIXES[standing.substrate.value], {} if measured is None else measured
    contact, sun = _BOTTOM_CONDUCTANCE[standing.stands_on], standing.sun
    changed = {
        "water_content": mix.water[standing.wetness],
        "sun_share": (sun, max(sun - _SUN_SPREAD, 0.0), min(sun + _SUN_SPREAD, 1.0)),
        "bottom_conductance": (contact, contact * _CONTACT_LOW, contact * _CONTACT_HIGH),
    }
    if standing.insulation is not Insulation.NONE:
        changed["insulation_resistance"] = _INSULATION[standing.insulation]
    left_out = {
        "cluster_share": neighbours == 1,
        "insulation_resistance": standing.insulation is Insulation.NONE and "insulation_resistance" not in own,
        "pot_ground_temperature": standing.stands_on is StandsOn.FEET,
    }
    found = {}
    for usual in POT_PARAMETERS:
        if left_out.get(usual.name, False):
            continue
        value, low, high = changed.get(usual.name, (usual.value, usual.low, usual.high))
        parameter = replace(usual, value=value, low=low, high=high)
        found[usual.name] = parameter.measured(own[usual.name]) if usual.name in own else parameter
    possible = POSSIBLE | {"water_content": (DRIEST, mix.porosity)}
    for name in own.keys() & found.keys() & possible.keys():
        least, most = possible[name]
        found[name] = found[name].measured(min(max(own[name], least), most))
    return found
