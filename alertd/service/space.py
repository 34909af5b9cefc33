"""Room on the disk: said before it is gone, and some kept for then."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from alertd.audit import AuditEvent
from alertd.core import instant_text, parse_instant
from alertd.store import Commit

from .notices import Notice, Notices

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from alertd.site import Site
    from alertd.store import Store
    from alertd.watch import Readership

_logger = logging.getLogger(__name__)

#: [bytes] With less room than this people are told. Assumed: a year of hourly evaluations of a large garden.
LOW_SPACE = 64 * 1024 * 1024

#: So many times the low mark must be free until all is well again, so that nobody is told twice an hour. Assumed.
ENOUGH = 2

_MIB = 1024 * 1024

#: Under this the store remembers that people were told, and since when the room is low.
_NOTE = "disk_low_since"

_LOW = "The disk is nearly full: make room on the machine of alertd"
_WELL = "The disk has room again"
_TOPIC = "disk"


class Space:
    """Follows how much room the disk has, and keeps the ballast beside the database.

    Parameters
    ----------
    store : Store
        Whose disk; takes record and letters, and remembers over a restart what was told.
    readership : Readership
        Who is told.
    site : Site
        Whose.
    clock : callable
        Returns the present as aware UTC.
    low : int
        [bytes] With less room people are told.

    Raises
    ------
    StoreError
        If the store cannot be read.
    """

    def __init__(
        self,
        store: Store,
        readership: Readership,
        site: Site,
        clock: Callable[[], datetime],
        *,
        low: int = LOW_SPACE,
    ) -> None:
        self._store = store
        self._notices = Notices(store, readership, site)
        self._clock = clock
        self._low = low
        self._told_since = _noted(store.get_note(_NOTE))
        self._had_ballast = False

    def use(self, readership: Readership, site: Site) -> None:
        """Tell others from now on.

        Parameters
        ----------
        readership : Readership
            Who is told.
        site : Site
            Whose.
        """
        self._notices.use(readership, site)

    def look(self) -> None:
        """Keep the ballast, and tell people once that room is low, and once that it is not any more.

        Raises
        ------
        StoreError
            If the database cannot be written; then it is told later.
        """
        free, ballast = self._store.free_space(), self._store.ballast
        if free is None or ballast is None:
            return
        was_given_up = self._had_ballast and not ballast.is_laid
        has_ballast = ballast.lay() if free >= 2 * ballast.size else ballast.is_laid
        has_kept = has_ballast and not was_given_up
        now = self._clock()
        if self._told_since is None:
            if free < self._low or not has_kept:
                self._begin(free, now, has_kept=has_kept)
        elif was_given_up:
            self._record(free, now)
        elif has_ballast and free >= ENOUGH * self._low:
            self._end(free, self._told_since, now)
        self._had_ballast = has_ballast

    def _begin(self, free: int, now: datetime, *, has_kept: bool) -> None:
        lines = (
            f"The disk that holds the record of alertd has {free // _MIB} MiB left.",
            "A reserve is kept beside the record for when it is full, so the watch still works."
            if has_kept
            else "It was full, and the reserve that is kept for this has been given up.",
            "Once nothing is left, nothing new can be judged, recorded or told. Make room on that machine soon.",
        )
        notice = Notice(_LOW, lines, _TOPIC, _thread(now), "Assess")
        event = _event(free, now, has_kept=has_kept)
        _log_low(free, has_kept=has_kept)
        self._notices.tell(notice, now, {_NOTE: instant_text(now)}, before=(event,))
        self._told_since = now

    def _record(self, free: int, now: datetime) -> None:
        _log_low(free, has_kept=False)
        self._store.commit(Commit(now, events=(_event(free, now, has_kept=False),)))

    def _end(self, free: int, since: datetime, now: datetime) -> None:
        lines = (
            f"The disk that holds the record of alertd had been nearly full since {self._notices.when(since)}.",
            f"It has {free // _MIB} MiB again, and the reserve is back.",
        )
        self._notices.tell(Notice(_WELL, lines, _TOPIC, _thread(since), "None"), now, {_NOTE: ""})
        self._told_since = None
        _logger.info("disk: %d MiB left, enough again", free // _MIB)


def _log_low(free: int, *, has_kept: bool) -> None:
    if has_kept:
        _logger.warning("disk: only %d MiB left; make room", free // _MIB)
    else:
        _logger.error("disk: only %d MiB left, the reserve has been given up; make room now", free // _MIB)


def _event(free: int, now: datetime, *, has_kept: bool) -> AuditEvent:
    body = {"problem": "disk nearly full", "free_mib": free // _MIB, "reserve": "kept" if has_kept else "given up"}
    return AuditEvent(now, "problem", body)


def _thread(began: datetime) -> str:
    return f"disk-low-{began:%Y%m%dT%H%M%SZ}"


def _noted(text: str | None) -> datetime | None:
    """Return since when the room is low, as people were told; a spoilt note counts as none."""
    try:
        return parse_instant(text or "")
    except ValueError:
        return None
