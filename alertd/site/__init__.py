"""The place, its tree groups, its daylight and its people's hours."""

from .daylight import Daylight, Sun, daylight
from .groups import Condition, Cover, Growing, Protection, Stage, TreeGroup
from .local_time import instant_of, is_day_due, last_day_with, next_time_of
from .place import MonthDay, Site
from .quiet_hours import QuietHours
from .work import Slot, WorkHours, is_sociable, working_slots

__all__ = [
    "Condition",
    "Cover",
    "Daylight",
    "Growing",
    "MonthDay",
    "Protection",
    "QuietHours",
    "Site",
    "Slot",
    "Stage",
    "Sun",
    "TreeGroup",
    "WorkHours",
    "daylight",
    "instant_of",
    "is_day_due",
    "is_sociable",
    "last_day_with",
    "next_time_of",
    "working_slots",
]
