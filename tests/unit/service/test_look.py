from __future__ import annotations

import logging
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[3]))

from alertd.config import load
from alertd.service.failures import Failures
from alertd.service.look import Look
from alertd.watch import Watch, mark, readership
from tests.fakes.garden_folder import FaultySource, GardenFolder

HOUR = timedelta(hours=1)


class House:
    """A watch over one forecast file, with a clock that stands still until it is moved."""

    def __init__(self, folder, store, clock) -> None:
        self.garden = GardenFolder(folder, f"file:{folder / 'letters'}")
        self.garden.write_forecast(is_severe=True)
        loaded = load(self.garden.configuration, {})
        self.source = FaultySource("weather file", self.garden.forecast)
        self.store, self.clock = store, clock
        clock.now = self.garden.base + HOUR
        self.watch = Watch(loaded.garden, (self.source,), readership(loaded), store)
        self.failures = Failures(store, readership(loaded), loaded.garden.site)
        self.look = Look(self.watch, HOUR, self.failures, clock)

    def evaluations(self) -> int:
        return sum(row.kind == "evaluation" for row in self.store.audit_rows())


@pytest.fixture
def house(tmp_path, store, clock):
    return House(tmp_path, store, clock)


def test_it_evaluates_at_the_start_and_once_in_every_pause(house):
    for _ in range(3 * 60 + 1):
        house.look.look()
        house.clock.advance(minutes=1)
    assert house.evaluations() == 4


def test_it_looks_often_enough_for_short_pauses_and_not_oftener_than_needed(house):
    ticks = [Look(house.watch, timedelta(seconds=each), house.failures, house.clock).tick for each in (1, 10, 3600)]
    assert [tick.total_seconds() for tick in ticks] == [0.25, 2.5, 5.0]


def test_a_clock_that_was_set_makes_it_evaluate_again(house):
    house.look.look()
    house.look.look()
    assert house.evaluations() == 1
    house.look.clock_was_set()
    house.look.look()
    assert house.evaluations() == 2


def test_a_call_is_evaluated_when_it_comes_not_when_the_pause_is_over(house):
    look = Look(house.watch, timedelta(days=30), house.failures, house.clock)
    look.look()
    call = house.watch.next_call(house.clock.now)
    assert call is not None
    house.clock.now = call - timedelta(seconds=1)
    look.look()
    assert house.evaluations() == 1
    house.clock.now = call
    look.look()
    look.look()
    assert house.evaluations() == 2


def test_a_crash_is_no_end_and_the_next_try_comes_soon(house, caplog):
    house.source.fault = "crash"
    house.look.look()
    house.look.look()
    assert house.failures.in_a_row == 1
    house.clock.advance(minutes=1)
    house.source.fault = ""
    house.look.look()
    assert house.failures.in_a_row == 0
    assert house.evaluations() == 1
    assert "evaluation works again, 1 in a row had failed" in caplog.messages
    assert "s3cr3t" not in caplog.text


def test_what_alerts_do_is_logged(house, caplog):
    house.look.look()
    (alert,) = house.store.all_alerts()
    assert caplog.messages == [f"alert {alert.alert_id}: foreseen, now prepare (told)"]


def test_a_source_that_is_not_used_is_logged_once_and_its_return_too(house, caplog):
    caplog.set_level(logging.INFO, "alertd.service.look")
    house.source.fault = "down"
    for _ in range(3):
        house.look.look()
        house.clock.advance(hours=1)
    house.source.fault = ""
    house.look.look()
    told = [message for message in caplog.messages if message.startswith("source")]
    assert told == ["source weather file is not used: the line is cut", "source weather file answers again"]


def test_a_report_makes_it_evaluate_at_once(house):
    house.look.look()
    house.clock.advance(seconds=5)
    house.look.look()
    assert house.evaluations() == 1
    mark(house.watch.garden, house.store, house.watch.garden.groups[0].group_id, "in-place", house.clock())
    house.look.look()
    assert house.evaluations() == 2
    house.look.look()
    assert house.evaluations() == 2


def test_a_report_does_not_hurry_evaluations_that_fail(house):
    house.look.look()
    mark(house.watch.garden, house.store, house.watch.garden.groups[0].group_id, "in-place", house.clock())
    house.failures.failed(RuntimeError("full"), house.clock())
    house.clock.advance(seconds=5)
    house.look.look()
    assert house.evaluations() == 1


def test_a_store_that_cannot_be_asked_for_reports_waits_for_the_evaluation_that_says_so(house):
    house.look.look()
    house.store._connection.execute("DROP TABLE meta")
    house.clock.advance(seconds=5)
    house.look.look()
    assert house.failures.in_a_row == 0


def test_the_next_look_is_now_then_after_the_pause_or_at_a_call_that_comes_earlier(house):
    assert house.look.next_look() is None
    house.look.look()
    assert house.look.next_look() == house.clock.now + HOUR
    call = house.watch.next_call(house.clock.now)
    look = Look(house.watch, timedelta(days=30), house.failures, house.clock)
    look.look()
    assert look.next_look() == call
    house.source.fault = "crash"
    house.clock.now = call
    look.look()
    assert look.next_look() == call + timedelta(minutes=1)


def test_another_watch_and_pause_are_used_at_the_next_tick(house):
    house.look.look()
    other = replace(house.watch, garden=replace(house.watch.garden, groups=()))
    house.look.use(other, timedelta(minutes=10))
    house.look.look()
    assert house.evaluations() == 2
    assert house.look.next_look() == house.clock.now + timedelta(minutes=10)
    assert not any(alert.is_open for alert in house.store.all_alerts())  # the group is gone
