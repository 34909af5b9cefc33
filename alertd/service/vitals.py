"""Signs of life: a small real write to the database, and how things stand, in one line."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from alertd.core import instant_text
from alertd.messages import clock_text
from alertd.risk import Rule

from .watchdog import LastDone

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from alertd.site import Site
    from alertd.store import Store

#: Under this the store remembers the last sign of life.
NOTE = "alive"


@dataclass(frozen=True, slots=True)
class Standing:
    """How alerts stand.

    Parameters
    ----------
    open_alerts : int
        Alerts that are open, that of a blind watch included.
    is_blind : bool
        Whether nothing is known of the cold ahead.
    """

    open_alerts: int = 0
    is_blind: bool = False


class Vitals:
    """Writes a note to the database, and counts what is open.

    Parameters
    ----------
    store : Store
        Is written and counted.
    site : Site
        Whose seasons count; it changes with the configuration.
    clock : callable
        Returns the present as aware UTC.

    Attributes
    ----------
    written : LastDone
        When the database was written last.
    standing : Standing
        As counted last.
    """

    def __init__(self, store: Store, site: Site, clock: Callable[[], datetime]) -> None:
        self._store = store
        self._clock = clock
        self.site = site
        self.written = LastDone()
        self.standing = Standing()

    def beat(self) -> None:
        """Write, then count.

        Raises
        ------
        StoreError
            If the database cannot be used; then the watchdog is not told that all is well for long.
        """
        now = self._clock()
        self._store.set_note(NOTE, instant_text(now.replace(microsecond=0)))
        self.written.mark()
        is_open = [alert for alert in self._store.load_state(self.site.season_start(now)).alerts if alert.is_open]
        self.standing = Standing(len(is_open), any(alert.rule is Rule.BLIND for alert in is_open))


def status_line(
    n_groups: int, standing: Standing, failures: int, next_look: datetime | None, site: Site, *, refused: str = ""
) -> str:
    """Return how things stand, in one line.

    Parameters
    ----------
    n_groups : int
        Groups that are watched.
    standing : Standing
        How alerts stand.
    failures : int
        Evaluations that have failed in a row, up to now.
    next_look : datetime or None
        When the sources are asked next, aware; ``None`` if that is now.
    site : Site
        Gives local time.
    refused : str
        Why the configuration that was read last is not used, if it is not.

    Returns
    -------
    str
        For people.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> from zoneinfo import ZoneInfo
    >>> from alertd.site import MonthDay, Site
    >>> site = Site("Steinbruch", 50.4, 11.7, 410.0, ZoneInfo("Europe/Berlin"), "", MonthDay(5, 15))
    >>> status_line(6, Standing(1), 0, datetime(2026, 1, 22, 17, 30, tzinfo=UTC), site)
    'Watching 6 groups, next look 18:30, 1 alert open'
    """
    parts = [f"Watching {counted(n_groups, 'group')}"]
    if standing.is_blind:
        parts.append("blind")
    if failures:
        parts.append(f"{counted(failures, 'evaluation')} failed in a row")
    parts.append("looking now" if next_look is None else f"next look {clock_text(next_look, site)}")
    parts.append(f"{counted(standing.open_alerts, 'alert')} open")
    line = ", ".join(parts)
    return f"{line}; a changed configuration is refused: {refused}" if refused else line


def counted(number: int, word: str) -> str:
    """Return a number with its noun.

    Examples
    --------
    >>> counted(1, "group"), counted(2, "group")
    ('1 group', '2 groups')
    """
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
