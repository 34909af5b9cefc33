"""The end of each cycle: its line in the log, its note, and who hears of good ones."""

from __future__ import annotations

import logging
import sys
from datetime import timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[3]))

from alertd import __version__
from alertd.audit import AuditEvent
from alertd.config import load
from alertd.core import StoreError
from alertd.service.cycle import Cycles
from alertd.service.failures import Failures
from alertd.service.look import Look
from alertd.service.record_counts import RecordCounts
from alertd.store import Addressed, Commit
from alertd.watch import Watch, read_cycle, readership
from tests.fakes.garden_folder import FaultySource, GardenFolder
from tests.fakes.letters import make_letter

HOUR = timedelta(hours=1)


class House:
    """A watch over one forecast file whose cycles are followed."""

    def __init__(self, folder, store, clock) -> None:
        self.garden = GardenFolder(folder, f"file:{folder / 'letters'}")
        self.garden.write_forecast(is_severe=True)
        loaded = load(self.garden.configuration, {})
        self.source = FaultySource("weather file", self.garden.forecast)
        self.store, self.clock, self.good = store, clock, 0
        clock.now = self.garden.base + HOUR
        site, readers = loaded.garden.site, readership(loaded)
        self.cycles = Cycles(store, site, HOUR, RecordCounts(store), self.hear)
        watch = Watch(loaded.garden, (self.source,), readers, store)
        self.look = Look(watch, HOUR, Failures(store, readers, site), clock, self.cycles.ended).look

    def hear(self) -> None:
        self.good += 1


@pytest.fixture
def house(tmp_path, store, clock, caplog):
    caplog.set_level(logging.INFO, "alertd.service.cycle")
    return House(tmp_path, store, clock)


def lines(caplog) -> list[dict[str, str]]:
    """Return the facts of each line about a cycle."""
    texts = [message.removeprefix("cycle: ") for message in caplog.messages if message.startswith("cycle: ")]
    return [dict(part.split("=", 1) for part in text.split(" ") if "=" in part) for text in texts]


def test_each_cycle_has_one_line_with_all_that_counts(house, caplog):
    house.look()
    house.look()
    house.clock.advance(hours=1)
    house.look()
    first, second = lines(caplog)
    assert list(first) == [
        *("outcome", "seconds", "forecast_ages_h", "refused", "blind"),
        *("open_alerts", "letters", "outbox", "given_up", "next_look"),
    ]
    assert (first["outcome"], first["letters"], first["outbox"], first["open_alerts"]) == ("good", "1", "1", "1")
    assert (second["letters"], second["outbox"]) == ("0", "1")
    assert 'forecast_ages_h="weather file ' in caplog.text
    assert first["next_look"] == f"{house.clock.now:%Y-%m-%dT%H:%M:%SZ}"


def test_the_note_says_what_was_seen_and_when_it_comes_again(house):
    began = house.clock.now
    house.look()
    note = read_cycle(house.store)
    assert (note.version, note.began, note.last_good, note.every) == (__version__, began, began, HOUR)
    assert note.next_look == began + HOUR
    assert [each.name for each in note.used] == ["weather file"]
    assert (note.letters, note.open_alerts, note.failures, note.problem) == (1, 1, 0, "")
    assert timedelta(0) < note.duration < timedelta(minutes=1)


def test_a_cycle_that_fails_keeps_what_the_last_one_saw_and_tells_no_secret(house, caplog):
    house.look()
    good = read_cycle(house.store)
    house.source.fault = "crash"
    house.clock.advance(hours=1)
    house.look()
    note = read_cycle(house.store)
    assert (note.used, note.last_good) == (good.used, good.began)
    assert (note.failures, note.problem[:13]) == (1, "RuntimeError ")
    assert note.next_look == house.clock.now + timedelta(minutes=1)
    assert lines(caplog)[-1]["outcome"] == "failed"
    assert "s3cr3t" not in caplog.text + house.store.get_note("cycle")


def test_only_good_cycles_are_heard_of(house):
    house.look()
    assert house.good == 1
    house.source.fault = "crash"
    house.clock.advance(hours=1)
    house.look()
    house.source.fault = "down"
    house.clock.advance(days=1)
    house.look()
    assert read_cycle(house.store).is_blind
    assert house.good == 1
    assert house.cycles.totals()[0] == {"good": 1, "failed": 1, "blind": 1, "stuck": 0}


def test_a_cycle_while_letters_are_stuck_is_not_good(house):
    early = house.clock.now - timedelta(minutes=46)
    event = AuditEvent(early, "letter", {"reference": "N7-1", "recipient": "Ann"})
    house.store.commit(Commit(early, letters=(Addressed(make_letter(), ("way",)),), events=(event,)))
    house.look()
    assert house.good == 0
    assert read_cycle(house.store).last_good is None
    assert house.cycles.totals()[0]["stuck"] == 1


def test_a_stop_is_noted_and_forgotten_with_the_next_cycle(house):
    house.cycles.stopped(house.clock.now)
    assert read_cycle(house.store) is None
    house.look()
    house.cycles.stopped(house.clock.now)
    assert read_cycle(house.store).stopped == house.clock.now
    house.clock.advance(hours=1)
    house.look()
    assert read_cycle(house.store).stopped is None


def test_a_database_that_cannot_be_written_costs_the_note_and_not_the_daemon(house, store, monkeypatch, caplog):
    def fail(_key, _value):
        message = "database x is full"
        raise StoreError(message)

    monkeypatch.setattr(store, "set_note", fail)
    house.look()
    assert "the cycle could not be noted: StoreError: database x is full" in caplog.text
    assert house.good == 0
    assert house.cycles.totals()[0]["failed"] == 1


def test_sends_and_letters_are_counted_from_the_start_on(store, clock):
    def write(kind, **body):
        store.commit(Commit(clock.now, events=(AuditEvent(clock.now, kind, body),)))

    write("letter")
    counts = RecordCounts(store)
    write("letter")
    for outcome in ("unavailable", "accepted", "accepted"):
        write("send", channel="way", outcome=outcome)
    counts.catch_up()
    counts.catch_up()
    assert counts.letters == 1
    assert counts.sends == {("way", "accepted"): 2, ("way", "unavailable"): 1}
