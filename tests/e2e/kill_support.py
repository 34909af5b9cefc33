"""A daemon in a process of its own, killed and started again, and what must be true afterwards."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).parents[2]))

from alertd.delivery import SENT_AGAIN
from alertd.store import OutboxState, Store
from tests.fakes.garden_folder import GardenFolder
from tests.fakes.servers import MailServer

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from random import Random

_PROGRAM = Path(__file__).parents[1] / "fakes" / "daemon.py"

#: [s] What a slow machine is given.
PATIENCE = 40.0


class HangingMailServer(MailServer):
    """A mail server that can keep a letter waiting for its answer, and forgets it when the sender goes away."""

    def __init__(self) -> None:
        super().__init__()
        self.is_hanging = False
        self.has_letter = threading.Event()

    async def handle_DATA(self, server, session, envelope) -> str:  # noqa: N802
        self.has_letter.set()
        if not self.is_hanging:
            return await super().handle_DATA(server, session, envelope)
        self.data_pause, answer = 60.0, self.data_answer
        self.data_answer = "451 4.3.0 gone"
        try:
            return await super().handle_DATA(server, session, envelope)
        finally:
            self.data_pause, self.data_answer = 0.0, answer


class KillingMailServer(MailServer):
    """A mail server that kills the sender's master between taking a letter and saying so.

    The letter is accepted and nobody alive knows it.
    """

    def __init__(self) -> None:
        super().__init__()
        self.victim: subprocess.Popen[bytes] | None = None
        self.kills = 0

    async def handle_DATA(self, server, session, envelope) -> str:  # noqa: N802
        answer = await super().handle_DATA(server, session, envelope)
        victim, self.victim = self.victim, None
        if victim is not None:
            victim.kill()
            self.kills += 1
        return answer


def mail_garden(folder: Path, server: MailServer) -> GardenFolder:
    """Return a garden whose keeper reads mail."""
    return GardenFolder(folder, f"mailto://127.0.0.1:{server.port}/?from=alertd@example.org&to=keeper@example.org")


@contextmanager
def running(garden: GardenFolder, *more: str) -> Iterator[subprocess.Popen[bytes]]:
    """Run a daemon; whatever happens, it has ended afterwards."""
    with (garden.folder / "log").open("ab") as log:
        command = [sys.executable, "-m", "alertd", "run", "--config", str(garden.configuration)]
        if more:  # a source with a fault, which the installed program does not have
            command = [sys.executable, str(_PROGRAM), str(garden.configuration), *more]
        process = subprocess.Popen(command, stdout=log, stderr=log)
        try:
            yield process
        finally:
            process.kill()
            process.wait()


def log_of(garden: GardenFolder) -> str:
    """Return all that the daemons of a garden have said."""
    return (garden.folder / "log").read_text()


def stop(process: subprocess.Popen[bytes]) -> tuple[int, float]:
    """End a daemon in order; return its exit code and how long that took [s]."""
    began = time.monotonic()
    process.send_signal(signal.SIGTERM)
    return process.wait(PATIENCE), time.monotonic() - began


def wait_until(condition: Callable[[], object], patience: float = PATIENCE) -> bool:
    """Return whether something comes true in time."""
    end = time.monotonic() + patience
    while not condition():
        if time.monotonic() > end:
            return False
        time.sleep(0.05)
    return True


def kinds(garden: GardenFolder) -> Counter[str]:
    """Return how many rows of each kind the audit log has."""
    with Store.open(garden.database) as store:
        return Counter(row.kind for row in store.audit_rows())


def has_evaluated(garden: GardenFolder, times: int = 1) -> bool:
    """Return whether so many evaluations are in the audit log."""
    return garden.database.exists() and kinds(garden)["evaluation"] >= times


def references(server: MailServer) -> list[str]:
    """Return the references of all mails that a server has accepted."""
    return [mail["X-Alertd-Reference"] for mail in server.received]


@dataclass(frozen=True)
class Tally:
    """How much a series of kills has put to the test."""

    letters: int
    alerts: int
    repeated: int
    resent: int


def kill_again_and_again(garden: GardenFolder, server: KillingMailServer, rounds: int, random: Random) -> None:
    """Start a daemon, change the forecast, kill the daemon, each at a random moment; some as a letter is accepted.

    Lives last up to one and a half times what this machine takes for a first letter, so a slow one also sends some.
    """
    garden.write_forecast(is_severe=True)
    first_letter = _time_to_a_first_letter(garden, server)
    print(f"first letter after {first_letter:.1f} s")
    for _ in range(rounds):
        life = first_letter * random.uniform(0.1, 1.5)
        change = random.uniform(0.0, life)
        with running(garden) as process:
            server.victim = process if random.random() < 0.5 else None
            time.sleep(change)
            garden.write_forecast(is_severe=random.random() < 0.5)
            time.sleep(life - change)
            server.victim = None
            process.kill()


def _time_to_a_first_letter(garden: GardenFolder, server: MailServer) -> float:
    """Run a daemon until it has sent a letter, kill it, and return how long that took [s]."""
    began = time.monotonic()
    with running(garden):
        assert wait_until(lambda: server.received), log_of(garden)
    return time.monotonic() - began


def run_until_all_is_quiet(garden: GardenFolder, patience: float) -> None:
    """Run once more with a mild forecast until every alert has ended and every letter has gone, then stop in order."""
    garden.write_forecast(is_severe=False)
    before = kinds(garden)["evaluation"]
    with running(garden) as process:
        assert wait_until(lambda: has_evaluated(garden, before + 1))
        with Store.open(garden.database) as store:
            assert wait_until(lambda: _is_quiet(store), patience), log_of(garden)
        code, _ = stop(process)
    assert code == 0


def _is_quiet(store: Store) -> bool:
    counts = store.outbox_summary().counts
    unsettled = counts[OutboxState.WAITING] + counts[OutboxState.CLAIMED]
    return unsettled == 0 and not any(alert.is_open for alert in store.all_alerts())


def check_nothing_is_lost(garden: GardenFolder, server: MailServer, kills: int) -> Tally:
    """Check state, outbox, audit log and mailbox against each other."""
    with Store.open(garden.database) as store:
        assert store.verify_audit() == []
        items = store.outbox_items()
        alerts = store.all_alerts()
        told = _told_revisions(store)
    assert {item.state for item in items} <= {OutboxState.ACCEPTED}
    spoken_of = Counter(alert_id for item in items for alert_id in item.letter.threads)
    for alert in alerts:
        assert alert.revision == len(alert.history) == spoken_of[alert.alert_id], alert.alert_id
        assert told[alert.alert_id] == list(range(1, alert.revision + 1))
    assert set(spoken_of) == set(told) == {alert.alert_id for alert in alerts}
    received = Counter(references(server))
    attempts = {item.reference: item.attempts for item in items}
    assert set(received) == set(attempts)
    assert all(count <= attempts[reference] for reference, count in received.items())
    repeated = received.total() - len(received)
    assert repeated <= kills
    _check_repeats_say_so(server)
    return Tally(len(items), len(alerts), repeated, sum(count > 1 for count in attempts.values()))


def _told_revisions(store: Store) -> dict[str, list[int]]:
    told: dict[str, list[int]] = {}
    for row in store.audit_rows():
        body = json.loads(row.body)
        if row.kind == "transition" and body["notice"] is not None:
            told.setdefault(body["alert_id"], []).append(body["revision"])
    return told


def _check_repeats_say_so(server: MailServer) -> None:
    """Check that a letter which came before says that it may have, and bears its reference where people see it."""
    seen = set()
    for mail in server.received:
        reference = mail["X-Alertd-Reference"]
        text = mail.get_body(("plain",)).get_content().replace("\r\n", "\n")
        assert f"Reference {reference}\n" in text
        assert reference not in seen or SENT_AGAIN in text
        seen.add(reference)
