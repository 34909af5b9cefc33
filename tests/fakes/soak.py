"""Two weeks of an invented winter in simulated time, with faults drawn at random, and the books afterwards.

Real parts: the watch, a database file, the relay with its child processes, a mail server and a web server on loopback
(in a process of their own).
Only time is simulated: the clock moves ten minutes at a time, and each send in between takes as long as it takes.
"""

from __future__ import annotations

import json
import sqlite3
import time
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from random import Random
from typing import TYPE_CHECKING, Self

import numpy as np

from alertd.alerts import SITE
from alertd.core import AlertdError, SourceUnavailable, StoreError, to_datetime64
from alertd.delivery import Channel, RelaySettings
from alertd.messages import Reader
from alertd.store import OutboxState, Store
from alertd.watch import Readership, Watch, done
from alertd.watch.relay import Relay
from alertd.weather import Forecast, Series
from tests.fakes.garden import FIGS, POTS, make_garden
from tests.fakes.servers import WebAnswer
from tests.fakes.servers_apart import ServersApart

if TYPE_CHECKING:
    from pathlib import Path

START = datetime(2026, 1, 5, 13, tzinfo=UTC)
TICK = timedelta(minutes=10)

#: Ways in which mail and web misbehave for an hour, as often as they stand here; the rest of the hours are good.
MAIL_WAYS = {"no such user": 1, "busy": 3, "not now": 2, "no answer": 1}
WEB_WAYS = {"gone": 1, "overloaded": 3, "wait": 2, "hangs up": 2, "no answer": 1}

READERS = (Reader("Ann"), Reader("Ben", frozenset({"pots"})))
CHANNELS = {"Ann": ("mail", "web"), "Ben": ("web",)}


class Forecaster:
    """Forecasts of an invented winter, wrong as forecasts are, now and then not to be had."""

    name = "invented"

    def __init__(self, random: Random) -> None:
        self._seed = random.getrandbits(32)
        self.is_down = False
        self.mild_from: datetime | None = None

    def get(self, now: datetime) -> tuple[Forecast, tuple[()]]:
        """Return what is forecast now, in a new run every six hours."""
        if self.is_down:
            message = "the line is cut"
            raise SourceUnavailable(message)
        made = now.replace(hour=now.hour // 6 * 6, minute=0, second=0)
        times = to_datetime64(made) + np.arange(24 * 7) * np.timedelta64(3600, "s")
        error = Random(f"{self._seed}{made}").gauss(0.0, 2.0)
        lead = np.arange(times.size) / 48.0
        air = self._weather(times) + error * np.minimum(lead, 1.5)
        return Forecast(self.name, made, now, Series(times, {"air_temperature": air[None, :]})), ()

    def _weather(self, times: np.ndarray) -> np.ndarray:
        hours = (times - to_datetime64(START)) / np.timedelta64(3600, "s")
        by_day = 6.0 * np.cos((hours % 24.0 - 6.0) * np.pi / 12.0)
        nights = np.array([Random(f"{self._seed}{day}").uniform(-18.0, 2.0) for day in range(-9, 40)])
        level = np.interp(hours / 24.0, np.arange(-9, 40), nights)
        if self.mild_from is not None:
            level = np.where(times >= to_datetime64(self.mild_from), 8.0, level)
        return level + by_day


@dataclass(frozen=True)
class Books:
    """What became of letters and alerts."""

    alerts: int
    letters: int
    accepted: int
    expired_and_reported: int
    dead_and_reported: int
    repeated: int
    tries: int
    restarts: int


@dataclass
class Soak:
    """One run.

    Parameters
    ----------
    folder : Path
        For the database.
    seed : int
        Of everything that is drawn.
    """

    folder: Path
    seed: int
    random: Random = field(init=False)
    now: datetime = START
    restarts: int = 0

    def __post_init__(self) -> None:
        self.random = Random(self.seed)
        self.source = Forecaster(self.random)
        self.servers = ServersApart()
        self.garden = make_garden(POTS, FIGS, is_exact=False)
        self.store = self._open()
        self.channels = {
            "mail": Channel(
                "mail", f"mailto://127.0.0.1:{self.servers.mail_port}/?from=alertd@example.org&to=ann@example.org"
            ),
            "web": Channel("web", f"json://127.0.0.1:{self.servers.web_port}/trees"),
        }
        self.watch, self.relay = self._watch(), self._relay()
        self._last_look: datetime | None = None
        self._no_line_until = START

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_failure: object) -> None:
        self.relay.stop()
        self.store.close()
        self.servers.close()

    def run(self, days: float) -> None:
        """Let so many days pass with faults."""
        end = self.now + timedelta(days=days)
        while self.now < end:
            if self.now.minute < 10:
                self._draw_hour()
            self._tick()

    def settle(self) -> None:
        """Let mild days pass, all channels good, until nothing is open or under way."""
        self.source.is_down = False
        self.source.mild_from = self.now + timedelta(days=1)
        self._mail_is("good")
        self._web_is("good")
        end = self.now + timedelta(days=12)
        while self.now < end and not self._is_quiet():
            self._tick()

    def _draw_hour(self) -> None:
        """Draw what goes wrong in this hour."""
        drawn = self.random.random()
        if drawn > 0.992:
            self._no_line_until = self.now + timedelta(hours=self.random.randint(4, 40))
        is_cut = self.now < self._no_line_until
        if is_cut or self.random.random() < 0.4:
            self._mail_is("busy" if is_cut else self._drawn(MAIL_WAYS, 8))
            self._web_is("hangs up" if is_cut else self._drawn(WEB_WAYS, 8))
        if drawn < 0.02:
            self.source.is_down = True
        elif drawn < 0.06:
            self.source.is_down = False
        elif drawn < 0.09:
            self.now += timedelta(hours=self.random.choice((-1, 1)))
            self.store.end_leases(self.now)
            self._last_look = None
        elif drawn < 0.10:
            self.now += timedelta(hours=30)  # the machine slept
        elif drawn < 0.16:
            self._answer_somebody()

    def _drawn(self, ways: dict[str, int], good: int) -> str:
        return self.random.choices([*ways, "good"], [*ways.values(), good])[0]

    def _mail_is(self, way: str) -> None:
        self.servers.mail_is(
            recipient_answer="550 5.1.1 no such user" if way == "no such user" else "250 OK",
            data_answer={"busy": "451 4.3.2 busy", "not now": "421 4.3.2 not now"}.get(way, "250 OK"),
            data_pause=30.0 if way == "no answer" else 0.0,
        )

    def _web_is(self, way: str) -> None:
        ways = {
            "gone": WebAnswer(410),
            "overloaded": WebAnswer(503),
            "wait": WebAnswer(429, {"Retry-After": "900"}),
            "hangs up": WebAnswer(hang_up=True),
            "no answer": WebAnswer(pause=30.0),
        }
        self.servers.web_is(ways.get(way, WebAnswer()))

    def _answer_somebody(self) -> None:
        """Somebody reports a task done, or declines."""
        open_alerts = [alert for alert in self.store.all_alerts() if alert.is_open and alert.group != SITE]
        if open_alerts:
            alert = self.random.choice(open_alerts)
            try:
                done(self.garden, self.store, alert.alert_id, self.now, declined=self.random.random() < 0.3)
            except AlertdError:  # it has been answered before
                return

    def _tick(self) -> None:
        drawn = self.random.random()
        blocker = self._lock_database() if drawn < 0.01 else None
        try:
            self._look()
            self.relay.run_once(self.now)
        except StoreError:
            assert blocker is not None, "only a locked database is refused"
        if drawn > 0.98:
            time.sleep(self.random.uniform(0.0, 0.6))
            self._die_and_start_anew()
        assert self.relay.wait(timedelta(seconds=60))
        if blocker is not None:
            blocker.close()
        self.now += TICK

    def _look(self) -> None:
        call = self.watch.next_call(self._last_look) if self._last_look is not None else None
        is_due = self._last_look is None or self.now - self._last_look >= timedelta(hours=1)
        if is_due or (call is not None and call <= self.now):
            self.watch.evaluate(self.now)
            self._last_look = self.now

    def _lock_database(self) -> sqlite3.Connection:
        other = sqlite3.connect(self.folder / "soak.sqlite", isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        return other

    def _die_and_start_anew(self) -> None:
        """End everything in the middle of what it does; what is in flight stays claimed."""
        self.relay.stop()
        self.store.close()
        self.restarts += 1
        self.store = self._open()
        self.store.end_leases(self.now)
        self.watch, self.relay = self._watch(), self._relay()
        self._last_look = None

    def _open(self) -> Store:
        return Store.open(self.folder / "soak.sqlite", busy_timeout=timedelta(milliseconds=50))

    def _watch(self) -> Watch:
        return Watch(self.garden, [self.source], Readership(READERS, CHANNELS), self.store)

    def _relay(self) -> Relay:
        settings = RelaySettings(deadline=timedelta(seconds=3))
        return Relay(
            self.store,
            self.channels,
            settings,
            "hillside",
            random=self.random,
            others=CHANNELS,
            clock=lambda: self.now,
        )

    def _is_quiet(self) -> bool:
        counts = self.store.outbox_summary().counts
        is_sent = not counts[OutboxState.WAITING] and not counts[OutboxState.CLAIMED]
        return is_sent and not any(alert.is_open for alert in self.store.all_alerts())

    def books(self) -> Books:
        """Check every letter and every alert, and return what became of them."""
        assert self.store.verify_audit() == []
        sends = [json.loads(row.body) for row in self.store.audit_rows() if row.kind == "send"]
        last = {(each["reference"], each["recipient"]): each["outcome"] for each in sends}
        items = self.store.outbox_items()
        accepted = {(each.reference, each.recipient) for each in items if each.state is OutboxState.ACCEPTED}
        letters = {(each.reference, each.recipient) for each in items}
        reported = {reference.rpartition("-unreached-")[0] for reference, _ in accepted if "-unreached-" in reference}
        lost = {letter for letter in letters - accepted if letter[0] not in reported and "-unreached-" not in letter[0]}
        names = {reference for reference, _ in lost}
        fate = [(each.reference, each.channel, each.state.value, each.last_error) for each in items]
        fate = [each for each in fate if each[0].partition("-unreached-")[0] in names]
        assert lost == set(), f"neither accepted nor reported: {fate}"
        given_up = Counter(last[letter] for letter in letters - accepted)
        self._check_alerts(items)
        mails, calls = self.servers.received()
        assert {*mails, *calls} >= {reference for reference, _ in accepted}
        attempts = sum(each.attempts for each in items)
        assert len(sends) <= attempts
        return Books(
            alerts=len(self.store.all_alerts()),
            letters=len(letters),
            accepted=len(accepted),
            expired_and_reported=given_up["expired"],
            dead_and_reported=len(letters) - len(accepted) - given_up["expired"],
            repeated=len(mails) - len(set(mails)),
            tries=len(sends),
            restarts=self.restarts,
        )

    def _check_alerts(self, items: list) -> None:
        """Check that everybody who cares was written a letter for each thing that is to be told of an alert."""
        told = Counter((alert, item.recipient) for item in items for alert in set(item.letter.threads))
        for alert in self.store.all_alerts():
            assert not alert.is_open, f"{alert.alert_id} never ended"
            for reader in READERS:
                cares = not reader.groups or alert.group in reader.groups or alert.group == SITE
                if cares and alert.revision:
                    assert told[alert.alert_id, reader.name], f"{reader.name} was never told of {alert.alert_id}"
