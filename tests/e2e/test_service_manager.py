"""The daemon in a process of its own under a service manager: what it tells, and what a hangup does."""

from __future__ import annotations

import signal
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.e2e.kill_support import (
    HangingMailServer,
    has_evaluated,
    kinds,
    log_of,
    mail_garden,
    running,
    stop,
    wait_until,
)
from tests.fakes.service_manager import ServiceManager


@pytest.fixture
def server():
    with HangingMailServer() as server:
        yield server


@pytest.fixture
def manager(tmp_path, monkeypatch):
    with ServiceManager(str(tmp_path / "notify")) as manager:
        monkeypatch.setenv("NOTIFY_SOCKET", manager.address)
        monkeypatch.setenv("WATCHDOG_USEC", "2000000")
        monkeypatch.delenv("WATCHDOG_PID", raising=False)
        yield manager


def test_it_says_that_it_watches_that_it_is_well_and_that_it_stops(tmp_path, server, manager):
    garden = mail_garden(tmp_path, server)
    garden.write_forecast(is_severe=False)
    with running(garden) as process:
        assert wait_until(lambda: manager.lines.count("WATCHDOG=1") >= 2), log_of(garden)
        assert manager.lines[0] == "READY=1"
        assert manager.status.startswith("Watching 1 group, ")
        code, _ = stop(process)
    assert code == 0
    assert manager.messages[-1] == ["STOPPING=1", "STATUS=Stopping"]


def test_a_hangup_reads_the_configuration_anew_while_a_letter_is_in_flight(tmp_path, server, manager):
    garden = mail_garden(tmp_path, server)
    garden.write_forecast(is_severe=True)
    server.is_hanging = True
    text = garden.configuration.read_text()
    with running(garden) as process:
        assert server.has_letter.wait(40.0), log_of(garden)
        garden.configuration.write_text(text.replace("count = 6", "count = 0"))
        process.send_signal(signal.SIGHUP)
        assert wait_until(lambda: "a changed configuration is refused: groups[0].count" in manager.status)
        garden.configuration.write_text(text.replace('name = "the fig pots"', 'name = "the old figs"'))
        process.send_signal(signal.SIGHUP)
        assert wait_until(lambda: "is used from now on" in log_of(garden)), log_of(garden)
        seen = kinds(garden)["evaluation"]
        assert wait_until(lambda: has_evaluated(garden, seen + 2)), log_of(garden)
        assert "refused" not in manager.status
        assert process.poll() is None
        code, _ = stop(process)
    assert code == 0
    assert kinds(garden)["configuration"] == 2
    assert kinds(garden)["letter"] == 1
    server.is_hanging = False
    with running(garden) as process:
        assert wait_until(lambda: server.received), log_of(garden)
        stop(process)
    assert "Traceback" not in log_of(garden)


def test_a_credential_that_everybody_can_read_is_warned_of_once_at_the_start(tmp_path, server):
    garden = mail_garden(tmp_path, server)
    garden.write_forecast(is_severe=False)
    (garden.folder / "credentials" / "way").chmod(0o644)
    with running(garden) as process:
        assert wait_until(lambda: has_evaluated(garden)), log_of(garden)
        stop(process)
    (line,) = [line for line in log_of(garden).splitlines() if "can be read by everybody" in line]
    assert line.endswith(f"{garden.folder / 'credentials' / 'way'} can be read by everybody; run chmod 600 on it")
