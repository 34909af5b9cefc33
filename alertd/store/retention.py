"""How long things are kept, and how what is older is removed without keeping anybody waiting."""

from __future__ import annotations

import time
from collections import Counter
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.audit import CHECKPOINT, GENESIS, AuditEvent, AuditRow, Checkpoint, Head, link
from alertd.core import AuditError, instant_text

from .alert_tables import AlertTables
from .answers import Answers
from .codec import sortable_text
from .observations import ObservationTable
from .outbox import Outbox
from .trouble import explained
from .verification import Snapshot, Witnesses

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

#: Rows that one transaction removes: some milliseconds each. Where SQLite overwrites what it deletes, all of them pass
#: through the write-ahead log, which must fit into the ballast with what is there before a checkpoint. Assumed.
BATCH = 200

#: [pages of 4 KiB] What one step gives back to the disk: some milliseconds each. Assumed.
_PAGES = 256

#: [bytes] A database made before this could shrink is written anew once if it is not larger: less than a second.
#: Assumed.
LARGEST_REWRITTEN = 64 * 1024 * 1024

#: [s] Between two steps the database is left to whoever waits for it. Assumed.
_PAUSE = 0.01

_INCREMENTAL = 2

_OLD = {
    "alerts": "SELECT rowid FROM alerts WHERE ended < :before LIMIT :batch",
    "letters": (
        "SELECT id FROM outbox WHERE state IN ('accepted', 'dead') AND created < :before AND settled < :before "
        "LIMIT :batch"
    ),
    "answers": "SELECT rowid FROM answers WHERE retrieved < :before LIMIT :batch",
}

_TABLES = {"alerts": "alerts", "letters": "outbox", "answers": "answers"}

#: What is told to the audit log when it goes; the loss of answers and observations harms nobody.
_TOLD = ("alerts", "letters")


@dataclass(frozen=True, slots=True)
class Retention:
    """How long things are kept.

    Parameters
    ----------
    letters : timedelta
        Letters, counted from when they were accepted or given up.
    alerts : timedelta
        Alerts, counted from their end.
    observations : timedelta
        Values of thermometers.
    answers : timedelta
        Answers of services, counted from when they were last asked. What a source uses is renewed much sooner.
    record : timedelta or None
        Rows of the audit log; ``None`` is for ever. Rows that a kept alert or letter rests on are kept with it, and all
        after them.
    """

    letters: timedelta = timedelta(days=800)
    alerts: timedelta = timedelta(days=800)
    observations: timedelta = timedelta(days=400)
    answers: timedelta = timedelta(days=60)
    record: timedelta | None = None


class Retaining(AlertTables, Outbox, Answers, ObservationTable):
    """The part of a store that forgets."""

    def remove_old(self, retention: Retention, now: datetime) -> Mapping[str, int]:
        """Remove what is older than it is kept, in short transactions.

        What goes from alerts, letters and the audit log is told in the audit log, in the same transaction.

        Parameters
        ----------
        retention : Retention
            How long things are kept.
        now : datetime
            Aware UTC.

        Returns
        -------
        mapping of str to int
            How many of each were removed: ``alerts``, ``letters``, ``observations``, ``answers``, ``rows``; zeros are
            left out.

        Raises
        ------
        AuditError
            If old rows of the audit log do not verify; then they stay, and all else is done.
        StoreError
            If the database cannot be written; what was removed until then stays so.
        """
        removed: Counter[str] = Counter()
        removed["alerts"] = self._remove("alerts", now - retention.alerts, now)
        removed["letters"] = self._remove("letters", now - retention.letters, now)
        removed["answers"] = self._remove("answers", now - retention.answers, now)
        removed["observations"] = self._remove_observations(now - retention.observations)
        if retention.record is not None:
            removed["rows"] = self._remove_rows(now - retention.record, now)
        return {what: count for what, count in removed.items() if count}

    def compact(self) -> int:
        """Give room that is not used any more back to the disk, in short steps.

        A database that was made before this was possible is written anew once if it is small and the disk has room for
        it; a large one stays as large as it is, and its room is used again.

        Returns
        -------
        int
            By how much the file shrank [bytes].

        Raises
        ------
        StoreError
            If the database cannot be written.
        """
        if self.path is None:
            return 0
        before = self._size()
        if self._pragma("auto_vacuum") != _INCREMENTAL:
            room = self.free_space()
            if before > LARGEST_REWRITTEN or room is None or room < 3 * before:
                return 0
            with self._lock, explained(self.name):
                self._connection.execute(f"PRAGMA auto_vacuum = {_INCREMENTAL}")
                self._connection.execute("VACUUM")
        while self._pragma("freelist_count") > 0:
            with self._lock, explained(self.name):
                # A plain `execute` would take one of the rows without columns that it gives, and one page with it.
                self._connection.executescript(f"PRAGMA incremental_vacuum({_PAGES})")
            time.sleep(_PAUSE)
        self._pragma("wal_checkpoint(PASSIVE)")
        return before - self._size()

    def _pragma(self, text: str) -> int:
        with self._lock, explained(self.name):
            return int(self._connection.execute(f"PRAGMA {text}").fetchone()[0])

    def _size(self) -> int:
        return self._pragma("page_count") * self._pragma("page_size")

    def _remove(self, what: str, before: datetime, now: datetime) -> int:
        total = 0
        statement = f"DELETE FROM {_TABLES[what]} WHERE rowid IN ({_OLD[what]})"  # noqa: S608 - our own names
        while True:
            with self._writing() as connection:
                values = {"before": sortable_text(before), "batch": BATCH}
                count = connection.execute(statement, values).rowcount
                if count and what in _TOLD:
                    self._forget_decoded()
                    body = {"removed": what, "count": count, "before": instant_text(before)}
                    self._append([AuditEvent(now, "upkeep", body)])
            total += count
            if count < BATCH:
                return total
            time.sleep(_PAUSE)

    def _remove_observations(self, before: datetime) -> int:
        with self._writing() as connection:
            return connection.execute("DELETE FROM observations WHERE time < ?", (sortable_text(before),)).rowcount

    def _remove_rows(self, before: datetime, now: datetime) -> int:
        total = 0
        while True:
            count = self._remove_some_rows(before, now)
            total += count
            if count < BATCH:
                return total
            time.sleep(_PAUSE)

    def _remove_some_rows(self, before: datetime, now: datetime) -> int:
        with self._writing() as connection:
            last = self._last_removable(before)
            if last is None:
                return 0
            count = connection.execute("DELETE FROM audit WHERE sequence <= ?", (last.sequence,)).rowcount
            told = Checkpoint(last, count, instant_text(before))
            self._append([AuditEvent(now, CHECKPOINT, told.body)])
            return count

    def _last_removable(self, before: datetime) -> Head | None:
        """Return the last of the first rows that are old and that nothing rests on, at most a batch of them."""
        needed = Snapshot.take(self._connection).needed()
        limit, last = instant_text(before).rstrip("Z"), self._foundation()
        first = last.sequence + 1
        # The last row always stays: what comes next builds upon it.
        for row in self.audit_rows(first, min(last.sequence + BATCH, self.head().sequence - 1)):
            if row.happened >= limit or needed.shares(Witnesses.of(row)):
                break
            # What does not fit is evidence. It must not be removed, and the chain would not hold across it.
            if row.sequence != last.sequence + 1 or link(last.hash, *row[:4]) != row.hash:
                message = (
                    f"database {self.name}: row {row.sequence} of the audit log does not fit; old rows are kept; "
                    "see alertd audit verify"
                )
                raise AuditError(message)
            last = Head(row.sequence, row.hash)
        return last if last.sequence >= first else None

    def _foundation(self) -> Head:
        """Return what the first row that is stored builds upon."""
        row = self._connection.execute(
            "SELECT sequence, happened, kind, body, hash FROM audit WHERE kind = ? ORDER BY sequence DESC LIMIT 1",
            (CHECKPOINT,),
        ).fetchone()
        told = None if row is None else Checkpoint.read(AuditRow(*row))
        return Head(0, GENESIS) if told is None else told.removed
