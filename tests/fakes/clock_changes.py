"""Every change of the clocks of every time zone from 2020 to 2037, found by looking at the zones themselves."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

_DAY = timedelta(days=1)
_SECOND = timedelta(seconds=1)
_FIRST, _LAST = datetime(2020, 1, 1, tzinfo=UTC), datetime(2038, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class ClockChange:
    """One change; zones that change in the same way at the same instant are one."""

    at: datetime
    before: timedelta
    after: timedelta
    zone_name: str

    @property
    def zone(self) -> ZoneInfo:
        """One of the zones that change so."""
        return ZoneInfo(self.zone_name)

    def __str__(self) -> str:
        return f"{self.zone_name} {self.at:%Y-%m-%d}"


@cache
def all_changes() -> tuple[ClockChange, ...]:
    """Return all changes, each once, in order."""
    days = [_FIRST + _DAY * number for number in range((_LAST - _FIRST).days + 1)]
    found: dict[tuple[datetime, timedelta, timedelta], ClockChange] = {}
    for name in sorted(available_timezones()):
        zone = ZoneInfo(name)
        offsets = [day.astimezone(zone).utcoffset() for day in days]
        for place in range(len(days) - 1):
            before, after = offsets[place], offsets[place + 1]
            if before != after:
                at = _between(zone, days[place], days[place + 1])
                found.setdefault((at, before, after), ClockChange(at, before, after, name))
    return tuple(found[key] for key in sorted(found))


def _between(zone: ZoneInfo, low: datetime, high: datetime) -> datetime:
    """Return the first second at which a zone's offset is no longer that of `low`."""
    offset = low.astimezone(zone).utcoffset()
    while high - low > _SECOND:
        middle = low + (high - low) // 2 // _SECOND * _SECOND
        if middle.astimezone(zone).utcoffset() == offset:
            low = middle
        else:
            high = middle
    return high
