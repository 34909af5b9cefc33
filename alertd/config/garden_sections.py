"""Sections of the configuration that describe the garden: place, people, trees, thresholds.

Temperatures are in the `units` of the file; what is left out is built in, in °C.
"""

from typing import Annotated, Literal

from pydantic import Field

from alertd.core import TemperatureUnit, in_unit
from alertd.hardiness import BUILT_IN_CLASSES
from alertd.risk import DEFAULT_ROOT_ZONE, RuleSettings

from .quantities import (
    ClassName,
    DayOfYear,
    Gap,
    Horizon,
    Line,
    Lines,
    MailAddress,
    Notice,
    Number,
    Slug,
    TimeOfDay,
    Whole,
    YesNo,
    ZoneName,
)
from .section import Section
from .standing_sections import CoverSection, Measured, MulchSection, PlaceSection, PotSection, StoreSection

_BUILT_IN_NAMES = ", ".join(built_in.name for built_in in BUILT_IN_CLASSES)

#: What roots of classes that do not say so stand, for people of either unit.
_ROOT_ZONE = f"{DEFAULT_ROOT_ZONE:g} °C ({in_unit(DEFAULT_ROOT_ZONE, TemperatureUnit.FAHRENHEIT):g} °F)"

#: A temperature in the `units` of the file; `temperatures` looks closer.
Temperature = Annotated[float, Field(strict=True, allow_inf_nan=False, ge=-120.0, le=120.0)]


class SiteSection(Section):
    """The place that is watched."""

    name: Line = Field(description="Name of the place, as its people call it.")
    latitude: Number = Field(ge=-90.0, le=90.0, description="Degrees north of the equator; south is negative.")
    longitude: Number = Field(ge=-180.0, le=180.0, description="Degrees east of Greenwich; west is negative.")
    elevation_m: Number = Field(ge=-450.0, le=6000.0, description="Height above the sea in metres.")
    time_zone: ZoneName = Field(description='IANA time zone, like "America/New_York"; all times in messages are in it.')
    contact: MailAddress = Field(
        default="", description="Mail address that public weather services may write to about this program's requests."
    )
    last_freeze: DayOfYear = Field(
        description='Month and day, like "04-25", after which the spring is trusted; covers come off only past it.'
    )


class WorkSection(Section):
    """When people can work, and how they are told."""

    earliest: TimeOfDay = Field(default="07:00", description="Local time from which work may be asked for.")
    latest: TimeOfDay = Field(default="20:00", description="Local time until which work may be asked for.")
    daylight_only: YesNo = Field(default=True, description="Whether work stops at sunset.")
    people: Whole = Field(default=1, ge=1, le=1000, description="How many people work together.")
    reminder_before: Notice = Field(
        default="2h", description="How long before the latest sensible start the one reminder is sent."
    )


class GroupSection(Section):
    """Trees that are judged and handled together."""

    id: Slug = Field(description='Short name for commands and the log, like "patio-pots"; each only once.')
    name: Line = Field(description='As people call the group in messages, like "the patio pots".')
    growing: Literal["container", "in_ground"] = Field(description="Where the roots are.")
    count: Whole = Field(ge=1, le=1_000_000, description="How many trees.")
    species: Line = Field(description="What the trees are, for the reader.")
    class_: ClassName = Field(
        alias="class", description=f"Hardiness class: one from the classes section, or built in: {_BUILT_IN_NAMES}."
    )
    protection: Literal["store", "cluster", "wrap", "mulch_ring", "bend_and_mulch", "none"] = Field(
        description=(
            "What the group gets when real cold comes. store and cluster are for containers; mulch_ring and "
            "bend_and_mulch for trees in the ground; wrap and none for both."
        )
    )
    litres: Number | None = Field(
        default=None, gt=0.0, le=5000.0, description="Volume of one container in litres; containers only."
    )
    minutes_per_tree: Number | None = Field(
        default=None,
        gt=0.0,
        le=1440.0,
        description="Minutes of one person's work to protect one tree; left out, a usual time for the protection.",
    )
    notes: Lines = Field(default="", description="Repeated in messages about the group.")
    pot: PotSection = Field(default=PotSection(), description="How the pots stand; containers only.")
    cover: CoverSection = Field(
        default=CoverSection(), description="How the wrap is built; only for groups whose protection is wrap."
    )
    mulch: MulchSection = Field(
        default=MulchSection(),
        description="What lies on the wood; only for groups whose protection is mulch_ring or bend_and_mulch.",
    )
    place: PlaceSection = Field(default=PlaceSection(), description="A wall or a hollow, and the wood that counts.")
    store: StoreSection | None = Field(
        default=None,
        description=(
            "Where the pots winter; only for groups whose protection is store. Left out, the room is taken for a safe "
            "one: the rule store_room judges only rooms that are described."
        ),
    )
    measured: Measured = Field(
        default={},
        description=(
            "Numbers of the models that you measured, by name, each in its own unit (never in °F) and in place of an "
            "assumed one."
        ),
    )


class ClassSection(Section):
    """An own hardiness class, or changes to a built-in one."""

    wood: Temperature | None = Field(default=None, description="Air temperature at or below which wood takes damage.")
    roots: Temperature | None = Field(
        default=None,
        description=(
            "Air temperature below which roots in a container may take damage; left out, the threshold of the rule "
            "container_roots."
        ),
    )
    spring_limit: Temperature | None = Field(
        default=None,
        description="Air temperature below which tissue that has begun to grow takes damage.",
    )
    root_zone: Temperature | None = Field(
        default=None,
        description=(
            "Temperature of the root ball itself, not of the air, below which the first roots die; left out in an own "
            f"class, {_ROOT_ZONE}, as for figs, assumed."
        ),
    )
    provenance: Lines | None = Field(
        default=None, description="Where the values come from, for the record; left out, they are called own values."
    )


class RuleSection(Section):
    """Numbers of one rule."""

    enabled: YesNo = Field(default=True, description="Whether the rule speaks at all.")
    margin: Number | None = Field(
        default=None,
        ge=-50.0,
        le=50.0,
        description="Degrees by which the rule speaks earlier than the critical temperature; built in: 0.",
    )
    hysteresis: Number | None = Field(
        default=None,
        ge=0.0,
        le=50.0,
        description=("Degrees above the threshold that close an open alert; built in: 1 °C (1.8 °F)."),
    )
    horizon: Horizon = Field(default="72h", description="How far ahead the rule looks.")
    probability_open: Number = Field(
        default=RuleSettings().probability_open,
        gt=0.0,
        le=1.0,
        description="An alert opens at this probability of damage or above, from 0 to 1.",
    )
    probability_close: Number = Field(
        default=RuleSettings().probability_close,
        gt=0.0,
        le=1.0,
        description="An open alert closes below this probability; not above probability_open.",
    )
    spell_gap: Gap = Field(default="36h", description="Cold hours closer together than this are one cold spell.")


class ContainerRootsSection(RuleSection):
    """Numbers of the rule for roots in containers."""

    threshold: Temperature | None = Field(
        default=None,
        description=(
            "Air temperature below which roots in containers may take damage, for classes that name none; built in: "
            "15 °F (-9.4 °C), common practice."
        ),
    )


class RootZoneSection(RuleSection):
    """Numbers of the rule for the root ball itself."""

    share: Number = Field(
        default=0.2,
        gt=0.0,
        lt=1.0,
        description="Part of the root ball that may be lost before it counts, from 0 to 1.",
    )


class SpringSection(RuleSection):
    """Numbers of a rule that waits for a safe stretch of spring."""

    horizon: Horizon = Field(default="120h", description="How far ahead the rule looks.")


class CreditsSection(Section):
    """Degrees that a protection in place gains."""

    wrap: Number | None = Field(
        default=None,
        ge=0.0,
        le=60.0,
        description="An airtight wrap closed at the ground; built in: 5 °F (2.8 °C), common practice.",
    )
    cluster: Number | None = Field(
        default=None, ge=0.0, le=60.0, description="Containers pushed together; built in: 0."
    )
    mulch_ring: Number | None = Field(
        default=None, ge=0.0, le=60.0, description="A ring filled with mulch; built in: 10 °F (5.6 °C), assumed."
    )
    bend_and_mulch: Number | None = Field(
        default=None,
        ge=0.0,
        le=60.0,
        description=(
            "Bent down and buried; built in: 15 °F (8.3 °C), assumed. "
            "Straw 4 in deep gained 20 °F (11.1 °C) at the ground when measured."
        ),
    )
    none: Number | None = Field(default=None, ge=0.0, le=60.0, description="No protection; built in: 0.")


class RulesSection(Section):
    """The rules that may raise an alert."""

    container_roots: ContainerRootsSection = Field(
        default=ContainerRootsSection(), description="Air too cold for roots in containers."
    )
    wood: RuleSection = Field(default=RuleSection(), description="Air too cold for dormant wood.")
    spring_frost: RuleSection = Field(default=RuleSection(), description="Frost on trees that have begun to grow.")
    root_zone: RootZoneSection = Field(
        default=RootZoneSection(), description="Root balls too cold, as a model of the pot computes them."
    )
    wood_temperature: RuleSection = Field(
        default=RuleSection(),
        description="Dormant wood too cold, as a model of bare and covered wood computes it.",
    )
    bud_temperature: RuleSection = Field(
        default=RuleSection(), description="Buds in growth too cold, as a model of them computes it."
    )
    store_room: RuleSection = Field(
        default=RuleSection(),
        description="Roots of stored containers too cold, as a model of the room computes it.",
    )
    uncover: SpringSection = Field(default=SpringSection(), description="When covers may come off.")
    bring_out: SpringSection = Field(default=SpringSection(), description="When stored containers may come out.")
    credits: CreditsSection = Field(
        default=CreditsSection(), description="Degrees that a protection in place gains, by protection."
    )
