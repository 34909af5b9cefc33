"""The store: alerts, conditions, outbox and audit log in one database, changed together; and answers of services."""

from __future__ import annotations

from typing import TYPE_CHECKING

from alertd.audit import Fault, Head, verify

from .alert_tables import AlertTables
from .answers import Answers
from .observations import ObservationTable
from .outbox import Outbox
from .records import Commit, StateChanged
from .verification import Snapshot, Witnesses

if TYPE_CHECKING:
    from collections.abc import Iterable


class Store(AlertTables, Outbox, Answers, ObservationTable):
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
            Alerts, conditions, letters, events and notes.

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
        StoreError
            If the database cannot be written.
        """
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
            Ordered by row, those of no single row first; empty if all is well.

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
        rows = witnesses.watch(self.audit_rows(snapshot.first, snapshot.last))
        faults += verify(rows, recorded, [*snapshot.heads(faults), *extra_heads])
        faults += snapshot.unwitnessed(witnesses)
        return sorted(faults, key=lambda fault: fault.sequence)
