from __future__ import annotations

import hashlib
import json
import sys
import threading
import time
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[3]))

from alertd import __version__
from alertd.config import load
from alertd.core import StoreError
from alertd.service import daemon, run
from alertd.service.clock import Moment
from alertd.service.supervisor import Supervisor
from alertd.store import OutboxState, SiteLock, Store
from tests.fakes.garden_folder import FaultySource, GardenFolder
from tests.fakes.service_manager import ServiceManager

PATIENCE = 20.0


@pytest.fixture
def garden(tmp_path):
    garden = GardenFolder(tmp_path, f"file:{tmp_path / 'letters'}")
    garden.write_forecast(is_severe=True)
    return garden


@contextmanager
def running(loaded, sources=None, supervisor=None):
    """Run a daemon in a thread; yield what it has returned, once it has."""
    stop, codes = threading.Event(), []
    thread = threading.Thread(
        target=lambda: codes.append(run(loaded, stop=stop, sources=sources, supervisor=supervisor))
    )
    thread.start()
    try:
        yield codes
    finally:
        stop.set()
        thread.join(PATIENCE)
        assert not thread.is_alive()


@contextmanager
def served(loaded, sources=None, supervisor=None):
    """Run a daemon's jobs; yield it."""
    with Store.open(loaded.database) as store:
        service = daemon._Daemon(loaded, store, sources, supervisor)
        service.start()
        try:
            yield service
        finally:
            assert service.end()


def wait_until(condition) -> bool:
    end = time.monotonic() + PATIENCE
    while not condition():
        if time.monotonic() > end:
            return False
        time.sleep(0.02)
    return True


def events(garden, kind: str) -> list[dict]:
    with Store.open(garden.database) as store:
        return [json.loads(row.body) for row in store.audit_rows() if row.kind == kind]


def letters(garden) -> list[str]:
    return [path.read_text() for path in sorted((garden.folder / "letters").glob("*.txt"))]


def test_it_evaluates_sends_records_start_and_stop_and_returns_zero(garden, caplog):
    loaded = load(garden.configuration, {})
    with running(loaded) as codes:
        assert wait_until(lambda: letters(garden) and events(garden, "send"))
    assert codes == [0]
    (start,) = events(garden, "start")
    assert start == {
        "version": __version__,
        "configuration": str(garden.configuration),
        "sha256": hashlib.sha256(garden.configuration.read_bytes()).hexdigest(),
    }
    assert events(garden, "stop") == [{"version": __version__}]
    assert f"alertd {__version__} watches Hollow Lane: 1 group, 1 source, 1 recipient" in caplog.text
    with Store.open(garden.database) as store:
        assert store.verify_audit() == []
        assert store.outbox_summary().counts[OutboxState.ACCEPTED] == 1


def test_the_record_names_the_configuration_that_was_read_not_the_file_as_it_is_now(garden, caplog):
    garden.forecast.unlink()
    read = hashlib.sha256(garden.configuration.read_bytes()).hexdigest()
    loaded = load(garden.configuration, {})
    garden.configuration.write_text("changed since")
    with running(loaded):
        assert wait_until(lambda: garden.database.exists() and events(garden, "evaluation"))
    assert events(garden, "start")[0]["sha256"] == loaded.digest == read
    assert "the watch is blind until there is" in caplog.text


@pytest.mark.slow
def test_three_crashes_are_told_to_the_people_and_their_end_too(garden, caplog):
    loaded = load(garden.configuration, {})
    source = FaultySource("weather file", garden.forecast, "crash")
    with running(loaded, (source,)) as codes:
        assert wait_until(lambda: any("The watch itself fails" in letter for letter in letters(garden)))
        source.fault = ""
        assert wait_until(lambda: any("The watch works again" in letter for letter in letters(garden)))
        assert codes == []
    assert len(events(garden, "problem")) >= 3
    assert "s3cr3t" not in caplog.text + "".join(letters(garden))


def test_letters_left_in_flight_are_taken_up_at_once(garden, caplog):
    loaded = load(garden.configuration, {})
    with running(loaded):
        assert wait_until(lambda: garden.database.exists() and events(garden, "letter"))
        assert wait_until(lambda: events(garden, "send"))
    with Store.open(garden.database) as store, store._writing() as connection:
        connection.execute("UPDATE outbox SET state = 'claimed', lease_until = '2999-01-01T00:00:00.000000Z'")
    with running(loaded):
        assert wait_until(lambda: len(events(garden, "send")) == 2)
    assert "outbox: 1 letter in flight when the last daemon ended, to be sent again" in caplog.messages


def test_a_clock_that_is_set_is_logged_and_everything_runs_at_once(garden, caplog, monkeypatch):
    garden.configuration.write_text(garden.configuration.read_text().replace('every = "1s"', 'every = "12h"'))
    shift = timedelta(0)
    moment = daemon._moment
    monkeypatch.setattr(daemon, "_moment", lambda: Moment(moment().wall + shift, moment().monotonic))
    with running(load(garden.configuration, {})):
        assert wait_until(lambda: garden.database.exists() and len(events(garden, "evaluation")) == 1)
        shift = timedelta(hours=-1)
        assert wait_until(lambda: len(events(garden, "evaluation")) == 2)
        shift = timedelta(0)
        assert wait_until(lambda: len(events(garden, "evaluation")) == 3)
    assert "the clock was set back by 3600 s" in caplog.messages
    assert "the clock was set forward by 3600 s" in caplog.messages


def test_a_daemon_whose_evaluation_hangs_ends_itself_so_that_it_is_started_anew(garden, caplog, monkeypatch):
    monkeypatch.setattr(daemon, "_HANGS_AFTER", timedelta(seconds=0.3))
    loaded = load(garden.configuration, {})
    source = FaultySource("weather file", garden.forecast, "hang")
    with running(loaded, (source,)) as codes:
        assert wait_until(lambda: "the evaluation hangs since" in caplog.text)
        source.release.set()
        assert wait_until(lambda: codes == [1])
    assert events(garden, "stop") != []


def test_a_database_that_is_locked_when_the_clock_is_set_or_at_the_stop_is_logged(garden, caplog):
    loaded = load(garden.configuration, {})
    with (
        Store.open(garden.database, busy_timeout=timedelta(seconds=0.05)) as store,
        Store.open(garden.database) as other,
    ):
        service = daemon._Daemon(loaded, store, None)
        service.start()
        with other._writing():
            service._clock_was_set(timedelta(hours=1), garden.base)
            assert service.end()
    assert "outbox: database" in caplog.text
    assert "the stop could not be recorded: database" in caplog.text


def test_a_database_in_use_or_out_of_reach_is_an_error_for_the_caller(garden):
    loaded = load(garden.configuration, {})
    with SiteLock(garden.database), pytest.raises(StoreError, match="in use by another alertd"):
        run(loaded)
    with pytest.raises(StoreError, match="cannot be made"):
        run(replace(loaded, database=garden.folder / "nowhere" / "x.sqlite"))


def change(garden, old: str, new: str) -> None:
    text = garden.configuration.read_text()
    assert text.count(old) == 1
    garden.configuration.write_text(text.replace(old, new))


def test_the_service_manager_hears_that_it_watches_how_things_stand_and_that_it_stops(garden, monkeypatch):
    monkeypatch.setattr(daemon, "_VITALS_EVERY", timedelta(seconds=0.1))
    change(garden, 'every = "1s"', 'every = "1h"')
    with ServiceManager(str(garden.folder / "notify")) as manager:
        with running(load(garden.configuration, {}), supervisor=Supervisor(manager.address)):
            assert wait_until(lambda: manager.status.endswith("1 alert open"))
            next_look = manager.status.removeprefix("Watching 1 group, next look ").removesuffix(", 1 alert open")
            assert time.strptime(next_look, "%H:%M")
            assert manager.messages[0][0] == "READY=1"
        assert manager.messages[-1] == ["STOPPING=1", "STATUS=Stopping"]
        assert "WATCHDOG=1" not in manager.lines


def test_the_watchdog_falls_silent_while_the_database_cannot_be_written_and_only_then(garden, monkeypatch, caplog):
    monkeypatch.setattr(daemon, "_VITALS_EVERY", timedelta(seconds=0.1))
    monkeypatch.setattr(daemon, "_WRITE_FRESH", timedelta(seconds=3))
    change(garden, 'every = "1s"', 'every = "1h"')
    loaded = load(garden.configuration, {})
    with ServiceManager(str(garden.folder / "notify")) as manager, Store.open(garden.database) as other:

        def told() -> int:
            return manager.lines.count("WATCHDOG=1")

        with running(loaded, supervisor=Supervisor(manager.address, timedelta(seconds=0.2))):
            assert wait_until(lambda: told() >= 3)
            assert "no longer told" not in caplog.text
            with other._writing():
                assert wait_until(lambda: "no write to the database since" in caplog.text)
                silent = told()
                time.sleep(1.5)
                assert told() == silent
            assert wait_until(lambda: told() > silent)
        assert "there is a new write to the database again" in caplog.messages


def test_a_changed_configuration_takes_the_place_of_the_one_before_and_alerts_are_kept(garden, caplog):
    loaded = load(garden.configuration, {})
    other_letters = garden.folder / "other letters"
    with ServiceManager(str(garden.folder / "notify")) as manager:
        with served(loaded, supervisor=Supervisor(manager.address)) as service:
            assert wait_until(lambda: letters(garden) and events(garden, "send"))
            (garden.folder / "credentials" / "second").write_text(f"file:{other_letters}")
            (garden.folder / "credentials" / "second").chmod(0o644)
            change(garden, 'credential = "way"', 'credential = "second"')
            change(garden, 'name = "keeper"', 'name = "Ann"')
            change(garden, 'every = "1s"', 'every = "1h"')
            service._reload()
            assert wait_until(lambda: "next look" in service._status())
            garden.write_forecast(is_severe=False)
            service._look.clock_was_set()
            assert wait_until(lambda: list(other_letters.glob("*.txt")))
            assert service._look.tick == timedelta(seconds=5)
        sent = manager.messages
    reloading = next(number for number, message in enumerate(sent) if message[0] == "RELOADING=1")
    assert sent[reloading + 1][0] == "READY=1"
    assert len(letters(garden)) == 1
    assert events(garden, "configuration") == [
        {
            "configuration": str(garden.configuration),
            "sha256": hashlib.sha256(garden.configuration.read_bytes()).hexdigest(),
            "outcome": "accepted",
            "problems": [],
        }
    ]
    assert [event["recipient"] for event in events(garden, "letter")] == ["keeper", "Ann"]
    assert "second can be read by everybody; run chmod 600 on it" in caplog.text
    with Store.open(garden.database) as store:
        assert len(store.all_alerts()) == 1
        assert store.verify_audit() == []


def test_a_configuration_with_faults_changes_nothing_and_each_fault_is_one_line(garden, caplog):
    loaded = load(garden.configuration, {})
    with served(loaded) as service:
        runs = service._runs
        change(garden, "latitude = 41.2", "latitude = 141.2")
        change(garden, 'class = "fig"', 'class = "cactus"')
        service._reload()
        assert service._runs is runs
        lines = [each.partition("stays in use: ")[2] for each in caplog.messages if "is refused" in each]
        assert [line.partition(":")[0] for line in lines] == ["site.latitude", "groups[0].class"]
        assert f"; a changed configuration is refused: {lines[0]} (and 1 more)" in service._status()
        change(garden, "latitude = 141.2", "latitude = 41.2")
        change(garden, 'class = "cactus"', 'class = "fig"')
        service._reload()
        assert "refused" not in service._status()
    refused, accepted = events(garden, "configuration")
    assert (refused["outcome"], refused["problems"], accepted["outcome"]) == ("refused", lines, "accepted")


def test_a_reload_counts_on_what_was_counted_since_the_start(garden):
    with served(load(garden.configuration, {})) as service:
        assert wait_until(lambda: service._reporting.cycles.totals()[0]["good"])
        before, _ = service._reporting.cycles.totals()
        change(garden, 'every = "1s"', 'every = "1h"')
        service._reload()
        assert service._runs.loaded.polling.every == timedelta(hours=1)
        assert service._reporting.cycles.totals()[0]["good"] >= before["good"] > 0


def test_a_fault_of_ours_while_reloading_changes_nothing(garden, caplog, monkeypatch):
    def crash(*_arguments):
        message = "unforeseen, with s3cr3t-canary"
        raise RuntimeError(message)

    with served(load(garden.configuration, {})) as service:
        runs = service._runs
        monkeypatch.setattr(daemon, "rearrange", crash)
        service._reload()
        assert service._runs is runs
        assert "a changed configuration is refused: RuntimeError in" in service._status()
    assert "s3cr3t" not in caplog.text


def test_a_reload_that_cannot_be_recorded_changes_nothing(garden, caplog):
    loaded = load(garden.configuration, {})
    with (
        Store.open(garden.database, busy_timeout=timedelta(seconds=0.05)) as store,
        Store.open(loaded.database) as other,
    ):
        service = daemon._Daemon(loaded, store)
        runs = service._runs
        with other._writing():
            service._reload()
        assert service._runs is runs
        assert "is locked by another process" in service._refused
        service._relay.stop()
    assert "the refusal could not be recorded: database" in caplog.text
