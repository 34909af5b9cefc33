"""The place that is watched."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from alertd.core import as_utc

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

#: Month and day that divides one cold season from the next, by hemisphere. Source: Utah Climate
#: Center, freeze table help: spring and fall are split at 24 July (north) and 24 January (south), seen.
SEASON_SPLIT_NORTH = (7, 24)
SEASON_SPLIT_SOUTH = (1, 24)


@dataclass(frozen=True, slots=True)
class MonthDay:
    """A day of the year without a year.

    Parameters
    ----------
    month, day : int
        As in the calendar.
    """

    month: int
    day: int

    def __str__(self) -> str:
        """Return ``MM-DD``."""
        return f"{self.month:02d}-{self.day:02d}"


@dataclass(frozen=True, slots=True)
class Site:
    """One place: where it is and how its people tell the time.

    Parameters
    ----------
    name : str
        As its people call it.
    latitude, longitude : float
        [degrees north, degrees east], WGS 84.
    elevation : float
        [m] above sea level.
    time_zone : zoneinfo.ZoneInfo
        Zone of deadlines and of everything that people read.
    contact : str
        Mail address that public services may write to, or ``""``.
    last_freeze : MonthDay
        The date after which people here trust the spring; covers come off only past it.
    """

    name: str
    latitude: float
    longitude: float
    elevation: float
    time_zone: ZoneInfo
    contact: str
    last_freeze: MonthDay

    @property
    def slug(self) -> str:
        """The name in lower-case ASCII letters, digits and hyphens, for names of threads; ``site`` if none is left."""
        plain = unicodedata.normalize("NFKD", self.name).encode("ascii", "ignore").decode().lower()
        return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "site"

    def local(self, instant: datetime) -> datetime:
        """Return an instant in the site's local time."""
        return as_utc(instant).astimezone(self.time_zone)

    def season_start(self, now: datetime) -> datetime:
        """Return the start of the cold season that `now` belongs to.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        datetime
            The last midsummer split at or before `now`, aware, local midnight.
        """
        month, day = SEASON_SPLIT_NORTH if self.latitude >= 0.0 else SEASON_SPLIT_SOUTH
        local = self.local(now)
        split = datetime(local.year, month, day, tzinfo=self.time_zone)
        return split if local >= split else split.replace(year=local.year - 1)

    def is_past_last_freeze(self, now: datetime) -> bool:
        """Return whether this season's last-freeze date has passed at `now`."""
        start = self.season_start(now)
        trusted = datetime(start.year, self.last_freeze.month, self.last_freeze.day, tzinfo=self.time_zone)
        if trusted < start:
            trusted = trusted.replace(year=start.year + 1)
        return as_utc(now) >= as_utc(trusted)
