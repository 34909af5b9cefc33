"""When people can work."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time, timedelta


@dataclass(frozen=True, slots=True)
class WorkHours:
    """When people can work, and how they are told.

    Parameters
    ----------
    earliest, latest : datetime.time
        Local time of day between which work may be asked for.
    daylight_only : bool
        Whether work stops at sunset.
    people : int
        How many people work together.
    reminder_before : timedelta
        How long before the latest start the one reminder is sent.

    Raises
    ------
    ValueError
        If the hours are empty or nobody works.
    """

    earliest: time = time(7, 0)
    latest: time = time(20, 0)
    daylight_only: bool = True
    people: int = 1
    reminder_before: timedelta = timedelta(hours=2)

    def __post_init__(self) -> None:
        """Refuse hours in which nothing can be done."""
        if self.earliest >= self.latest:
            message = f"working hours must begin before they end, not {self.earliest} to {self.latest}"
            raise ValueError(message)
        if self.people < 1:
            message = f"at least one person must work, not {self.people}"
            raise ValueError(message)
