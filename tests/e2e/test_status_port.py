"""What other programs learn at the status port."""

from __future__ import annotations

import http.client
import socket
import sys
import time
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families
from prometheus_client.parser import text_string_to_metric_families as parse_older_format

sys.path.insert(0, str(Path(__file__).parents[2]))

from alertd import __version__
from alertd.alerts import Refusal
from alertd.audit import AuditEvent
from alertd.config import load
from alertd.core import StoreError
from alertd.service.cycle import Cycle
from alertd.service.jobs import Jobs
from alertd.service.reporting import Reporting
from alertd.service.status_port import StatusPort
from alertd.sources import FileSource
from alertd.store import Addressed, Commit, Store
from alertd.watch import (
    CycleNote,
    Health,
    SourceSeen,
    Watch,
    keep_cycle,
    note_trouble,
    read_cycle,
    readership,
    wrongs,
)
from tests.fakes.garden_folder import GardenFolder
from tests.fakes.letters import make_letter
from tests.fakes.servers import WebAnswer, WebServer, free_port

if TYPE_CHECKING:
    from alertd.config import Loaded

NOW = datetime(2026, 1, 22, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)
OPEN_METRICS = "application/openmetrics-text; version=1.0.0,text/plain;version=0.0.4;q=0.5"
NOTE = CycleNote(
    version=__version__,
    began=NOW - timedelta(minutes=5),
    duration=timedelta(seconds=0.4),
    every=HOUR,
    next_look=NOW + HOUR,
    used=(SourceSeen('hill "file"', NOW - 2 * HOUR, NOW - HOUR),),
    refused=(Refusal("valley", "is stale"),),
    open_alerts=2,
    last_good=NOW - timedelta(minutes=5),
)


@pytest.fixture
def store():
    with Store.open(None) as opened:
        yield opened


def made(garden, store):
    loaded = load(garden.configuration, {})
    return Reporting(loaded, store, readership(loaded), Jobs(), lambda: NOW)


@pytest.fixture
def reporting(store, tmp_path):
    garden = GardenFolder(tmp_path, f"file:{tmp_path / 'letters'}")
    garden.write_forecast(is_severe=False)
    text = garden.configuration.read_text().replace('every = "1s"', 'every = "1h"')
    garden.configuration.write_text(f'{text}\n[status]\nlisten = "127.0.0.1:{free_port()}"\n')
    reporting = made(garden, store)
    reporting.start()
    yield reporting
    reporting.stop()


def ask(port, path="/metrics", method="GET", **headers):
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as connection:
        connection.request(method, path, headers=headers)
        answer = connection.getresponse()
        return answer.status, answer.read().decode(), answer.headers


def figures(port) -> dict[tuple[str, tuple[str, ...]], float]:
    """Return every figure by name and values of labels, as the library's own parser reads them."""
    _, text, _ = ask(port, Accept=OPEN_METRICS)
    return {
        (sample.name, tuple(sample.labels.values())): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
    }


def test_figures_are_valid_open_metrics_with_help_and_units(reporting, store):
    keep_cycle(store, NOTE)
    status, text, headers = ask(reporting.port, Accept=OPEN_METRICS)
    assert status == 200
    assert headers["Content-Type"].startswith("application/openmetrics-text; version=1.0.0; charset=utf-8")
    assert text.endswith("# EOF\n")
    families = list(text_string_to_metric_families(text))
    assert {family.name for family in families} >= {"alertd_blind", "alertd_forecast_age_seconds", "alertd_sends"}
    for family in families:
        assert family.name.startswith("alertd_")
        assert family.documentation.endswith(".")
        assert family.unit == ("seconds" if family.name.endswith("_seconds") else "")


def test_the_older_format_is_given_where_the_new_one_is_not_accepted(reporting, store):
    keep_cycle(store, NOTE)
    _, text, headers = ask(reporting.port)
    assert headers["Content-Type"].startswith("text/plain; version=0.0.4")
    assert "alertd_blind" in {family.name for family in parse_older_format(text)}


@pytest.mark.parametrize("accept", ["application/openmetrics-text; version=x.y", ",;,", "*/*", "é" * 100])
def test_any_accept_header_is_answered(reporting, accept):
    status, _, _ = ask(reporting.port, Accept=accept.encode())
    assert status == 200


def test_the_figures_say_what_the_database_says(reporting, store):
    keep_cycle(store, NOTE)
    event = AuditEvent(NOW, "letter", {"reference": "N7-1", "recipient": "Ann"})
    store.commit(Commit(NOW - timedelta(minutes=3), letters=(Addressed(make_letter(), ("way",)),), events=(event,)))
    send = {"reference": "N7-1", "recipient": "Ann", "channel": "way", "outcome": "unavailable"}
    store.commit(Commit(NOW, events=(AuditEvent(NOW, "send", send),)))
    found = figures(reporting.port)
    expected = {
        ("alertd_build_info", (__version__,)): 1.0,
        ("alertd_healthy", ()): 1.0,
        ("alertd_blind", ()): 0.0,
        ("alertd_open_alerts", ()): 2.0,
        ("alertd_forecast_age_seconds", ('hill "file"',)): 7200.0,
        ("alertd_forecast_read_age_seconds", ('hill "file"',)): 3600.0,
        ("alertd_source_usable", ('hill "file"',)): 1.0,
        ("alertd_source_usable", ("valley",)): 0.0,
        ("alertd_last_cycle_duration_seconds", ()): 0.4,
        ("alertd_last_good_cycle_timestamp_seconds", ()): (NOW - timedelta(minutes=5)).timestamp(),
        ("alertd_cycle_duration_seconds_count", ()): 0.0,
        ("alertd_cycles_total", ("good",)): 0.0,
        ("alertd_outbox_letters", ("waiting",)): 1.0,
        ("alertd_outbox_letters", ("given_up",)): 0.0,
        ("alertd_outbox_oldest_age_seconds", ()): 180.0,
        ("alertd_letters_total", ()): 1.0,
        ("alertd_sends_total", ("way", "unavailable")): 1.0,
        ("alertd_sends_total", ("way", "accepted")): 0.0,
    }
    assert {key: found.get(key) for key in expected} == expected


def test_the_heartbeat_shows_in_the_figures_where_there_is_one(reporting, store, tmp_path):
    assert ("alertd_heartbeats_total", ("accepted",)) not in figures(reporting.port)
    (tmp_path / "other").mkdir()
    garden = GardenFolder(tmp_path / "other", f"file:{tmp_path / 'letters'}")
    more = f'\n[status]\nlisten = "127.0.0.1:{free_port()}"\nheartbeat = "http://127.0.0.1:{free_port()}/"\n'
    garden.configuration.write_text(garden.configuration.read_text() + more)
    second = made(garden, store)
    second.start()
    try:
        found = figures(second.port)
        assert (found["alertd_heartbeats_total", ("accepted",)], found["alertd_heartbeats_total", ("failed",)]) == (
            0,
            0,
        )
    finally:
        second.stop()


def test_what_was_counted_is_counted_on_after_another_configuration_is_used(store, tmp_path):
    garden = GardenFolder(tmp_path, f"file:{tmp_path / 'letters'}")
    garden.write_forecast(is_severe=False)
    plain = garden.configuration.read_text()
    with WebServer(WebAnswer(204)) as checker:

        def configured(every: str) -> Loaded:
            more = f'\n[status]\nlisten = "127.0.0.1:{free_port()}"\nheartbeat = "http://127.0.0.1:{checker.port}/"\n'
            garden.configuration.write_text(plain.replace('every = "1s"', f'every = "{every}"') + more)
            return load(garden.configuration, {})

        loaded = configured("1h")
        watch = Watch(loaded.garden, (FileSource("weather file", garden.forecast),), readership(loaded), store)
        reporting = Reporting(loaded, store, readership(loaded), Jobs(), lambda: NOW)

        def looked() -> dict[tuple[str, tuple[str, ...]], float]:
            """Look once, and return the figures once the heartbeat has been called."""
            calls = len(checker.requests)
            letter = AuditEvent(NOW, "letter", {"reference": "N7-1", "recipient": "Ann"})
            send = {"reference": "N7-1", "recipient": "Ann", "channel": "way", "outcome": "accepted"}
            store.commit(Commit(NOW, events=(letter, AuditEvent(NOW, "send", send))))
            decision = watch.evaluate(datetime.now(UTC))
            reporting.cycles.ended(Cycle(NOW, timedelta(seconds=2), NOW + HOUR, 0, decision))
            end = time.monotonic() + 40.0
            name = ("alertd_heartbeats_total", ("accepted",))
            while not (len(checker.requests) > calls and figures(reporting.port)[name] == calls + 1):
                assert time.monotonic() < end
                time.sleep(0.02)
            return figures(reporting.port)

        reporting.start()
        try:
            before, port = looked(), reporting.port
            reporting.use(configured("2h"), readership(loaded))
            assert reporting.port != port
            after = looked()
        finally:
            reporting.stop()
    for name in (
        ("alertd_cycles_total", ("good",)),
        ("alertd_cycle_duration_seconds_count", ()),
        ("alertd_letters_total", ()),
        ("alertd_sends_total", ("way", "accepted")),
        ("alertd_heartbeats_total", ("accepted",)),
    ):
        assert (before[name], after[name]) == (1.0, 2.0), name
    note = read_cycle(store)
    assert (note.letters, note.every) == (1, 2 * HOUR)  # of the last look alone; by the changed configuration


def test_a_database_that_cannot_be_written_keeps_nobody_from_asking(store, tmp_path, monkeypatch, caplog):
    def fail(_key, _value):
        message = "database x is full"
        raise StoreError(message)

    note_trouble(store, "heartbeat", "of the time before", NOW)
    monkeypatch.setattr(store, "set_note", fail)
    garden = GardenFolder(tmp_path, f"file:{tmp_path / 'letters'}")
    text = garden.configuration.read_text()
    garden.configuration.write_text(f'{text}\n[status]\nlisten = "127.0.0.1:{free_port()}"\n')
    reporting = made(garden, store)
    reporting.start()
    try:
        assert ask(reporting.port, "/healthy")[0] == 503
    finally:
        reporting.stop()
    assert "heartbeat: StoreError: database x is full" in caplog.text


def test_a_blind_watch_shows_in_the_figures(reporting, store):
    keep_cycle(store, replace(NOTE, is_blind=True, used=(), last_good=None))
    found = figures(reporting.port)
    assert (found["alertd_blind", ()], found["alertd_healthy", ()]) == (1.0, 0.0)
    assert ("alertd_last_good_cycle_timestamp_seconds", ()) not in found


def test_before_the_first_cycle_there_are_figures_too(reporting):
    found = figures(reporting.port)
    assert found["alertd_healthy", ()] == 0.0
    assert ("alertd_blind", ()) not in found


def test_healthy_is_one_line_and_a_status(reporting, store):
    status, line, headers = ask(reporting.port, "/healthy")
    assert (status, line) == (503, "not healthy: no look at a forecast is recorded yet; start alertd run\n")
    keep_cycle(store, NOTE)
    assert ask(reporting.port, "/healthy")[:2] == (200, "healthy: last good look 5 min ago\n")
    assert headers["Server"] == "alertd"


def test_other_paths_and_methods_are_refused_in_one_line(reporting):
    assert ask(reporting.port, "/")[:2] == (404, "there are only /metrics and /healthy\n")
    status, line, headers = ask(reporting.port, method="POST")
    assert (status, line, headers["Allow"]) == (405, "only GET is understood\n", "GET")
    assert ask(reporting.port, "/healthy?since=1")[0] == 503


def test_nonsense_is_answered_in_one_line(reporting):
    with socket.create_connection(("127.0.0.1", reporting.port), timeout=20) as connection:
        connection.sendall(b"nonsense\r\n\r\n")
        assert b"bad request" in connection.recv(1000)


def test_a_database_that_cannot_be_read_is_not_healthy(caplog):
    def fail():
        message = "database x is spoilt"
        raise StoreError(message)

    with StatusPort("127.0.0.1", 0, lambda _: (b"", ""), fail) as port:
        status, line, _ = ask(port.port, "/healthy")
    assert (status, line) == (503, "not healthy: the database cannot be read; see the log of alertd\n")
    assert "status port: StoreError: database x is spoilt" in caplog.text


def test_who_says_nothing_is_cut_off(store):
    del store
    good = Health(is_healthy=True, line="healthy")
    with (
        StatusPort("127.0.0.1", 0, lambda _: (b"", ""), lambda: good, deadline=0.3) as port,
        socket.create_connection(("127.0.0.1", port.port), timeout=20) as connection,
    ):
        assert connection.recv(10) == b""


def test_a_stop_does_not_wait_for_an_answer_that_hangs():
    began, release = [], []

    def hang():
        began.append(True)
        while not release:
            time.sleep(0.02)
        return Health(is_healthy=True, line="healthy")

    port = StatusPort("127.0.0.1", 0, lambda _: (b"", ""), hang)
    port.start()
    with socket.create_connection(("127.0.0.1", port.port), timeout=20) as connection:
        connection.sendall(b"GET /healthy HTTP/1.0\r\n\r\n")
        while not began:
            time.sleep(0.02)
        port.stop()
        assert not release
        release.append(True)
        while connection.recv(100):
            pass


def test_a_port_that_is_taken_is_told_and_the_watch_goes_on(reporting, store, tmp_path, caplog):
    (tmp_path / "other").mkdir()
    other = GardenFolder(tmp_path / "other", f"file:{tmp_path / 'letters'}")
    text = other.configuration.read_text()
    other.configuration.write_text(f'{text}\n[status]\nlisten = "127.0.0.1:{reporting.port}"\n')
    second = made(other, store)
    second.start()
    second.stop()
    assert f"status port: cannot listen at 127.0.0.1:{reporting.port} (Address already in use)" in caplog.text
    assert any(line.startswith("status port (since 0 s): cannot listen at") for line in wrongs(store, HOUR, NOW))
