"""The table of the outbox: how letters get in and how they are read."""

from __future__ import annotations

import json
import sqlite3
from typing import TYPE_CHECKING

from alertd.audit import Head, canonical_json
from alertd.core import StoreError, parse_instant

from .audit_log import AuditLog
from .codec import letter_document, letter_from, sortable_text
from .records import OutboxItem, OutboxState, OutboxSummary
from .trouble import explained

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from .records import Addressed

_COLUMNS = """
    id, channel, fallback_channels, letter, published_head, created, state, attempts, unknown_outcomes, not_before,
    lease_until, last_error, settled
"""

_INSERT = """
    INSERT INTO outbox (reference, recipient, channel, fallback_channels, letter, published_head, created, state,
        not_before)
    VALUES (?, ?, ?, ?, ?, ?, ?, 'waiting', ?)
"""

_Row = tuple[int, str, str, str, str | None, str, str, int, int, str, str | None, str | None, str | None]


class OutboxTable(AuditLog):
    """The part of a store that holds letters on their way out."""

    def outbox_summary(self) -> OutboxSummary:
        """Return the outbox in numbers.

        Returns
        -------
        OutboxSummary
            Of all letters ever put in.

        Raises
        ------
        StoreError
            If the database cannot be read.
        """
        with self._lock, explained(self.name):
            rows = self._connection.execute("SELECT state, count(*), min(created) FROM outbox GROUP BY state")
            found = {OutboxState(state): (count, oldest) for state, count, oldest in rows}
        unsettled = [found[state][1] for state in (OutboxState.WAITING, OutboxState.CLAIMED) if state in found]
        return OutboxSummary(
            counts={state: found.get(state, (0, None))[0] for state in OutboxState},
            oldest_waiting=parse_instant(min(unsettled)) if unsettled else None,
        )

    def outbox_items(self, state: OutboxState | None = None) -> list[OutboxItem]:
        """Return the letters of the outbox.

        Parameters
        ----------
        state : OutboxState or None
            Only those in this state; ``None`` for all.

        Returns
        -------
        list of OutboxItem
            Those put in first come first.

        Raises
        ------
        StoreError
            If the database cannot be read.
        """
        query = f"SELECT {_COLUMNS} FROM outbox WHERE :state IS NULL OR state = :state ORDER BY created, id"  # noqa: S608
        with self._lock, explained(self.name):
            rows = self._connection.execute(query, {"state": state}).fetchall()
        return [self._item(row) for row in rows]

    def published_heads(self) -> Iterator[Head]:
        """Yield the heads that letters have told their readers.

        Yields
        ------
        Head
            As told, mostly with 12 digits of the hash; in the order of the letters.

        Raises
        ------
        StoreError
            If the database cannot be read, or what is stored is no head.
        """
        with self._lock, explained(self.name):
            rows = self._connection.execute(
                "SELECT published_head FROM outbox WHERE published_head IS NOT NULL ORDER BY id"
            ).fetchall()
        for (text,) in rows:
            try:
                yield Head.parse(text)
            except ValueError as error:
                message = f"database {self.name}: a head stored with a letter is spoilt ({error}); put a copy in place"
                raise StoreError(message) from error

    def _item_of(self, item_id: int) -> OutboxItem:
        query = f"SELECT {_COLUMNS} FROM outbox WHERE id = ?"  # noqa: S608 - our own column names
        return self._item(self._connection.execute(query, (item_id,)).fetchone())

    def _is_known(self, addressed: Addressed) -> bool:
        letter = addressed.letter
        query = "SELECT 1 FROM outbox WHERE reference = ? AND recipient = ?"
        return self._connection.execute(query, (letter.reference, letter.recipient)).fetchone() is not None

    def _insert_letter(self, addressed: Addressed, now: datetime) -> None:
        letter, created = addressed.letter, sortable_text(now)
        head = None if addressed.published_head is None else str(Head.parse(addressed.published_head))
        values = (
            letter.reference,
            letter.recipient,
            addressed.channels[0],
            canonical_json(addressed.channels[1:]),
            canonical_json(letter_document(letter)),
            head,
            created,
            created,
        )
        try:
            self._connection.execute(_INSERT, values)
        except sqlite3.IntegrityError as error:
            message = (
                f"letter {letter.reference} to {letter.recipient} by {addressed.channels[0]} is in the outbox already"
            )
            raise ValueError(message) from error

    def _item(self, row: _Row) -> OutboxItem:
        (item_id, channel, fallback, letter, head, created, state, attempts, unknown, not_before, lease, error, end) = (
            row
        )
        try:
            return OutboxItem(
                item_id=item_id,
                letter=letter_from(json.loads(letter)),
                channel=channel,
                fallback_channels=tuple(json.loads(fallback)),
                published_head=head,
                created=parse_instant(created),
                state=OutboxState(state),
                attempts=attempts,
                is_resend=unknown > 0,
                not_before=parse_instant(not_before),
                lease_until=None if lease is None else parse_instant(lease),
                last_error=error,
                settled=None if end is None else parse_instant(end),
            )
        except ValueError as problem:
            message = f"database {self.name}: letter {item_id} of the outbox is spoilt ({problem}); put a copy in place"
            raise StoreError(message) from problem
