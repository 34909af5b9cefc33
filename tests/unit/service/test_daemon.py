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
from alertd.store import OutboxState, SiteLock, Store
from tests.fakes.garden_folder import FaultySource, GardenFolder

PATIENCE = 20.0


@pytest.fixture
def garden(tmp_path):
    garden = GardenFolder(tmp_path, f"file:{tmp_path / 'letters'}")
    garden.write_forecast(is_severe=True)
    return garden


@contextmanager
def running(loaded, sources=None):
    """Run a daemon in a thread; yield what it has returned, once it has."""
    stop, codes = threading.Event(), []
    thread = threading.Thread(target=lambda: codes.append(run(loaded, stop=stop, sources=sources)))
    thread.start()
    try:
        yield codes
    finally:
        stop.set()
        thread.join(PATIENCE)
        assert not thread.is_alive()


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
