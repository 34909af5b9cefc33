"""The heartbeat against real servers on loopback, well and ill-behaved ones."""

from __future__ import annotations

import sys
import time
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from alertd.core import StoreError
from alertd.service.heartbeat import Heartbeat
from alertd.sources import WebTransport
from alertd.store import Store
from alertd.watch import CycleNote, keep_cycle, wrongs
from tests.fakes.http_servers import Behaviour, HttpServer
from tests.fakes.servers import free_port

NOW = datetime(2026, 1, 22, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)
PATH = "/ping/s3cr3t-canary"
PATIENCE = 20.0
REFUSED = "the address refuses connections; it is asked again later, check status.heartbeat"


@pytest.fixture
def store():
    with Store.open(None) as store:
        keep_cycle(store, CycleNote("1", NOW, timedelta(0), HOUR, NOW + HOUR, last_good=NOW))
        yield store


@pytest.fixture
def server():
    with HttpServer() as server:
        server.script(PATH, Behaviour(body=b"OK"))
        yield server


@contextmanager
def beating(store, url, *, deadline=20.0, pauses=()):
    heartbeat = Heartbeat(
        url, WebTransport(1000), "alertd/x", store, lambda: NOW, deadline=timedelta(seconds=deadline), pauses=pauses
    )
    heartbeat.start()
    try:
        yield heartbeat
    finally:
        heartbeat.stop()


def wait_until(condition) -> bool:
    end = time.monotonic() + PATIENCE
    while not condition():
        if time.monotonic() > end:
            return False
        time.sleep(0.02)
    return True


def beat(heartbeat, times, outcome="accepted"):
    """Ask for calls one after the other."""
    for _ in range(times):
        before = heartbeat.calls[outcome]
        heartbeat.is_due()
        assert wait_until(lambda before=before: heartbeat.calls[outcome] > before)


def test_each_good_cycle_is_told_by_one_call(store, server):
    with beating(store, server.url + PATH) as heartbeat:
        assert server.seen == []
        beat(heartbeat, 3)
    assert [(seen.method, seen.path) for seen in server.seen] == [("GET", PATH)] * 3
    assert server.seen[0].headers["User-Agent"] == "alertd/x"
    assert wrongs(store, HOUR, NOW) == []


def test_a_failure_is_logged_when_it_begins_and_when_it_ends_and_told_by_status_meanwhile(store, server, caplog):
    caplog.set_level("INFO", "alertd.service.heartbeat")
    server.script(PATH, Behaviour(status=500), Behaviour(status=404), Behaviour())
    with beating(store, server.url + PATH) as heartbeat:
        beat(heartbeat, 2, "failed")
        told = "heartbeat (since 0 s): the address answers with status 404"
        assert wait_until(lambda: wrongs(store, HOUR, NOW) == [told])
        beat(heartbeat, 1)
        assert wait_until(lambda: wrongs(store, HOUR, NOW) == [])
    assert caplog.messages == ["heartbeat: the address answers with status 500", "heartbeat: works again"]
    assert heartbeat.calls == {"accepted": 1, "failed": 2}


def test_a_trouble_of_the_daemon_before_ends_with_the_first_call_that_is_accepted(store, server):
    with beating(store, f"http://127.0.0.1:{free_port()}{PATH}") as heartbeat:
        beat(heartbeat, 1, "failed")
        assert wait_until(lambda: wrongs(store, HOUR, NOW) == [f"heartbeat (since 0 s): {REFUSED}"])
    with beating(store, server.url + PATH) as heartbeat:
        beat(heartbeat, 1)
        assert wait_until(lambda: wrongs(store, HOUR, NOW) == [])


def test_a_lost_call_is_tried_again(store, server):
    server.script(PATH, Behaviour(hang_up=True), Behaviour(status=503), Behaviour())
    with beating(store, server.url + PATH, pauses=(0.05, 0.05)) as heartbeat:
        beat(heartbeat, 1)
    assert heartbeat.calls == {"accepted": 1, "failed": 2}
    assert wrongs(store, HOUR, NOW) == []


@pytest.mark.parametrize("location", ["http://127.0.0.2:9/", "file:///etc/passwd", "//127.0.0.2/"])
def test_a_redirect_to_another_host_is_not_followed(store, server, location, caplog):
    server.script(PATH, Behaviour(status=302, headers={"Location": location}))
    with beating(store, server.url + PATH) as heartbeat:
        beat(heartbeat, 1, "failed")
        assert wait_until(lambda: wrongs(store, HOUR, NOW))
    assert "redirects to another host, which is not followed; check status.heartbeat" in caplog.text
    assert len(server.seen) == 1


def test_a_redirect_to_another_port_of_the_same_host_is_not_followed(store, server):
    with HttpServer() as other:
        server.script(PATH, Behaviour(status=307, headers={"Location": other.url}))
        with beating(store, server.url + PATH) as heartbeat:
            beat(heartbeat, 1, "failed")
        assert other.seen == []


def test_a_checker_that_hangs_delays_neither_cycles_nor_the_stop(store, server):
    server.script(PATH, Behaviour(hang=True))
    with beating(store, server.url + PATH, deadline=30.0) as heartbeat:
        heartbeat.is_due()
        assert wait_until(lambda: server.seen)
        began = time.monotonic()
        heartbeat.is_due()
    assert time.monotonic() - began < 10.0
    assert heartbeat.calls.total() == 0


def test_a_checker_that_answers_byte_by_byte_is_cut_off_at_the_deadline(store, server):
    server.script(PATH, Behaviour(body=b"x" * 500, drip_body=0.2))
    with beating(store, server.url + PATH, deadline=0.6) as heartbeat:
        beat(heartbeat, 1, "failed")
        assert wait_until(lambda: "did not answer completely in time" in "".join(wrongs(store, HOUR, NOW)))


def test_the_address_is_told_nowhere(store, server, caplog, capfd):
    caplog.set_level("DEBUG", "alertd")
    broken = Behaviour(raw=b"HTTP/1.1 200 OK\r\nnonsense\r\n: x\r\n\r\n")
    server.script(PATH, broken, Behaviour(status=400, body=PATH.encode()), Behaviour(raw=b"s3cr3t\r\n\r\n"))
    with beating(store, server.url + PATH) as heartbeat:
        for number in range(1, 4):
            heartbeat.is_due()
            assert wait_until(lambda number=number: heartbeat.calls.total() == number)
        assert wait_until(lambda: wrongs(store, HOUR, NOW))
    assert "s3cr3t" not in caplog.text + "".join(capfd.readouterr()) + "".join(wrongs(store, HOUR, NOW))


def test_a_mistake_of_ours_does_not_end_the_heartbeat(store, server, caplog):
    class Faulty:
        def get(self, url, headers, seconds):
            raise RuntimeError(url, headers, seconds)

    heartbeat = Heartbeat(
        server.url + PATH, Faulty(), "a", store, lambda: NOW, deadline=timedelta(seconds=1), pauses=()
    )
    heartbeat.start()
    beat(heartbeat, 2, "failed")
    heartbeat.stop()
    assert "heartbeat: the call failed (RuntimeError in " in caplog.text
    assert "s3cr3t" not in caplog.text


def test_a_database_that_cannot_be_written_does_not_end_the_heartbeat(store, server, monkeypatch, caplog):
    def fail(_key, _value):
        message = "database x is full"
        raise StoreError(message)

    monkeypatch.setattr(store, "set_note", fail)
    server.script(PATH, Behaviour(status=500))
    with beating(store, server.url + PATH) as heartbeat:
        beat(heartbeat, 1, "failed")
        assert wait_until(lambda: "heartbeat: StoreError: database x is full" in caplog.text)
        beat(heartbeat, 1, "failed")


def test_a_heartbeat_that_was_never_started_can_be_stopped(store):
    Heartbeat("http://x/", WebTransport(1), "a", store, lambda: NOW, deadline=timedelta(seconds=1)).stop()
