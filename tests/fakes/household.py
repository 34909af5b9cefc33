"""A household that is watched: several readers, one forecast that is replaced now and then, a clock that runs ahead."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import TYPE_CHECKING, Self

from alertd.core import SourceUnavailable
from alertd.store import Store
from alertd.watch import Readership, Watch, done, mark
from tests.fakes.garden import make_forecast, make_garden

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.messages import Letter, Reader
    from alertd.weather import Series

HOUR = timedelta(hours=1)


@dataclass
class Service:
    """A forecast service that makes its forecast anew every hour, of what it was last given."""

    name: str = "north"
    series: Series | None = None

    def get(self, now: datetime):
        """Return the forecast; without one, say that there is none."""
        if self.series is None:
            message = f"{self.name}: no answer"
            raise SourceUnavailable(message)
        made = now.replace(minute=0, second=0)
        return make_forecast(made, self.series, self.name), ()


@dataclass
class Household:
    """The daemon's days: it looks once an hour, when a call or a letter is due, and when somebody has reported."""

    readers: tuple[Reader, ...]
    now: datetime
    groups: tuple = ()
    changes: dict = field(default_factory=dict)
    every: timedelta = HOUR

    def __post_init__(self) -> None:
        """Begin with an empty memory."""
        self.garden = make_garden(*self.groups, **self.changes)
        self.service = Service()
        self.store = Store.open(None)
        self.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_failure) -> None:
        self.store.close()

    def start(self) -> None:
        """Start the daemon, or start it anew: it remembers what the store does."""
        readership = Readership(self.readers, {reader.name: ("paper",) for reader in self.readers})
        self.watch = Watch(self.garden, [self.service], readership, self.store)
        self.looked: datetime | None = None

    @property
    def letters(self) -> list[Letter]:
        """All letters, in order."""
        return [item.letter for item in self.store.outbox_items()]

    def letters_to(self, name: str) -> list[Letter]:
        """All letters to one reader."""
        return [letter for letter in self.letters if letter.recipient == name]

    def look(self) -> list[Letter]:
        """Judge now; return the letters that came of it."""
        known = len(self.letters)
        self.watch.evaluate(self.now)
        self.looked = self.now
        return self.letters[known:]

    def run_until(self, end: datetime) -> list[Letter]:
        """Let the daemon run; return the letters that came of it."""
        known = len(self.letters)
        while True:
            if self.looked is None or self.watch.has_reports():
                self.look()
            due = self.looked + self.every
            call = self.watch.next_call(self.looked)
            following = max(due if call is None else min(due, call), self.now)
            if following > end:
                break
            self.now = following
            self.look()
        self.now = end
        return self.letters[known:]

    def forecast(self, series: Series | None) -> list[Letter]:
        """Give the service another forecast, and judge; return the letters that came of it."""
        self.service.series = series
        return self.look()

    def done(self, alert_id: str, *, declined: bool = False) -> None:
        """Report a task done, or *not this time*."""
        done(self.garden, self.store, alert_id, self.now, declined=declined)

    def mark(self, group_id: str, word: str) -> None:
        """Mark how a group stands."""
        mark(self.garden, self.store, group_id, word, self.now)
