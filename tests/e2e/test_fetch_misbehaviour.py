"""Services that hang, drip, break off, bloat and lie, for real on loopback."""

import gzip
import socket
import threading
import time
import tracemalloc
from datetime import UTC, datetime, timedelta

import pytest

from alertd.core import SourceMalformed, SourceUnavailable
from alertd.sources import Fetcher, FetchSettings, MemoryAnswers, Request, read_json
from tests.fakes.http_servers import Behaviour, FullServer, HttpServer, json_answer
from tests.fakes.servers import SilentServer, free_port, untrusted_tls

NOON = datetime(2026, 1, 23, 12, tzinfo=UTC)
DEADLINE = 1.0  # [s]
SLACK = 3.0  # [s] for a busy machine; without the deadline each of these servers takes more than 10 s
SETTINGS = FetchSettings(deadline=timedelta(seconds=DEADLINE), max_bytes=1_000_000)
PATIENT = FetchSettings(max_bytes=1_000_000)
LONG = {"values": [0.5] * 100}


@pytest.fixture
def server():
    with HttpServer() as running:
        yield running


def make(settings=SETTINGS):
    return Fetcher("alertd/1 kim@example.org", MemoryAnswers(), settings, sleep=lambda _seconds: None)


def refused(url, settings=SETTINGS):
    """Return why a fetch fails, and how long that takes [s]."""
    started = time.monotonic()
    with pytest.raises((SourceUnavailable, SourceMalformed)) as raised:
        make(settings).fetch_and_parse(Request("k", url), NOON, read_json)
    reason = str(raised.value)
    assert "\n" not in reason
    assert "; " in reason
    return reason, time.monotonic() - started


SLOW = {
    "headers one byte at a time": json_answer(LONG, drip_head=0.2),
    "a body one byte at a time": json_answer(LONG, drip_body=0.1),
    "a body without length one byte at a time": json_answer(LONG, drip_body=0.1, claimed_length=-1),
    "a chunked body one byte at a time": json_answer(LONG, drip_body=0.1, chunked=True),
    "a compressed body one byte at a time": Behaviour(
        body=gzip.compress(bytes(range(256)) * 8), drip_body=0.1, headers={"Content-Encoding": "gzip"}
    ),
    "a late answer": json_answer(LONG, pause=15.0),
    "no answer": Behaviour(hang=True),
    "an error page one byte at a time, but not its headers": Behaviour(body=b"x" * 200, status=302, drip_body=0.1),
    "one interim answer after the other": Behaviour(raw=b"HTTP/1.1 100 Continue\r\n\r\n", raw_repeats=20_000_000),
}


@pytest.mark.parametrize("behaviour", [pytest.param(behaviour, id=name) for name, behaviour in SLOW.items()])
def test_no_server_stretches_the_deadline(server, behaviour):
    server.script("/", behaviour)
    reason, seconds = refused(f"{server.url}/")
    assert seconds < DEADLINE + SLACK
    if behaviour.status == 200:
        assert "did not answer completely in time; it is asked again later" in reason
        assert seconds >= DEADLINE * 0.9
    assert len(server.seen) == 1


def test_a_server_is_let_go_at_the_deadline(server):
    server.script("/", Behaviour(hang=True))
    refused(f"{server.url}/")
    end = time.monotonic() + SLACK
    while server.seen[0].ended is None and time.monotonic() < end:
        time.sleep(0.02)
    assert server.seen[0].ended - server.seen[0].at < DEADLINE + SLACK


@pytest.mark.parametrize("scheme", ["http", "https"])
def test_a_server_that_never_speaks_is_left_at_the_deadline(scheme):
    with SilentServer() as silent:
        reason, seconds = refused(f"{scheme}://127.0.0.1:{silent.port}/")
    assert "in time" in reason
    assert DEADLINE * 0.9 <= seconds < DEADLINE + SLACK


def test_a_connection_that_hangs_is_left_at_the_deadline():
    with FullServer() as full:
        reason, seconds = refused(f"http://127.0.0.1:{full.port}/")
    assert "in time" in reason
    assert DEADLINE * 0.9 <= seconds < DEADLINE + SLACK


def test_many_addresses_that_hang_share_one_deadline(monkeypatch):
    with FullServer() as full:
        found = [(socket.AF_INET, socket.SOCK_STREAM, 6, "", ("127.0.0.1", full.port))] * 20
        monkeypatch.setattr(socket, "getaddrinfo", lambda *_arguments, **_named: found)
        reason, seconds = refused("http://many.example.org/")
    assert "in time" in reason
    assert seconds < DEADLINE + SLACK


def test_the_next_address_is_used_if_one_does_not_answer(server, monkeypatch):
    server.script("/", json_answer([1]))
    found = [(socket.AF_INET, socket.SOCK_STREAM, 6, "", ("127.0.0.1", port)) for port in (free_port(), server.port)]
    monkeypatch.setattr(socket, "getaddrinfo", lambda *_arguments, **_named: found)
    assert make().fetch(Request("k", "http://two.example.org/"), NOON).body == b"[1]"


def test_a_look_up_that_hangs_is_left_at_the_deadline_and_not_repeated(monkeypatch):
    release, asked = threading.Event(), []

    def hang(*arguments, **_named):
        asked.append(arguments)
        release.wait(30.0)
        return []

    monkeypatch.setattr(socket, "getaddrinfo", hang)
    try:
        reason, seconds = refused("http://slow.example.org/")
        assert "cannot be looked up; check base_url and the network" in reason
        assert DEADLINE * 0.9 <= seconds < DEADLINE + SLACK
        reason, seconds = refused("http://slow.example.org/")
        assert "cannot be looked up" in reason
        assert len(asked) == 1
    finally:
        release.set()
    end = time.monotonic() + SLACK
    while any(thread.name == "look-up" for thread in threading.enumerate()) and time.monotonic() < end:
        time.sleep(0.02)
    assert "cannot be looked up" in refused("http://slow.example.org/")[0]
    assert len(asked) == 2


@pytest.mark.parametrize("host", ["no-such-name.invalid", "a" * 70 + ".invalid"])
def test_a_name_that_does_not_exist_is_told(host):
    reason, _seconds = refused(f"http://{host}/", PATIENT)
    assert "cannot be looked up" in reason


BROKEN = {
    "cut off": (json_answer(LONG, cut_after=50), "broke off in the middle"),
    "cut off in a chunk": (json_answer(LONG, cut_after=50, chunked=True), "broke off in the middle"),
    "cut off between chunks": (json_answer("a" * 30, cut_after=28, chunked=True), "broke off in the middle"),
    "cut off, compressed": (
        json_answer(list(range(999)), cut_after=50, gzipped=True, claimed_length=-1),
        "broke off in the middle",
    ),
    "cut off, length unknown": (json_answer(LONG, cut_after=50, claimed_length=-1), "no valid JSON"),
    "hung up": (Behaviour(hang_up=True), "lost the connection"),
    "no HTTP": (Behaviour(raw=b"220 mail.example.org ESMTP\r\n"), "lost the connection"),
    "endless header": (Behaviour(raw=b"HTTP/1.1 200 OK\r\nX: " + b"x" * 70_000), "lost the connection"),
    "endless headers": (Behaviour(raw=b"HTTP/1.1 200 OK\r\n" + b"X: x\r\n" * 200 + b"\r\n"), "lost the connection"),
    "two lengths": (
        Behaviour(raw=b"HTTP/1.1 200 OK\r\nContent-Length: 2\r\nContent-Length: 3\r\n\r\n[]"),
        "headers that contradict each other",
    ),
    "wrong chunks": (
        Behaviour(raw=b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\nzz\r\n[]\r\n0\r\n\r\n"),
        "broke off in the middle",
    ),
    "too long": (Behaviour(body=b"0" * 1_000_001), "sends more than 1.0 MB"),
    "too long, chunked": (Behaviour(body=b"0" * 1_000_001, chunked=True), "sends more than 1.0 MB"),
    "no gzip": (Behaviour(body=b"{}", headers={"Content-Encoding": "gzip"}), "cannot be unpacked"),
    "spoilt gzip": (
        Behaviour(body=gzip.compress(b"x" * 99)[:-8] + b"\0" * 8, headers={"Content-Encoding": "gzip"}),
        "cannot be unpacked",
    ),
    "another compression": (Behaviour(body=b"{}", headers={"Content-Encoding": "br"}), "not asked for"),
    "empty": (Behaviour(), "the answer is empty"),
    "empty, compressed": (Behaviour(gzipped=True), "the answer is empty"),
    "a web page": (Behaviour(body=b"<!doctype html><title>Sign in</title>"), "a web page instead of data"),
    "an error in the middle": (Behaviour(body=b'{"a": [1, Unexpected error while streaming data'), "no valid JSON"),
    "not a number": (Behaviour(body=b'{"a": [1, nan]}'), "no valid JSON"),
}


@pytest.mark.parametrize(("behaviour", "reason"), [pytest.param(*case, id=name) for name, case in BROKEN.items()])
def test_each_broken_answer_has_one_clear_reason(server, behaviour, reason):
    server.script("/", behaviour)
    assert reason in refused(f"{server.url}/", PATIENT)[0]


@pytest.mark.parametrize("behaviour", [pytest.param(case[0], id=name) for name, case in BROKEN.items()])
def test_after_a_broken_answer_the_last_good_one_is_served(server, behaviour):
    server.script("/", json_answer([1]), behaviour)
    fetcher, request = make(PATIENT), Request("k", f"{server.url}/")
    fetcher.fetch_and_parse(request, NOON, read_json)
    parsed, answer = fetcher.fetch_and_parse(request, NOON + timedelta(hours=1), read_json)
    assert parsed == [1]
    assert answer.retrieved == NOON
    assert answer.problem


def test_a_bomb_is_left_before_it_fills_memory(server):
    bomb = gzip.compress(b"0" * 300_000_000)
    server.script("/", Behaviour(body=bomb, headers={"Content-Encoding": "gzip"}))
    tracemalloc.start()
    try:
        reason, _seconds = refused(f"{server.url}/", PATIENT)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert "sends more than 1.0 MB" in reason
    assert peak < 20_000_000


@pytest.mark.parametrize("options", [{}, {"chunked": True}, {"gzipped": True}, {"chunked": True, "gzipped": True}])
def test_every_ordinary_way_to_send_a_body_is_read(server, options):
    server.script("/", json_answer(LONG, **options))
    assert make().fetch_and_parse(Request("k", f"{server.url}/"), NOON, read_json)[0] == LONG
    assert server.seen[0].headers["Accept-Encoding"] == "gzip"


def test_a_body_of_exactly_the_largest_size_is_read(server):
    for gzipped in (False, True):
        server.script("/", Behaviour(body=b"0" * 1_000_000, gzipped=gzipped))
        assert len(make(PATIENT).fetch(Request("k", f"{server.url}/"), NOON).body) == 1_000_000


def test_a_certificate_that_nobody_trusts_is_told():
    with HttpServer(tls=untrusted_tls()) as server:
        reason, _seconds = refused(f"{server.url}/", PATIENT)
        assert server.seen == []
    assert "TLS certificate that is not trusted; check base_url and the clock" in reason


def test_a_port_that_nobody_listens_on_is_told():
    assert "refuses connections" in refused(f"http://127.0.0.1:{free_port()}/")[0]


def test_the_status_counts_even_if_the_error_page_is_broken(server):
    server.script("/", Behaviour(status=429, body=b"x" * 500, cut_after=3, headers={"Retry-After": "3600"}))
    fetcher = make()
    seen_bodies = []
    request = Request("k", f"{server.url}/", explain=lambda *seen: seen_bodies.append(seen[2]) or "")
    with pytest.raises(SourceUnavailable, match="429 Too Many Requests"):
        fetcher.fetch(request, NOON)
    assert seen_bodies[0] in {b"xxx", b""}
    with pytest.raises(SourceUnavailable, match="429"):
        fetcher.fetch(request, NOON + timedelta(minutes=59))
    assert len(server.seen) == 1


def test_an_error_page_is_not_read_to_its_end(server):
    server.script("/", Behaviour(status=404, body=b"x" * 5_000_000))
    lengths = []
    with pytest.raises(SourceUnavailable, match="404"):
        make().fetch(Request("k", f"{server.url}/", explain=lambda *seen: lengths.append(len(seen[2])) or ""), NOON)
    assert lengths == [64 * 1024]


def test_nothing_is_left_behind(server):
    before = set(threading.enumerate())
    server.script("/", json_answer([1], drip_body=0.5), json_answer([1]))
    refused(f"{server.url}/")
    make().fetch(Request("k", f"{server.url}/"), NOON)
    own = {thread for thread in set(threading.enumerate()) - before if "process_request" not in thread.name}
    assert own == set()
