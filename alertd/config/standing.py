"""From the tables that say how trees stand to what the models take: in m, K and s."""

from __future__ import annotations

from typing import TYPE_CHECKING

from alertd.core import celsius, celsius_difference
from alertd.site import (
    CoverBuild,
    CoverFill,
    CoverMaterial,
    Insulation,
    MulchBuild,
    MulchMaterial,
    Place,
    PotStanding,
    StandsOn,
    StoreKind,
    StoreRoom,
    Substrate,
    Wetness,
)

from .quantities import length_of_time
from .standing_sections import CENTIMETRES

if TYPE_CHECKING:
    from alertd.core import TemperatureUnit

    from .standing_sections import CoverSection, MulchSection, PlaceSection, PotSection, StoreSection


def pot_standing(section: PotSection) -> PotStanding:
    """Return how pots stand, lengths in m."""
    return PotStanding(
        stands_on=StandsOn(section.stands_on),
        together=section.together,
        substrate=Substrate(section.substrate),
        wetness=Wetness(section.wetness),
        insulation=Insulation(section.insulation),
        mulch=section.mulch_cm / CENTIMETRES,
        sun=section.sun,
        top_diameter=None if section.top_diameter_cm is None else section.top_diameter_cm / CENTIMETRES,
        height=None if section.height_cm is None else section.height_cm / CENTIMETRES,
    )


def cover_build(section: CoverSection, unit: TemperatureUnit) -> CoverBuild:
    """Return how a wrap is built, its measured gain in K."""
    gain = section.measured_gain
    return CoverBuild(
        material=CoverMaterial(section.material),
        diameter=section.diameter_m,
        height=section.height_m,
        is_closed_at_ground=section.closed_at_ground,
        skirt=section.skirt_m,
        fill=None if section.fill is None else CoverFill(section.fill),
        measured_gain=None if gain is None else celsius_difference(gain, unit),
    )


def mulch_build(section: MulchSection) -> MulchBuild:
    """Return what lies on the wood, its depth in m."""
    return MulchBuild(
        material=MulchMaterial(section.material), depth=section.depth_cm / CENTIMETRES, has_tarp=section.tarp
    )


def place_of(section: PlaceSection, unit: TemperatureUnit) -> Place:
    """Return where trees stand, differences in K and the branch in m."""
    warmer = section.wall_warmer_by
    return Place(
        wall_view=section.wall_view,
        wall_warmer_by=Place().wall_warmer_by if warmer is None else celsius_difference(warmer, unit),
        hollow_offset=celsius_difference(section.hollow_offset, unit),
        branch=section.branch_cm / CENTIMETRES,
    )


def store_room(section: StoreSection | None, unit: TemperatureUnit) -> StoreRoom | None:
    """Return where pots winter, the time constant in s and what it is kept above in °C, if anybody said so."""
    if section is None:
        return None
    lag, kept_above = section.time_constant, section.kept_above
    return StoreRoom(
        kind=StoreKind(section.kind),
        time_constant=None if lag is None else length_of_time(lag).total_seconds(),
        sensor=section.sensor,
        kept_above=None if kept_above is None else celsius(kept_above, unit),
    )
