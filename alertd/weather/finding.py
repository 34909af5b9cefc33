"""What a check found in weather data."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime


class Check(StrEnum):
    """What was checked."""

    ORDER = "order"
    REPEATED_TIME = "repeated time"
    CONFLICTING_TIME = "conflicting time"
    PHYSICAL_RANGE = "physical range"
    DEW_POINT = "dew point above air temperature"
    RATE_OF_CHANGE = "rate of change"
    STUCK = "stuck value"
    GAP = "gap"
    NOT_TOLD = "not told by the source"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that a check found, and that the record of an evaluation repeats.

    Parameters
    ----------
    check : Check
        What was checked.
    variable : str
        CF standard name, ``time`` for what concerns the time axis, or the name of what else a source tells.
    first, last : datetime
        Aware UTC: the first and the last time concerned.
    count : int
        How many values, rows or gaps.
    text : str
        One line for a person.
    """

    check: Check
    variable: str
    first: datetime
    last: datetime
    count: int
    text: str
