"""What goes into the store and comes out of it, besides alerts and letters."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from alertd.core import StoreError

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from alertd.alerts import Alert
    from alertd.audit import AuditEvent
    from alertd.messages import Letter
    from alertd.site import Condition


class StateChanged(StoreError):
    """Somebody else changed alerts or conditions since they were read; nothing was written."""


@dataclass(frozen=True, slots=True)
class Addressed:
    """A letter and the channels that may carry it.

    Parameters
    ----------
    letter : Letter
        What is sent.
    channels : tuple of str
        The first is used; the others, in order, when it fails for good.
    published_head : str or None
        Head of the audit log that the letter tells its reader, like ``1234:ab12cd34ef56``.

    Raises
    ------
    ValueError
        If there is no channel, or one is named twice.
    """

    letter: Letter
    channels: tuple[str, ...]
    published_head: str | None = None

    def __post_init__(self) -> None:
        """Refuse a letter that could never leave."""
        if not self.channels or len(set(self.channels)) != len(self.channels):
            message = f"letter {self.letter.reference} needs at least one channel and each once, not {self.channels}"
            raise ValueError(message)


@dataclass(frozen=True, slots=True)
class Commit:
    """What one evaluation or report changes, written whole or not at all.

    Parameters
    ----------
    now : datetime
        Aware UTC; when the letters were put into the outbox.
    alerts : tuple of Alert
        New and changed ones.
    conditions : mapping of str to Condition
        New and changed ones, by group id.
    letters : tuple of Addressed
        To be sent.
    events : tuple of AuditEvent
        In the order in which they are chained.
    notes : mapping of str to str
        What `Store.get_note` shall return from then on, by key.
    based_on : int or None
        `Store.state_version` at the time when the state was read; the commit is refused if somebody else has
        changed alerts or conditions since. ``None`` writes without looking.
    """

    now: datetime
    alerts: tuple[Alert, ...] = ()
    conditions: Mapping[str, Condition] = field(default_factory=dict)
    letters: tuple[Addressed, ...] = ()
    events: tuple[AuditEvent, ...] = ()
    notes: Mapping[str, str] = field(default_factory=dict)
    based_on: int | None = None


class OutboxState(StrEnum):
    """Where a letter stands on its way out."""

    WAITING = "waiting"
    CLAIMED = "claimed"
    ACCEPTED = "accepted"
    DEAD = "dead"


@dataclass(frozen=True, slots=True)
class OutboxItem:
    """One letter on its way to one recipient by one channel.

    Parameters
    ----------
    item_id : int
        Number of the row.
    letter : Letter
        What is sent.
    channel : str
        By which channel.
    fallback_channels : tuple of str
        The channels that are left when this one fails for good.
    published_head : str or None
        Head of the audit log that the letter tells.
    created : datetime
        When it was put into the outbox, aware UTC.
    state : OutboxState
        Where it stands.
    attempts : int
        Times that it was claimed, this one included.
    is_resend : bool
        Whether an earlier attempt may have got through without our knowing: its lease ran out, or its outcome
        was reported as unknown.
    not_before : datetime
        Aware UTC; it is not claimed earlier.
    lease_until : datetime or None
        Aware UTC; while claimed.
    last_error : str or None
        Why the last attempt failed.
    settled : datetime or None
        When it was accepted or given up, aware UTC.
    """

    item_id: int
    letter: Letter
    channel: str
    fallback_channels: tuple[str, ...]
    published_head: str | None
    created: datetime
    state: OutboxState
    attempts: int
    is_resend: bool
    not_before: datetime
    lease_until: datetime | None
    last_error: str | None
    settled: datetime | None

    @property
    def reference(self) -> str:
        """The letter's reference."""
        return self.letter.reference

    @property
    def recipient(self) -> str:
        """The letter's recipient."""
        return self.letter.recipient

    @property
    def by_next_channel(self) -> Addressed | None:
        """The same letter by the next channel, or ``None`` if none is left."""
        if not self.fallback_channels:
            return None
        return Addressed(self.letter, self.fallback_channels, self.published_head)


@dataclass(frozen=True, slots=True)
class OutboxSummary:
    """The outbox in numbers.

    Parameters
    ----------
    counts : mapping of OutboxState to int
        Letters in every state, zeros included.
    oldest_waiting : datetime or None
        When the oldest letter that is not settled (waiting or claimed) was put in, aware UTC.
    """

    counts: Mapping[OutboxState, int]
    oldest_waiting: datetime | None
