"""A store, a relay and a clock that tests move, so that hours pass in no time; and how the books must end."""

from __future__ import annotations

import asyncio
import json
import os
import random
import signal
import socket
import sys
import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Self

sys.path.insert(0, str(Path(__file__).parents[2]))

from alertd.audit import AuditEvent
from alertd.core import StoreError
from alertd.delivery import Channel, Outcome, Phrase, RelaySettings, is_report
from alertd.store import Addressed, Commit, OutboxState, Store
from alertd.watch.relay import Relay
from tests.fakes.letters import make_letter
from tests.fakes.servers import MailServer

#: In every address of a channel: as password, in paths and in header fields.
CANARY = "s3cr3t-canary"

#: Faults that last take a letter two tries and a third that finds it too old; the report of it one, and one to give up.
SETTINGS = RelaySettings(
    deadline=timedelta(seconds=40),
    first_retry=timedelta(minutes=10),
    max_retry=timedelta(minutes=15),
    jitter=0.0,
    max_tries=2,
    lasts=timedelta(minutes=20),
    reports_last=timedelta(minutes=5),
)

#: For faults that hang: each try is ended after this.
IMPATIENT = replace(SETTINGS, deadline=timedelta(seconds=3))

#: More rounds than any fault needs; who needs more goes round in circles.
MOST_ROUNDS = 12

_UNSETTLED = (OutboxState.WAITING, OutboxState.CLAIMED)


class House:
    """A database file, channels by name, and people with their channels."""

    def __init__(self, folder: Path, database: Path | None = None) -> None:
        self.folder = folder
        self.now = datetime(2026, 1, 22, 9, tzinfo=UTC)
        self.database = folder / "alertd.db" if database is None else database
        self.store = Store.open(self.database, busy_timeout=timedelta(milliseconds=200))
        self.channels = {name: Channel(name, f"file:{folder / name}") for name in ("shelf", "desk")}
        self.people: dict[str, tuple[str, ...]] = {"Ben": ("desk",)}
        self.relays: list[Relay] = []

    def put(self, recipient: str, *channels: str, reference: str = "N7-1") -> None:
        """Put a letter to somebody into the outbox; from now on its channels are that person's."""
        self.people[recipient] = channels
        letter = make_letter(reference=reference, recipient=recipient, composed=self.now)
        event = AuditEvent(self.now, "letter", {"reference": reference, "recipient": recipient})
        self.store.commit(Commit(self.now, letters=(Addressed(letter, channels),), events=(event,)))

    def relay(self, settings: RelaySettings = SETTINGS) -> Relay:
        """Return a relay over the channels as they are now."""
        relay = Relay(
            self.store,
            self.channels,
            settings,
            "north",
            random=random.Random(1),
            others=self.people,
            clock=lambda: self.now,
        )
        self.relays.append(relay)
        return relay

    def carry(self, relay: Relay) -> bool:
        """Send what is due and wait for it; return whether the database could be used."""
        try:
            relay.run_once(self.now)
        except StoreError:  # the daemon logs it and comes back a second later
            return False
        finally:
            assert relay.wait(timedelta(seconds=120))
        return True

    def drive(self, relay: Relay) -> int:
        """Move the clock from one try to the next until nothing is left to be done; return the number of rounds."""
        for number in range(MOST_ROUNDS):
            unsettled = [item for item in self.store.outbox_items() if item.state in _UNSETTLED]
            if not unsettled:
                return number
            due = min(item.lease_until or item.not_before for item in unsettled)
            self.now = max(self.now, due)
            assert self.carry(relay)
        message = f"after {MOST_ROUNDS} rounds there is still something to send"
        raise AssertionError(message)

    def settled(self, recipient: str, reference: str = "N7-1") -> list[tuple[str, str]]:
        """Return how the letter to somebody ended, channel after channel."""
        return [
            (item.channel, item.state.value)
            for item in self.store.outbox_items()
            if (item.recipient, item.reference) == (recipient, reference)
        ]

    def events(self, kind: str) -> list[dict]:
        """Return the bodies of the audit log's rows of one kind."""
        return [json.loads(row.body) for row in self.store.audit_rows() if row.kind == kind]

    def tries(self, recipient: str, reference: str = "N7-1") -> list[dict]:
        """Return what the audit log says about the tries of one letter."""
        return [
            event for event in self.events("send") if (event["recipient"], event["reference"]) == (recipient, reference)
        ]

    def text(self, channel: str, reference: str = "N7-1") -> str:
        """Return what a channel of files holds."""
        return (self.folder / channel / f"{reference}.txt").read_text(encoding="utf-8")

    def close(self) -> None:
        """Stop all that runs."""
        stopped = [relay.stop() for relay in self.relays]
        self.store.close()
        assert all(stopped)


def check_books(house: House, log: str) -> None:
    """Check that every letter ended as it may, and that the records say so without a secret.

    Each ends accepted; or dead, and then the same letter was accepted by the next channel, or somebody accepted a
    report of it. A report that nobody takes ends as a problem in the audit log.
    """
    store = house.store
    assert store.verify_audit() == []
    items = store.outbox_items()
    assert {item.state for item in items} <= {OutboxState.ACCEPTED, OutboxState.DEAD}
    ends: dict[tuple[str, str], list] = {}
    for item in items:
        ends.setdefault((item.reference, item.recipient), []).append(item)
    accepted = {key for key, tried in ends.items() if tried[-1].state is OutboxState.ACCEPTED}
    reports = [event for event in house.events("letter") if "reports" in event]
    reported = {event["reports"] for event in reports if (event["reference"], event["recipient"]) in accepted}
    problems = {(event["reference"], event["recipient"]) for event in house.events("problem")}
    for key, tried in ends.items():
        assert all(item.state is OutboxState.DEAD for item in tried[:-1]), key
        if key in accepted:
            continue
        assert key in problems if is_report(tried[-1].letter) else key[0] in reported, key
    _check_tries(house, items)
    _check_words(house, items, log)


def _check_tries(house: House, items: list) -> None:
    """Check that the audit log tells each try with its reason."""
    events = house.events("send")
    reasons = tuple(phrase.value for phrase in Phrase)
    assert all(event["outcome"] in set(Outcome) and event["reason"].startswith(reasons) for event in events)
    for item in items:
        own = [
            event
            for event in events
            if (event["reference"], event["recipient"], event["channel"])
            == (item.reference, item.recipient, item.channel)
        ]
        numbers = [event["attempt"] for event in own]
        assert numbers == sorted(set(numbers)), item.reference
        assert (
            own[-1]["outcome"] == "accepted"
            if item.state is OutboxState.ACCEPTED
            else "accepted" not in {event["outcome"] for event in own}
        )


def _check_words(house: House, items: list, log: str) -> None:
    """Check that nothing claims a delivery and nothing tells a secret."""
    said = [row.body for row in house.store.audit_rows()]
    said += [repr(item) for item in items]
    said += [path.read_text(encoding="utf-8") for path in house.folder.rglob("*.txt")]
    said.append(log)
    everything = "\n".join(said)
    assert "deliver" not in everything.lower().replace("alertd/delivery", "").replace("alertd.delivery", "")
    assert CANARY not in everything


class DrippingServer:
    """Speaks one byte a second for ever, whatever it is told, and never ends a line."""

    def __init__(self) -> None:
        self._socket = socket.create_server(("127.0.0.1", 0))
        self._socket.settimeout(0.05)
        self.port = self._socket.getsockname()[1]
        self._closing = threading.Event()
        self._threads = [threading.Thread(target=self._take)]

    def _take(self) -> None:
        while not self._closing.is_set():
            try:
                connection, _address = self._socket.accept()
            except TimeoutError:
                continue
            thread = threading.Thread(target=self._drip, args=(connection,))
            self._threads.append(thread)
            thread.start()

    def _drip(self, connection: socket.socket) -> None:
        with connection:
            try:
                connection.sendall(b"2")
                while not self._closing.wait(1.0):
                    connection.sendall(b"2")
            except OSError:  # the other side has gone
                return

    def __enter__(self) -> Self:
        self._threads[0].start()
        return self

    def __exit__(self, *_failure: object) -> None:
        self._closing.set()
        self._threads[0].join()  # no further thread is started from here on
        for thread in self._threads[1:]:
            thread.join()
        self._socket.close()


class CutMailServer(MailServer):
    """Takes the mail and keeps it; then the connection, or the process that sent it, is gone before the reply.

    ``faults`` is how often.
    """

    def __init__(self, *, kills: bool = False, faults: int = 1_000) -> None:
        super().__init__(password=CANARY)
        self.faults = faults
        self._kills = kills

    async def handle_DATA(self, server, session, envelope) -> str:  # noqa: N802
        answer = await super().handle_DATA(server, session, envelope)
        if self.faults > 0:
            self.faults -= 1
            if self._kills:
                for process in senders():
                    os.kill(process, signal.SIGKILL)
                await asyncio.sleep(0.5)
            server.transport.abort()
        return answer


def senders() -> list[int]:
    """Return the numbers of the sending processes that this process has started."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            is_ours = f"PPid:\t{os.getpid()}\n" in (folder / "status").read_text()
            command = (folder / "cmdline").read_bytes()
        except OSError:  # it has ended meanwhile
            continue
        if is_ours and b"alertd.delivery.child" in command:
            found.append(int(folder.name))
    return found
