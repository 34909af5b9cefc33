"""The place, its tree groups, its daylight and its people's hours."""

from .groups import Condition, Cover, Growing, Protection, Stage, TreeGroup
from .place import MonthDay, Site
from .work import WorkHours

__all__ = [
    "Condition",
    "Cover",
    "Growing",
    "MonthDay",
    "Protection",
    "Site",
    "Stage",
    "TreeGroup",
    "WorkHours",
]
