"""The place, its tree groups, its daylight and its people's hours."""

from .daylight import Daylight, Sun, daylight
from .groups import Condition, Cover, Growing, Protection, Stage, TreeGroup
from .place import MonthDay, Site
from .work import Slot, WorkHours, is_sociable, working_slots

__all__ = [
    "Condition",
    "Cover",
    "Daylight",
    "Growing",
    "MonthDay",
    "Protection",
    "Site",
    "Slot",
    "Stage",
    "Sun",
    "TreeGroup",
    "WorkHours",
    "daylight",
    "is_sociable",
    "working_slots",
]
