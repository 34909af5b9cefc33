"""Tables of a group that say how its trees stand.

Lengths are in the unit that the key ends with, differences of temperature in the `units` of the file.
"""

import math
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, WithJsonSchema

from alertd.site import CoverBuild, MulchBuild, Place, PotStanding
from alertd.thermal.all_parameters import KNOWN_PARAMETERS
from alertd.thermal.parameters import Parameter, with_unit
from alertd.thermal.possible import possible_range
from alertd.thermal.ring import THINNEST

from .quantities import Lag, Number, ParameterName, StationName, Whole, YesNo
from .section import Section

#: [cm] in a metre. By definition.
CENTIMETRES = 100.0


class PotSection(Section):
    """How the pots of a group stand; containers only."""

    stands_on: Literal["paving", "soil", "feet"] = Field(
        default="paving", description="What is under the pots: paving, soil, or feet that let the wind through."
    )
    together: Whole = Field(
        default=PotStanding().together,
        ge=1,
        le=100_000,
        description="How many pots stand side by side, touching; 1 for pots that stand alone.",
    )
    substrate: Literal["potting_mix", "bark_mix", "mineral_mix", "peat"] = Field(
        default="potting_mix",
        description=(
            "What the pots are filled with: the usual bark and peat, coarse bark, loam with grit and compost, or peat "
            "alone."
        ),
    )
    wetness: Literal["dry", "moist", "wet"] = Field(
        default="moist",
        description="How wet the root balls are when the cold comes. Dry ones freeze faster and deeper.",
    )
    insulation: Literal["none", "bubble_wrap", "blanket", "jute", "styrofoam"] = Field(
        default="none", description="What is wrapped round the pots themselves."
    )
    mulch_cm: Number = Field(
        default=0.0, ge=0.0, le=200.0, description="Depth of loose mulch on top of the root balls in centimetres."
    )
    sun: Number = Field(
        default=PotStanding().sun,
        ge=0.0,
        le=1.0,
        description="Share of the day's direct sun that reaches the pots, from 0 in full shade to 1 in the open.",
    )
    top_diameter_cm: Number | None = Field(
        default=None,
        gt=0.0,
        le=500.0,
        description="Diameter of one pot at its rim in centimetres; left out, the usual one for its litres.",
    )
    height_cm: Number | None = Field(
        default=None,
        gt=0.0,
        le=500.0,
        description="Height of one pot in centimetres; left out, the usual one for its litres.",
    )


class CoverSection(Section):
    """How the wrap of a group is built."""

    material: Literal["tarp", "blanket_and_tarp", "frost_cloth", "bubble_wrap"] = Field(
        default="blanket_and_tarp", description="What the wrap is made of. A tarp alone gains little or nothing."
    )
    diameter_m: Number = Field(
        default=CoverBuild().diameter, gt=0.0, le=50.0, description="Diameter of the wrapped column in metres."
    )
    height_m: Number = Field(
        default=CoverBuild().height, gt=0.0, le=20.0, description="Height of the wrapped column in metres."
    )
    closed_at_ground: YesNo = Field(default=True, description="Whether no air gets in at the foot of the wrap.")
    skirt_m: Number = Field(
        default=CoverBuild().skirt,
        ge=0.0,
        le=20.0,
        description="How far the wrap reaches out over the ground beyond the column, all round, in metres.",
    )
    fill: Literal["dry_leaves", "straw"] | None = Field(
        default=None, description="What the space round the wood is filled with; left out, nothing but air."
    )
    measured_gain: Number | None = Field(
        default=None,
        ge=-60.0,
        le=60.0,
        description=(
            "Degrees by which it was warmer in the wrap than outside in a cold night, by your own thermometers; left "
            "out, a model says it."
        ),
    )


class MulchSection(Section):
    """What lies in the rings or on the bent stems of a group."""

    material: Literal["straw", "dry_leaves", "wet_leaves", "wood_chips"] = Field(
        default="straw", description="What the mulch is. Leaves that the rain can reach are wet ones."
    )
    depth_cm: Number = Field(
        default=MulchBuild().depth * CENTIMETRES,
        ge=THINNEST * CENTIMETRES,
        le=300.0,
        description="Depth of the mulch over or round the wood in centimetres; less than 2 is no cover.",
    )
    tarp: YesNo = Field(
        default=False,
        description="Whether a tarp keeps the rain off. Leaves without one are taken as wet, and keep less warm.",
    )


class PlaceSection(Section):
    """Where the trees of a group stand."""

    wall_view: Number = Field(
        default=Place().wall_view,
        ge=0.0,
        le=1.0,
        description=(
            "How much of what the trees see is the wall of a heated building, from 0 in the open to 1; about 0.3 close "
            "beside a wall."
        ),
    )
    wall_warmer_by: Number | None = Field(
        default=None,
        ge=0.0,
        le=60.0,
        description=(
            "Degrees by which that wall is warmer than the air in a cold night; left out: 3 °C (5.4 °F), assumed."
        ),
    )
    hollow_offset: Number = Field(
        default=Place().hollow_offset,
        ge=-60.0,
        le=0.0,
        description=(
            "Degrees, 0 or below, by which it gets colder here than forecast in calm clear nights; compare your own "
            "minimum thermometer with the forecast. Hollows of 2 to 5 °C (4 to 9 °F) are common."
        ),
    )
    branch_cm: Number = Field(
        default=Place().branch * CENTIMETRES,
        gt=0.0,
        le=100.0,
        description="Diameter of the thinnest wood that must live, in centimetres.",
    )


class StoreSection(Section):
    """Where the pots of a group winter."""

    kind: Literal["unheated_garage", "shed", "cellar"] = Field(
        default="unheated_garage", description="What the room is."
    )
    time_constant: Lag | None = Field(
        default=None,
        description=(
            'Length of time, like "20h", in which the room has followed a change outside to about two thirds; left '
            "out, the usual one of its kind."
        ),
    )
    sensor: StationName | None = Field(
        default=None, description="Name of your own thermometer in the room, as the observations section knows it."
    )
    kept_above: Number | None = Field(
        default=None,
        ge=-120.0,
        le=120.0,
        description=(
            "Temperature, in the units of the file, at or above which heating keeps the room; left out, nothing heats "
            "it."
        ),
    )


def measured_schema(parameters: Mapping[str, Parameter]) -> dict[str, Any]:
    """Return the JSON Schema of a table of measured numbers.

    Parameters
    ----------
    parameters : mapping of str to Parameter
        What can be measured, by name.

    Returns
    -------
    dict
        A schema of an object in which every key says its unit and the value that is used otherwise.
    """
    return {
        "type": "object",
        "properties": {
            name: {"type": "number", **_bounds(parameter), "description": _description(parameter)}
            for name, parameter in parameters.items()
        },
        "additionalProperties": False,
    }


def _bounds(parameter: Parameter) -> dict[str, float]:
    bounds = zip(("minimum", "maximum"), possible_range(parameter), strict=True)
    return {name: bound for name, bound in bounds if math.isfinite(bound)}


def _description(parameter: Parameter) -> str:
    usual = f"{parameter.value:g}"
    if parameter.is_assumed:
        usual = f"{usual} ({parameter.low:g} to {parameter.high:g})"
    return f"{parameter.meaning}; built in: {with_unit(usual, parameter.unit)}, {parameter.provenance}"


#: Numbers of the models that somebody measured, by the name of the parameter.
Measured = Annotated[dict[ParameterName, Number], WithJsonSchema(measured_schema(KNOWN_PARAMETERS))]
