"""The audit log in its table: appended to, never changed."""

from __future__ import annotations

import sqlite3
from typing import TYPE_CHECKING

from alertd.audit import GENESIS, AuditEvent, AuditRow, Head, canonical_json, link
from alertd.core import StoreError

from .codec import exact_text
from .database import Database
from .trouble import explained

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

#: Rows that are read at a time: the lock is free between two batches. Assumed.
_BATCH = 2000

_HEAD_KEY = "audit_head"

#: Read as bytes: a row that somebody spoilt must still be readable, to be reported.
_SELECT_ROWS = """
    SELECT sequence, CAST(happened AS BLOB), CAST(kind AS BLOB), CAST(body AS BLOB), CAST(hash AS BLOB)
    FROM audit WHERE sequence >= ? AND sequence <= ? ORDER BY sequence LIMIT ?
"""

_LARGEST_SEQUENCE = 2**63 - 1


class AuditLog(Database):
    """The part of a store that holds the audit log."""

    def head(self) -> Head:
        """Return the recorded end of the audit log.

        Returns
        -------
        Head
            With all digits; sequence 0 before the first row.

        Raises
        ------
        StoreError
            If the database cannot be read, or what is recorded is no head.
        """
        with self._lock, explained(self.name):
            return self._recorded_head() or Head(0, GENESIS)

    def audit_rows(self, first: int = 1, last: int | None = None) -> Iterator[AuditRow]:
        """Yield rows of the audit log in order.

        Rows are read in batches, so that other threads are not kept waiting.

        Parameters
        ----------
        first : int
            First sequence number.
        last : int or None
            Last sequence number, included; ``None`` goes to the end.

        Yields
        ------
        AuditRow
            As stored; bytes that are no UTF-8 come as lone surrogates.

        Raises
        ------
        StoreError
            If the database cannot be read.
        """
        end = _LARGEST_SEQUENCE if last is None else last
        start = first
        while start <= end:
            with self._lock, explained(self.name):
                batch = self._connection.execute(_SELECT_ROWS, (start, end, _BATCH)).fetchall()
            for sequence, *texts in batch:
                yield AuditRow(sequence, *(text.decode("utf-8", "surrogateescape") for text in texts))
            if len(batch) < _BATCH:
                return
            start = batch[-1][0] + 1

    def _recorded_head(self) -> Head | None:
        text = self._meta(_HEAD_KEY)
        if text is None:
            return None
        try:
            return Head.parse(text)
        except ValueError as error:
            message = (
                f"database {self.name}: the recorded end of the audit log is spoilt ({error}); put a copy in place"
            )
            raise StoreError(message) from error

    def _append(self, events: Iterable[AuditEvent]) -> Head:
        """Chain events to the log, within the transaction of the caller."""
        head = self._recorded_head() or Head(0, GENESIS)
        rows = []
        for event in events:
            sequence, happened, body = head.sequence + 1, exact_text(event.happened), canonical_json(event.body)
            head = Head(sequence, link(head.hash, sequence, happened, event.kind, body))
            rows.append((sequence, happened, event.kind, body, head.hash))
        if not rows:
            return head
        try:
            self._connection.executemany(
                "INSERT INTO audit (sequence, happened, kind, body, hash) VALUES (?, ?, ?, ?, ?)", rows
            )
        except sqlite3.IntegrityError as error:
            message = (
                f"database {self.name}: the audit log goes on after its recorded end (row {rows[0][0]}); "
                "somebody changed it; verify the log and put a copy in place"
            )
            raise StoreError(message) from error
        self._set_meta(_HEAD_KEY, head.full_text)
        return head
