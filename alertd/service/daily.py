"""The line of the day: proof that the daemon lives, and the head of the audit log outside its database."""

from __future__ import annotations

import json
import logging
from collections import Counter
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from alertd.audit import AuditEvent
from alertd.store import Commit, OutboxState

from .clock import is_new_day

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from alertd.audit import Head
    from alertd.site import Site
    from alertd.store import Store

    from .jobs import Tally

_logger = logging.getLogger(__name__)

#: Under this the store remembers the last line.
_NOTE = "daily"


@dataclass(frozen=True, slots=True)
class _LastLine:
    """The day of the last line, and the last row of the audit log that it has counted."""

    day: date | None = None
    sequence: int = 0

    @classmethod
    def read(cls, text: str | None) -> _LastLine:
        """Return what was noted; a spoilt note counts as none."""
        try:
            noted = json.loads(text or "")
            return cls(date.fromisoformat(noted["day"]), int(noted["sequence"]))
        except (ValueError, KeyError, TypeError):
            return cls()


class Daily:
    """Writes one line for each local day, to the log and to the audit log.

    Parameters
    ----------
    store : Store
        Is counted, and remembers the last line over a restart.
    site : Site
        Whose days count; it changes with the configuration.
    tally : Tally
        Rounds that went wrong since the start.
    clock : callable
        Returns the present as aware UTC.
    """

    def __init__(self, store: Store, site: Site, tally: Tally, clock: Callable[[], datetime]) -> None:
        self._store = store
        self.site = site
        self._tally = tally
        self._clock = clock

    def look(self) -> None:
        """Write the line if this day has none yet.

        Raises
        ------
        StoreError
            If the database cannot be used; then the line comes later.
        """
        now = self._clock()
        today = self.site.local(now).date()
        last = _LastLine.read(self._store.get_note(_NOTE))
        if not is_new_day(today, last.day):
            return
        head = self._store.head()
        body = self._facts(now, last, head)
        note = json.dumps({"day": today.isoformat(), "sequence": head.sequence})
        self._store.commit(Commit(now, events=(AuditEvent(now, "daily", body),), notes={_NOTE: note}))
        _logger.info(
            "daily: record %s, open alerts %d, evaluations %d, letters %d, outbox %d waiting and %d given up, "
            "rounds failed %d, left out %d, disk %s MiB free",
            *body.values(),
        )

    def _facts(self, now: datetime, last: _LastLine, head: Head) -> dict[str, object]:
        since = Counter(row.kind for row in self._store.audit_rows(last.sequence + 1, head.sequence))
        alerts = self._store.load_state(self.site.season_start(now)).alerts
        letters = self._store.outbox_summary().counts
        free = self._store.free_space()
        return {
            "record": str(head),
            "open_alerts": sum(alert.is_open for alert in alerts),
            "evaluations": since["evaluation"],
            "letters": since["letter"],
            "outbox_waiting": letters[OutboxState.WAITING] + letters[OutboxState.CLAIMED],
            "outbox_given_up": letters[OutboxState.DEAD],
            "rounds_failed": self._tally.failed.total(),
            "rounds_left_out": self._tally.left_out.total(),
            "disk_free_mib": None if free is None else free // (1024 * 1024),
        }
