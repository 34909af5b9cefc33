"""The place, its tree groups, its daylight and its people's hours."""

from .daylight import Daylight, Sun, daylight
from .groups import Condition, Cover, Growing, Protection, Stage, TreeGroup
from .local_time import instant_of, is_day_due, last_day_with, next_time_of
from .place import MonthDay, Site
from .quiet_hours import QuietHours
from .standing import (
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
from .work import Slot, WorkHours, is_sociable, working_slots

__all__ = [
    "Condition",
    "Cover",
    "CoverBuild",
    "CoverFill",
    "CoverMaterial",
    "Daylight",
    "Growing",
    "Insulation",
    "MonthDay",
    "MulchBuild",
    "MulchMaterial",
    "Place",
    "PotStanding",
    "Protection",
    "QuietHours",
    "Site",
    "Slot",
    "Stage",
    "StandsOn",
    "StoreKind",
    "StoreRoom",
    "Substrate",
    "Sun",
    "TreeGroup",
    "Wetness",
    "WorkHours",
    "daylight",
    "instant_of",
    "is_day_due",
    "is_sociable",
    "last_day_with",
    "next_time_of",
    "working_slots",
]
