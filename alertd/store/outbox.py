"""The outbox: letters wait here until a channel has accepted them.

::

    waiting ──claim──► claimed ──accept──► accepted
       ▲                │    │
       └────postpone────┘    └──bury──► dead (perhaps with another letter instead)

A claim is a lease. When it runs out nobody knows whether the letter went out, so it may be claimed again and is sent
once more under the same reference. Each claim has its number of attempts; who comes to settle an attempt that is no
longer the current one changes nothing.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from .codec import sortable_text
from .outbox_table import OutboxTable
from .records import Addressed, OutboxItem, OutboxState

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from alertd.audit import AuditEvent

_CLAIMABLE = """
    SELECT id, channel FROM outbox
    WHERE (state = 'waiting' AND (not_before <= :now OR not_before > :horizon))
        OR (state = 'claimed' AND lease_until <= :now)
    ORDER BY created, id
"""

_CLAIM = """
    UPDATE outbox SET unknown_outcomes = unknown_outcomes + (state = 'claimed'),
        state = 'claimed', attempts = attempts + 1, lease_until = :lease_until
    WHERE id = :id
"""

_SETTLE = """
    UPDATE outbox SET state = :state, not_before = coalesce(:not_before, not_before), lease_until = NULL,
        last_error = :error, settled = :settled, unknown_outcomes = unknown_outcomes + :unknown
    WHERE id = :id AND state = 'claimed' AND attempts = :attempts
"""


class Outbox(OutboxTable):
    """The part of a store that moves letters on."""

    def claim(
        self,
        now: datetime,
        lease: timedelta,
        *,
        busy_channels: Collection[str] = (),
        limit: int = 1,
        longest_wait: timedelta | None = None,
    ) -> list[OutboxItem]:
        """Take letters to send them, at most one for each channel.

        Letters whose lease has run out are taken as well, and those that seem to wait longer than anybody makes them
        wait: the clock was ahead when they were put back.

        Parameters
        ----------
        now : datetime
            Aware UTC.
        lease : timedelta
            How long nobody else may take them; longer than a send can last.
        busy_channels : collection of str
            Channels for which nothing is taken.
        limit : int
            At most this many letters.
        longest_wait : timedelta or None
            How long a letter is made to wait at most; by default any wait is believed.

        Returns
        -------
        list of OutboxItem
            Those put in first come first; each with its number of attempts counted up.

        Raises
        ------
        ValueError
            If `lease` is not positive.
        StoreError
            If the database cannot be written.
        """
        _check_lease(lease)
        taken = set(busy_channels)
        horizon = None if longest_wait is None else sortable_text(now + longest_wait)
        with self._writing() as connection:
            chosen: list[int] = []
            for item_id, channel in connection.execute(_CLAIMABLE, {"now": sortable_text(now), "horizon": horizon}):
                if len(chosen) >= limit:
                    break
                if channel not in taken:
                    taken.add(channel)
                    chosen.append(item_id)
            lease_until = sortable_text(now + lease)
            connection.executemany(_CLAIM, [{"id": item_id, "lease_until": lease_until} for item_id in chosen])
            return [self._item_of(item_id) for item_id in chosen]

    def extend_lease(self, item: OutboxItem, now: datetime, lease: timedelta) -> bool:
        """Keep a claimed letter longer.

        Parameters
        ----------
        item : OutboxItem
            As claimed.
        now : datetime
            Aware UTC.
        lease : timedelta
            From `now` on.

        Returns
        -------
        bool
            ``False`` if the letter is no longer ours; nothing is written then.

        Raises
        ------
        ValueError
            If `lease` is not positive.
        StoreError
            If the database cannot be written.
        """
        _check_lease(lease)
        with self._writing() as connection:
            changed = connection.execute(
                "UPDATE outbox SET lease_until = ? WHERE id = ? AND state = 'claimed' AND attempts = ?",
                (sortable_text(now + lease), item.item_id, item.attempts),
            )
            return changed.rowcount == 1

    def end_leases(self, now: datetime) -> int:
        """End the leases of all claimed letters, whoever claimed them.

        For a daemon that has just started and knows that no other runs: what was being sent when the last one ended
        is sent again at once, not when its lease runs out. Also for after a step of the clock.

        Parameters
        ----------
        now : datetime
            Aware UTC.

        Returns
        -------
        int
            How many letters were claimed.

        Raises
        ------
        StoreError
            If the database cannot be written.
        """
        with self._writing() as connection:
            changed = connection.execute(
                "UPDATE outbox SET lease_until = ? WHERE state = 'claimed'", (sortable_text(now),)
            )
            return changed.rowcount

    def end_waits(self, now: datetime) -> int:
        """Let all letters that wait for a later time be tried now.

        For after a step of the clock: how long they have waited, and how long they still would, is no longer known.

        Parameters
        ----------
        now : datetime
            Aware UTC.

        Returns
        -------
        int
            How many letters waited.

        Raises
        ------
        StoreError
            If the database cannot be written.
        """
        present = sortable_text(now)
        with self._writing() as connection:
            changed = connection.execute(
                "UPDATE outbox SET not_before = ? WHERE state = 'waiting' AND not_before > ?", (present, present)
            )
            return changed.rowcount

    def accept(self, item: OutboxItem, now: datetime, event: AuditEvent) -> bool:
        """Record that the channel has accepted a letter.

        Parameters
        ----------
        item : OutboxItem
            As claimed.
        now : datetime
            Aware UTC.
        event : AuditEvent
            Kind ``send``; its body holds the item's ``reference``, ``recipient`` and ``channel`` and the
            ``outcome`` ``accepted``.

        Returns
        -------
        bool
            ``False`` if the letter is no longer ours; nothing is written then.

        Raises
        ------
        ValueError
            If `event` does not record this very acceptance.
        StoreError
            If the database cannot be written.
        """
        wanted = _address(item) | {"outcome": OutboxState.ACCEPTED.value}
        if event.kind != "send" or any(event.body.get(key) != value for key, value in wanted.items()):
            message = f"the event must be of kind send with {wanted}, not {event.kind} with {dict(event.body)}"
            raise ValueError(message)
        with self._writing():
            return self._settle(item, OutboxState.ACCEPTED, event, settled=now)

    def postpone(
        self,
        item: OutboxItem,
        now: datetime,
        not_before: datetime,
        error: str,
        event: AuditEvent,
        *,
        is_outcome_unknown: bool = False,
    ) -> bool:
        """Put a letter back to be tried again later.

        Parameters
        ----------
        item : OutboxItem
            As claimed.
        now : datetime
            Aware UTC.
        not_before : datetime
            Aware UTC; `now` or later.
        error : str
            Why this attempt failed; no secrets.
        event : AuditEvent
            The attempt, for the log.
        is_outcome_unknown : bool
            Whether the letter may have got through, as after a time limit.

        Returns
        -------
        bool
            ``False`` if the letter is no longer ours; nothing is written then.

        Raises
        ------
        ValueError
            If `not_before` is before `now`.
        StoreError
            If the database cannot be written.
        """
        if not_before < now:
            message = f"a letter cannot be put back to {not_before}, before {now}"
            raise ValueError(message)
        with self._writing():
            return self._settle(
                item, OutboxState.WAITING, event, error=error, not_before=not_before, is_unknown=is_outcome_unknown
            )

    def bury(
        self,
        item: OutboxItem,
        now: datetime,
        error: str,
        event: AuditEvent,
        *instead: Addressed,
        further: Sequence[AuditEvent] = (),
    ) -> bool:
        """Give a letter up, and perhaps send others instead, all in one transaction.

        Parameters
        ----------
        item : OutboxItem
            As claimed.
        now : datetime
            Aware UTC.
        error : str
            Why; no secrets.
        event : AuditEvent
            The failure, for the log.
        *instead : Addressed
            Put into the outbox: the same letter by its next channel (`OutboxItem.by_next_channel`), or reports of the
            failure.
        further : sequence of AuditEvent
            Whatever else is to be recorded; among it the ``letter`` event of each letter in `instead` whose reference
            and recipient are new to the outbox.

        Returns
        -------
        bool
            ``False`` if the letter is no longer ours; nothing is written then.

        Raises
        ------
        ValueError
            If a letter of `instead` is in the outbox already (same reference, recipient and channel), or is new and
            has no event.
        StoreError
            If the database cannot be written.
        """
        recorded = {
            (each.body.get("reference"), each.body.get("recipient")) for each in further if each.kind == "letter"
        }
        with self._writing():
            if not self._settle(item, OutboxState.DEAD, event, error=error, settled=now):
                return False
            for addressed in instead:
                letter = addressed.letter
                if (letter.reference, letter.recipient) not in recorded and not self._is_known(addressed):
                    message = f"letter {letter.reference} is new and needs an event for the audit log"
                    raise ValueError(message)
                self._insert_letter(addressed, now)
            self._append(list(further))
            return True

    def _settle(
        self,
        item: OutboxItem,
        state: OutboxState,
        event: AuditEvent,
        *,
        error: str | None = None,
        not_before: datetime | None = None,
        settled: datetime | None = None,
        is_unknown: bool = False,
    ) -> bool:
        values = {
            "id": item.item_id,
            "attempts": item.attempts,
            "state": state,
            "error": error,
            "not_before": None if not_before is None else sortable_text(not_before),
            "settled": None if settled is None else sortable_text(settled),
            "unknown": int(is_unknown),
        }
        if self._connection.execute(_SETTLE, values).rowcount != 1:
            return False
        self._append([event])
        return True


def _address(item: OutboxItem) -> dict[str, str]:
    return {"reference": item.reference, "recipient": item.recipient, "channel": item.channel}


def _check_lease(lease: timedelta) -> None:
    if lease <= timedelta(0):
        message = f"a lease must be positive, not {lease}"
        raise ValueError(message)
