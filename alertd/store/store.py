"""The store: alerts, conditions, outbox and audit log in one database, changed together; and answers of services."""

from __future__ import annotations

from typing import TYPE_CHECKING

from alertd.audit import Fault, Head, verify
from alertd.core import StoreFull

from .records import Commit, StateChanged
from .retention import Retaining
from .verification import Snapshot, Witnesses

if TYPE_CHECKING:
    from collections.abc import Iterable


class Store(Retaining):
    """All that is remembered.

    Made by `Store.open`; may be used by any number of threads, and other processes may open the same file.

    Examples
    --------
    >>> with Store.open(None) as store:
    ...     str(store.head())
    '0:000000000000'
    """

    def commit(self, commit: Commit) -> Head:
        """Write what an evaluation or a report changes: all of it, or nothing.

        Parameters
        ----------
        commit : Commit
            Alerts, conditions, letters, notes and events.

        Returns
        -------
        Head
            End of the audit log after it.

        Raises
        ------
        ValueError
            If a letter of the same reference to the same recipient is in the outbox already, or something holds
            what cannot be stored, like a number that is not finite.
        StateChanged
            If somebody else has changed alerts or conditions since ``commit.based_on``.
        StoreFull
            If the disk is full. Before that the ballast is given up, and the commit is tried once more.
        StoreError
            If the database cannot be written.
        """
        with self._lock:
            try:
                return self._commit(commit)
            except StoreFull:
                if not self._gave_up_ballast():
                    raise
                return self._commit(commit)

    def _commit(self, commit: Commit) -> Head:
        with self._writing():
            if commit.based_on is not None and commit.based_on != self._state_version():
                message = f"database {self.name}: alerts or conditions were changed meanwhile; judge once more"
                raise StateChanged(message)
            self._write_state(commit.alerts, commit.conditions)
            for addressed in commit.letters:
                if self._is_known(addressed):
                    letter = addressed.letter
                    message = f"letter {letter.reference} to {letter.recipient} is in the outbox already"
                    raise ValueError(message)
                self._insert_letter(addressed, commit.now)
            for key, value in commit.notes.items():
                self._set_note(key, value)
            return self._append(commit.events)

    def verify_audit(self, extra_heads: Iterable[Head] = ()) -> list[Fault]:
        """Return everything that is wrong with the audit log, or that other tables hold and it does not tell.

        Rows that are appended meanwhile are left out.

        Parameters
        ----------
        extra_heads : iterable of Head
            Heads kept outside, like one from an old letter.

        Returns
        -------
        list of Fault
            Ordered by row, those of no single row first; empty if all is well. An extra head of a row that was removed
            by the policy is among them: it cannot be checked any more.

        Raises
        ------
        StoreError
            If the database cannot be read, or the recorded end of the log is no head.
        """
        with self._reading() as connection:
            recorded = self._recorded_head()
            snapshot = Snapshot.take(connection)
        faults: list[Fault] = []
        if recorded is None and snapshot.last > 0:
            faults.append(Fault(0, f"the end of the log is not recorded, but the log has {snapshot.last} rows"))
        witnesses = Witnesses()
        rows = witnesses.watch(self.audit_rows(min(snapshot.first, 1), snapshot.last))
        faults += verify(rows, recorded, [*snapshot.heads(faults), *extra_heads])
        faults += snapshot.unwitnessed(witnesses)
        return sorted(faults, key=lambda fault: fault.sequence)
