"""What was written to the record since the daemon began, counted from the record itself."""

from __future__ import annotations

import json
import threading
from collections import Counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from alertd.store import Store


class RecordCounts:
    """Counts letters and sends.

    Each row is read once. Nobody who writes rows needs to know of it, and what commands of people write counts too.

    Parameters
    ----------
    store : Store
        Holds the record.

    Raises
    ------
    StoreError
        If the store cannot be read.

    Attributes
    ----------
    letters : int
        Put into the outbox.
    sends : collections.Counter
        Tries to send, by channel and outcome.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._seen = store.head().sequence
        self._lock = threading.Lock()
        self.letters = 0
        self.sends: Counter[tuple[str, str]] = Counter()

    def catch_up(self) -> None:
        """Count what was written since the last call.

        Raises
        ------
        StoreError
            If the store cannot be read.
        """
        with self._lock:
            for row in self._store.audit_rows(self._seen + 1):
                self._seen = row.sequence
                if row.kind == "letter":
                    self.letters += 1
                elif row.kind == "send":
                    body = json.loads(row.body)
                    self.sends[str(body.get("channel")), str(body.get("outcome"))] += 1
