from __future__ import annotations

import sys
from datetime import timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[3]))

from alertd.service.supervisor import Supervisor
from alertd.service.watchdog import LastDone, Sign, Watchdog
from tests.fakes.service_manager import ServiceManager

#: What the manager allows in these tests, and until when each sign is fresh [s].
SILENCE = 60.0
FRESH = {"evaluation": 300.0, "relay": 60.0, "write": 120.0}


class House:
    """A watchdog over three signs, on a clock that stands still until it is moved."""

    def __init__(self, manager, silence=timedelta(seconds=SILENCE)) -> None:
        self.manager = manager
        self.seconds = 1000.0
        self.done = {name: LastDone(self.clock) for name in FRESH}
        signs = [Sign(name, self.done[name].ago, timedelta(seconds=longest)) for name, longest in FRESH.items()]
        self.watchdog = Watchdog(Supervisor(manager.address, silence), signs, self.clock)

    def clock(self) -> float:
        return self.seconds

    def live(self, seconds: int, *, without=()) -> int:
        """Let so many seconds go by while all but some parts move; return how often the manager was told."""
        before = self.told()
        for _ in range(seconds):
            self.seconds += 1.0
            for name in FRESH.keys() - set(without):
                self.done[name].mark()
            self.watchdog.look()
            self.told()  # its queue is short
        return self.told() - before

    def told(self) -> int:
        return self.manager.lines.count("WATCHDOG=1")


@pytest.fixture
def house(tmp_path):
    with ServiceManager(str(tmp_path / "notify")) as manager:
        yield House(manager)


def test_it_is_told_at_once_and_then_at_half_of_the_silence(house):
    house.watchdog.look()
    assert house.told() == 1
    assert house.live(int(SILENCE / 2) - 1) == 0
    assert house.live(1) == 1
    assert house.live(600) == 20


@pytest.mark.parametrize("name", FRESH)
def test_each_sign_alone_silences_it_once_its_own_bound_is_passed(house, name, caplog):
    house.live(1)
    house.done[name].mark()
    bound = int(FRESH[name])
    assert house.live(bound, without=[name]) >= bound // (SILENCE / 2) - 1
    assert house.live(600, without=[name]) == 0
    lines = [message for message in caplog.messages if "no longer told" in message]
    assert len(lines) == 1
    assert lines[0].startswith(f"no {name} since ")
    assert house.live(1) == 1
    assert caplog.messages[-1] == f"there is a new {name} again"


def test_all_that_is_stale_is_named(house, caplog):
    house.live(400, without=FRESH)
    assert {message.split()[1] for message in caplog.messages} == set(FRESH)


def test_a_manager_that_was_too_busy_is_told_again_at_the_next_look(tmp_path):
    address = str(tmp_path / "notify")
    with ServiceManager(address) as manager:
        house = House(manager)
    Path(address).unlink()
    house.watchdog.look()
    with ServiceManager(address) as house.manager:
        house.seconds += 0.5
        house.watchdog.look()
        assert house.told() == 1


def test_a_manager_that_does_not_watch_is_told_nothing(tmp_path, caplog):
    with ServiceManager(str(tmp_path / "notify")) as manager:
        house = House(manager, None)
        assert house.live(1000, without=FRESH) == 0
    assert caplog.messages == []
