"""What `alertd status` and the status port say of a daemon that runs, and of one that no longer does."""

from __future__ import annotations

import json
import subprocess
import sys
from contextlib import closing
from http.client import HTTPConnection
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.e2e.kill_support import PATIENCE, has_evaluated, log_of, running, stop, wait_until
from tests.fakes.garden_folder import GardenFolder
from tests.fakes.http_servers import Behaviour, HttpServer
from tests.fakes.servers import free_port


@pytest.fixture
def garden(tmp_path):
    garden = GardenFolder(tmp_path, f"file:{tmp_path / 'letters'}")
    garden.write_forecast(is_severe=True)
    return garden


def status(garden, *options: str) -> tuple[int, str]:
    command = [sys.executable, "-m", "alertd", "status", "--config", str(garden.configuration), *options]
    result = subprocess.run(command, capture_output=True, text=True, timeout=2 * PATIENCE, check=False)
    assert result.stderr == ""
    return result.returncode, result.stdout


def healthy(port: int) -> tuple[int, str]:
    with closing(HTTPConnection("127.0.0.1", port, timeout=20)) as connection:
        connection.request("GET", "/healthy")
        answer = connection.getresponse()
        return answer.status, answer.read().decode()


def test_a_daemon_is_healthy_while_it_runs_and_says_so_once_it_was_stopped(garden):
    assert status(garden, "--healthy")[0] == 1
    with running(garden) as process:
        assert wait_until(lambda: "cycle: outcome=good" in log_of(garden)), log_of(garden)
        code, line = status(garden, "--healthy")
        assert code == 0
        assert line.startswith("healthy: last good look ")
        assert "nothing is wrong" in status(garden)[1]
        assert stop(process)[0] == 0
    code, line = status(garden, "--healthy")
    assert code == 1
    assert line.startswith("not healthy: alertd was stopped ")
    facts = json.loads(status(garden, "--json")[1])
    assert facts["next"]["look"] is None
    assert facts["last_good_evaluation"] is not None


def test_the_heartbeat_beats_while_all_is_well_and_rests_while_the_watch_is_blind(garden):
    port = free_port()
    with HttpServer() as checker:
        checker.script("/ping", Behaviour())
        text = garden.configuration.read_text().replace('every = "1s"', 'every = "1s"\nstale_after = "5s"')
        more = f'\n[status]\nlisten = "127.0.0.1:{port}"\nheartbeat = "{checker.url}/ping"\n'
        garden.configuration.write_text(text + more)

        def beats_with_new_forecasts(least: int) -> bool:
            garden.write_forecast(is_severe=True)
            return len(checker.seen) >= least

        with running(garden) as process:
            assert wait_until(lambda: beats_with_new_forecasts(2)), log_of(garden)
            assert healthy(port)[0] == 200
            assert wait_until(lambda: "cycle: outcome=blind" in log_of(garden)), log_of(garden)
            beats = len(checker.seen)
            assert wait_until(lambda: log_of(garden).count("outcome=blind") >= 4), log_of(garden)
            assert len(checker.seen) - beats <= 1  # one may have been under way
            assert healthy(port)[0] == 200  # for some minutes: sources are asked again and again
            assert "the watch is blind" in status(garden)[1]
            assert wait_until(lambda: beats_with_new_forecasts(beats + 3)), log_of(garden)
            assert stop(process)[0] == 0


def test_a_restart_after_a_kill_goes_on_where_the_note_was_left(garden):
    with running(garden) as process:
        assert wait_until(lambda: "cycle: outcome=good" in log_of(garden)), log_of(garden)
        process.kill()
        process.wait()
    assert "nothing is wrong" in status(garden)[1]  # it is not known yet; the next look is not overdue
    before = log_of(garden).count("cycle: outcome=good")
    with running(garden):
        assert wait_until(lambda: log_of(garden).count("cycle: outcome=good") > before), log_of(garden)
        assert has_evaluated(garden, 2)
