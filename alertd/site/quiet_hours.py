"""Hours in which somebody does not want to be disturbed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.core import as_utc

from .local_time import instant_of
from .work import Slot

if TYPE_CHECKING:
    from datetime import datetime, time

    from .place import Site

_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class QuietHours:
    """The hours in which somebody does not want to be disturbed.

    Parameters
    ----------
    start, end : datetime.time
        Local; an end at or before the start is on the next day.

    Raises
    ------
    ValueError
        If they are the same: nobody knows whether that is always or never.
    """

    start: time
    end: time

    def __post_init__(self) -> None:
        """Refuse hours that could mean a whole day."""
        if self.start == self.end:
            message = f"quiet hours must begin and end at different times, not both at {self.start}"
            raise ValueError(message)

    def has(self, clock: time) -> bool:
        """Return whether a local time of day lies in them; their end does not."""
        if self.start < self.end:
            return self.start <= clock < self.end
        return clock >= self.start or clock < self.end

    def at(self, site: Site, now: datetime) -> Slot | None:
        """Return the quiet hours that an instant lies in.

        Parameters
        ----------
        site : Site
            Gives local time.
        now : datetime
            Aware.

        Returns
        -------
        Slot or None
            From their begin to their end; ``None`` outside of them.
        """
        present, today = as_utc(now), site.local(now).date()
        for day in (today - _DAY, today, today + _DAY):
            last = day if self.start < self.end else day + _DAY
            start = instant_of(site.time_zone, day, self.start)
            end = instant_of(site.time_zone, last, self.end)
            if start <= present < end:
                return Slot(start, end)
        return None
