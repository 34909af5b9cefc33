"""The upkeep of the store: what is old goes, what is free is given back, and the disk is watched."""

from __future__ import annotations

import json
import logging
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from alertd.audit import AuditEvent
from alertd.core import AuditError
from alertd.store import Commit

from .clock import is_new_day
from .space import LOW_SPACE, Space

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from alertd.site import Site
    from alertd.store import Retention, Store
    from alertd.watch import Readership

_logger = logging.getLogger(__name__)

#: So many days in a row must have had their upkeep before anything is removed: a clock that is wrong for a day or two
#: must not make everything look old. Assumed.
TRUSTED_DAYS = 3

#: Days count as in a row with gaps up to this. Assumed.
_GAP = timedelta(days=2)

#: Under this the store remembers the last upkeep.
_NOTE = "upkeep"

_MIB = 1024 * 1024


@dataclass(frozen=True, slots=True)
class _LastDay:
    """The day of the last upkeep, and how many days before it had theirs in a row."""

    day: date | None = None
    before: int = 0

    @classmethod
    def read(cls, text: str | None) -> _LastDay:
        """Return what was noted; a spoilt note counts as none."""
        try:
            noted = json.loads(text or "")
            return cls(date.fromisoformat(noted["day"]), int(noted["before"]))
        except (ValueError, KeyError, TypeError):
            return cls()

    def followed_by(self, today: date) -> _LastDay:
        """Return what to note for a day."""
        is_in_a_row = self.day is not None and timedelta(0) < today - self.day <= _GAP
        return _LastDay(today, self.before + 1 if is_in_a_row else 0)

    @property
    def text(self) -> str:
        """For the note."""
        return json.dumps({"day": None if self.day is None else self.day.isoformat(), "before": self.before})


class Upkeep:
    """Removes what is older than it is kept, once a local day, and watches the disk at every look.

    Parameters
    ----------
    store : Store
        Is kept up, and remembers the last day over a restart.
    readership : Readership
        Who is told when the disk is nearly full.
    site : Site
        Whose days count.
    retention : Retention
        How long things are kept.
    clock : callable
        Returns the present as aware UTC.
    low : int
        [bytes] With less room on the disk people are told.
    """

    def __init__(
        self,
        store: Store,
        readership: Readership,
        site: Site,
        retention: Retention,
        clock: Callable[[], datetime],
        *,
        low: int = LOW_SPACE,
    ) -> None:
        self._store = store
        self._site = site
        self._retention = retention
        self._clock = clock
        self._space = Space(store, readership, site, clock, low=low)

    def use(self, readership: Readership, site: Site, retention: Retention) -> None:
        """Tell others, and keep things for other times, from now on.

        Parameters
        ----------
        readership : Readership
            Who is told.
        site : Site
            Whose.
        retention : Retention
            How long things are kept.
        """
        self._space.use(readership, site)
        self._site = site
        self._retention = retention

    def look(self) -> None:
        """Watch the disk; tidy up if this day had no upkeep yet.

        Raises
        ------
        StoreError
            If the database cannot be used; then what is left is done later.
        """
        self._space.look()
        now = self._clock()
        today = self._site.local(now).date()
        last = _LastDay.read(self._store.get_note(_NOTE))
        if not is_new_day(today, last.day):
            return
        this = last.followed_by(today)
        # Noted before: what fails in between is done the next day, and not again every half minute.
        self._store.commit(Commit(now, notes={_NOTE: this.text}))
        if this.before >= TRUSTED_DAYS:
            self._remove(now)
        shrunk = self._store.compact()
        if shrunk > 0:
            _logger.info("upkeep: the database gave %.1f MiB back to the disk", shrunk / _MIB)

    def _remove(self, now: datetime) -> None:
        try:
            removed = self._store.remove_old(self._retention, now)
        except AuditError as error:
            _logger.error("upkeep: %s", error)  # noqa: TRY400 - one line
            body = {"problem": "upkeep failed", "error": str(error)}
            self._store.commit(Commit(now, events=(AuditEvent(now, "problem", body),)))
            return
        if removed:
            counted = ", ".join(f"{count} {what}" for what, count in removed.items())
            _logger.info("upkeep: removed what is older than it is kept: %s", counted)
