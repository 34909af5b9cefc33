from __future__ import annotations

import sys
import time
import uuid
from datetime import timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[3]))

from alertd.service.supervisor import LONGEST_STATUS, Supervisor
from tests.fakes.service_manager import ServiceManager

PID = 4711


def addresses(folder):
    return {"a path": str(folder / "notify"), "an abstract name": f"@alertd-test-{uuid.uuid4()}"}


@pytest.mark.parametrize("kind", ["a path", "an abstract name"])
def test_every_message_arrives_as_one_datagram(tmp_path, kind):
    with ServiceManager(addresses(tmp_path)[kind]) as manager:
        supervisor = Supervisor.from_environment({"NOTIFY_SOCKET": manager.address}, PID)
        supervisor.ready("Watching 6 groups")
        supervisor.status("Watching 7 groups")
        supervisor.alive()
        supervisor.stopping()
        assert manager.messages == [
            ["READY=1", "STATUS=Watching 6 groups"],
            ["STATUS=Watching 7 groups"],
            ["WATCHDOG=1"],
            ["STOPPING=1", "STATUS=Stopping"],
        ]


def test_reloading_tells_the_time_of_the_clock_that_nobody_sets(tmp_path):
    with ServiceManager(str(tmp_path / "notify")) as manager:
        before = time.clock_gettime_ns(time.CLOCK_MONOTONIC) // 1000
        Supervisor(manager.address).reloading()
        ((reloading, when),) = manager.messages
    assert reloading == "RELOADING=1"
    key, _, microseconds = when.partition("=")
    assert key == "MONOTONIC_USEC"
    assert before <= int(microseconds) <= time.clock_gettime_ns(time.CLOCK_MONOTONIC) // 1000


def test_the_same_status_is_told_once_and_always_on_one_line(tmp_path):
    with ServiceManager(str(tmp_path / "notify")) as manager:
        supervisor = Supervisor(manager.address)
        for text in ("one\nWATCHDOG=1", "one\nWATCHDOG=1", "x" * 1000):
            supervisor.status(text)
        assert manager.messages == [["STATUS=one WATCHDOG=1"], [f"STATUS={'x' * LONGEST_STATUS}"]]


@pytest.mark.parametrize("environ", [{}, {"NOTIFY_SOCKET": ""}, {"WATCHDOG_USEC": "1000000"}])
def test_without_a_service_manager_nothing_is_told_and_nothing_breaks(environ, caplog):
    supervisor = Supervisor.from_environment(environ, PID)
    supervisor.ready("Watching")
    supervisor.reloading()
    supervisor.alive()
    supervisor.stopping()
    assert supervisor.watchdog is None
    assert caplog.messages == []


@pytest.mark.parametrize("address", ["vsock:2:1", "@", "notify"])
def test_an_address_of_another_kind_is_left_alone_and_logged(address, caplog):
    Supervisor.from_environment({"NOTIFY_SOCKET": address}, PID).ready("Watching")
    assert caplog.messages == ["NOTIFY_SOCKET: names no path and no abstract address; nothing is told to it"]


def test_a_manager_that_is_gone_holds_nobody_up_and_is_logged_once_until_it_is_back(tmp_path, caplog):
    address = str(tmp_path / "notify")
    supervisor = Supervisor(address)
    supervisor.alive()
    supervisor.alive()
    with ServiceManager(address) as manager:
        supervisor.alive()
        assert manager.messages == [["WATCHDOG=1"]]
    supervisor.alive()
    complaint = "the service manager cannot be told WATCHDOG=1"
    assert [message.partition(":")[0] for message in caplog.messages] == [complaint, complaint]


def test_a_manager_that_does_not_read_holds_nobody_up_and_hears_the_status_later(tmp_path, caplog):
    with ServiceManager(str(tmp_path / "notify")) as manager:
        supervisor = Supervisor(manager.address)
        while supervisor.alive():  # until its queue is full
            pass
        supervisor.status("one")
        assert not any(line.startswith("STATUS") for line in manager.lines)
        supervisor.status("one")
        assert manager.status == "one"
    assert len(caplog.messages) == 1


@pytest.mark.parametrize(
    ("environ", "silence"),
    [
        ({"WATCHDOG_USEC": "3000000"}, timedelta(seconds=3)),
        ({"WATCHDOG_USEC": "3000000", "WATCHDOG_PID": str(PID)}, timedelta(seconds=3)),
        ({"WATCHDOG_USEC": "3000000", "WATCHDOG_PID": "1"}, None),
        ({"WATCHDOG_PID": str(PID)}, None),
        ({"WATCHDOG_USEC": "0"}, None),
        ({"WATCHDOG_USEC": "soon"}, None),
        ({"WATCHDOG_USEC": "9" * 40}, None),
    ],
)
def test_the_watchdog_is_the_one_that_the_manager_set_for_this_process(environ, silence):
    assert Supervisor.from_environment({"NOTIFY_SOCKET": "/run/x", **environ}, PID).watchdog == silence
