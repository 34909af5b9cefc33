"""The demo's post: the daemon's relay, with every letter shown as its reader gets it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from random import Random
from typing import TYPE_CHECKING

from alertd.delivery import ChannelKind, RelaySettings
from alertd.messages import clock_text, day_text
from alertd.store import OutboxState
from alertd.watch.relay import Relay

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime
    from typing import TextIO

    from alertd.config import Loaded
    from alertd.messages import Letter
    from alertd.store import OutboxItem, Store

#: Where the letters of the demo's folder channel go, in the directory that the demo is given.
LETTERS_DIRECTORY = "demo-letters"

#: Width of the line above a letter.
_WIDTH = 96

#: How long one letter may take; terminals and files take milliseconds.
_PATIENCE = timedelta(seconds=30)


@dataclass(slots=True)
class Post:
    """Carries letters to the demo's channels, one after the other.

    Parameters
    ----------
    loaded : Loaded
        Channels and recipients.
    store : Store
        Holds the outbox.
    stream : file
        Takes a line before each letter; the letters of ``terminal:`` channels go to standard output.
    pause : callable
        Called after each evaluation's letters.
    """

    loaded: Loaded
    store: Store
    stream: TextIO
    pause: Callable[[], None]
    _now: datetime = field(init=False)
    _relay: Relay = field(init=False)
    _shown: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        """Make the relay, as the daemon does, but with one letter at a time: readers take turns here."""
        settings, given = RelaySettings(), self.loaded.delivery
        self._relay = Relay(
            self.store,
            {channel.name: channel for channel in self.loaded.channels},
            RelaySettings(given.deadline, given.first_retry, settings.factor, given.max_retry, parallel=1),
            "demo",
            random=Random(0),  # noqa: S311 - jitter is no secret
            others={each.name: each.channels for each in self.loaded.recipients},
            clock=self._clock,
        )

    def carry(self, now: datetime) -> None:
        """Send what is in the outbox, and wait until it is sent.

        Parameters
        ----------
        now : datetime
            Aware UTC.
        """
        self._now = now
        new = [item for item in self.store.outbox_items() if item.item_id not in self._shown]
        self._shown.update(item.item_id for item in new)
        here = [item for item in new if self._is_here(item)]
        for item in here:
            self._write(f"\n{f'-- {self._head(item)} '.ljust(_WIDTH, '-')}\n")
        while self._has_work(now):
            self._relay.run_once(now)
            self._relay.wait(_PATIENCE)
        for item in new:
            if item not in here:
                self._write(f"\n-- {self._head(item)}, into {LETTERS_DIRECTORY}: {item.letter.subject}\n")
        self.pause()

    def letters(self) -> tuple[Letter, ...]:
        """Return all letters, in order."""
        return tuple(item.letter for item in self.store.outbox_items())

    def accepted(self) -> int:
        """Return how many letters a channel has accepted."""
        return self.store.outbox_summary().counts[OutboxState.ACCEPTED]

    def stop(self) -> None:
        """Send no more."""
        self._relay.stop()

    def _clock(self) -> datetime:
        """Return the time of the evaluation whose letters are being sent."""
        return self._now

    def _has_work(self, now: datetime) -> bool:
        """Return whether a letter is in flight, or due."""
        waiting = self.store.outbox_items(OutboxState.WAITING)
        is_due = any(item.not_before <= now for item in waiting)
        return is_due or bool(self.store.outbox_items(OutboxState.CLAIMED))

    def _is_here(self, item: OutboxItem) -> bool:
        """Return whether a letter is shown where the demo runs."""
        return any(each.name == item.channel and each.kind is ChannelKind.TERMINAL for each in self.loaded.channels)

    def _head(self, item: OutboxItem) -> str:
        """Return when a letter was written, and to whom."""
        site, letter = self.loaded.garden.site, item.letter
        return f"{day_text(letter.composed, site)} {clock_text(letter.composed, site)}, to {letter.recipient}"

    def _write(self, text: str) -> None:
        self.stream.write(text)
        self.stream.flush()
