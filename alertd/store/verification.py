"""Whether the audit log is whole, and whether the other tables hold only what the log tells."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Self

from alertd.audit import Fault, Head

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from sqlite3 import Connection

    from alertd.audit import AuditRow


#: Kinds of rows that tell of alerts and letters.
_WITNESSES = frozenset({"transition", "letter", "send"})


@dataclass(slots=True)
class Witnesses:
    """What the rows of a log say about alerts and letters, gathered while they pass.

    Parameters
    ----------
    revisions : set of (str, int)
        Alert ids and revisions of ``transition`` rows.
    letters : set of (str, str)
        References and recipients of ``letter`` rows.
    accepted : set of (str, str, str)
        References, recipients and channels of ``send`` rows with the outcome ``accepted``.
    """

    revisions: set[tuple[str, ...]] = field(default_factory=set)
    letters: set[tuple[str, ...]] = field(default_factory=set)
    accepted: set[tuple[str, ...]] = field(default_factory=set)

    @classmethod
    def of(cls, row: AuditRow) -> Self:
        """Return what one row says.

        Parameters
        ----------
        row : AuditRow
            In any state.

        Returns
        -------
        Witnesses
            Of this row only.
        """
        witnesses = cls()
        witnesses._hear(row)
        return witnesses

    def shares(self, other: Witnesses) -> bool:
        """Return whether anything is told by both."""
        return not (
            self.revisions.isdisjoint(other.revisions)
            and self.letters.isdisjoint(other.letters)
            and self.accepted.isdisjoint(other.accepted)
        )

    def watch(self, rows: Iterable[AuditRow]) -> Iterator[AuditRow]:
        """Yield rows unchanged and note what they say.

        Parameters
        ----------
        rows : iterable of AuditRow
            In any state, spoilt ones included.

        Yields
        ------
        AuditRow
            The same.
        """
        for row in rows:
            self._hear(row)
            yield row

    def _hear(self, row: AuditRow) -> None:
        if row.kind not in _WITNESSES:
            return
        try:
            body = json.loads(row.body)
        except ValueError:
            return  # the chain finds this row
        if not isinstance(body, dict):
            return
        if row.kind == "transition":
            self.revisions.add(_texts(body, "alert_id", "revision"))
        elif row.kind == "letter":
            self.letters.add(_texts(body, "reference", "recipient"))
        elif body.get("outcome") == "accepted":
            self.accepted.add(_texts(body, "reference", "recipient", "channel"))


def _texts(body: dict[str, object], *keys: str) -> tuple[str, ...]:
    return tuple(str(body.get(key)) for key in keys)


@dataclass(frozen=True, slots=True)
class Snapshot:
    """The other tables at the moment of a verification.

    Parameters
    ----------
    first, last : int
        Bounds of the sequence numbers in the log; 1 and 0 if it is empty.
    revisions : tuple of (str, int)
        Ids and latest revisions of all alerts.
    letters : tuple of (str, str, str, str)
        Reference, recipient, channel and state of all letters.
    published : tuple of str
        Heads stored with letters.
    """

    first: int
    last: int
    revisions: tuple[tuple[str, int], ...]
    letters: tuple[tuple[str, str, str, str], ...]
    published: tuple[str, ...]

    @classmethod
    def take(cls, connection: Connection) -> Snapshot:
        """Read it, within the transaction of the caller.

        Parameters
        ----------
        connection : sqlite3.Connection
            In a transaction.

        Returns
        -------
        Snapshot
            All of it at one moment.
        """
        query = "SELECT coalesce(min(sequence), 1), coalesce(max(sequence), 0) FROM audit"
        first, last = connection.execute(query).fetchone()
        letters = connection.execute("SELECT reference, recipient, channel, state FROM outbox ORDER BY id")
        published = connection.execute("SELECT published_head FROM outbox WHERE published_head IS NOT NULL")
        return cls(
            first=first,
            last=last,
            revisions=tuple(connection.execute("SELECT alert_id, revision FROM alerts ORDER BY alert_id")),
            letters=tuple(letters),
            published=tuple(text for (text,) in published),
        )

    def heads(self, faults: list[Fault]) -> Iterator[Head]:
        """Yield the heads stored with letters, but for those of rows that are gone from the beginning of the log.

        Whether those were removed by a policy, `alertd.audit.verify` finds out.

        Parameters
        ----------
        faults : list of Fault
            Gets one for every text that is no head.

        Yields
        ------
        Head
            As told to a reader.
        """
        for text in self.published:
            try:
                head = Head.parse(text)
                if head.sequence in {0, self.first - 1} or head.sequence >= self.first:
                    yield head
            except ValueError as error:
                faults.append(Fault(0, f"a head stored with a letter is spoilt: {error}"))

    def unwitnessed(self, witnesses: Witnesses) -> Iterator[Fault]:
        """Yield a fault for everything in the tables that the log does not tell.

        Parameters
        ----------
        witnesses : Witnesses
            What the log tells.

        Yields
        ------
        Fault
            With sequence 0.
        """
        needed = self.needed()
        for alert_id, revision in sorted(needed.revisions - witnesses.revisions):
            yield Fault(0, f"alert {alert_id}: the log tells nothing of its revision {revision}")
        for reference, recipient in sorted(needed.letters - witnesses.letters):
            yield Fault(0, f"letter {reference} to {recipient}: the log does not tell that it was written")
        for reference, recipient, channel in sorted(needed.accepted - witnesses.accepted):
            yield Fault(0, f"letter {reference} to {recipient}: the log does not tell that {channel} accepted it")

    def needed(self) -> Witnesses:
        """Return what the log has to tell.

        Returns
        -------
        Witnesses
            Of all alerts and letters.
        """
        return Witnesses(
            revisions={(alert_id, str(revision)) for alert_id, revision in self.revisions},
            letters={(reference, recipient) for reference, recipient, _, _ in self.letters},
            accepted={
                (reference, recipient, channel)
                for reference, recipient, channel, state in self.letters
                if state == "accepted"
            },
        )
