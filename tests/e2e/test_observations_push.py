"""Devices that send observations over a real connection, well and ill-behaved ones."""

import http.client
import json
import logging
import socket
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime

import pytest

from alertd.core import StoreError
from alertd.sources.observations import PushSettings, ThermometerServer
from alertd.store import Store

NOW = datetime(2026, 1, 23, 12, tzinfo=UTC)
TOKEN = "canary-0123456789abcdef"
GOOD = {"station": "barn", "time": "2026-01-23T11:00:00Z", "air_temperature": 14.0, "unit": "degF"}


@pytest.fixture
def store():
    with Store.open(None) as opened:
        yield opened


def listening(keep, address="127.0.0.1", **settings):
    return ThermometerServer(PushSettings(address, 0, TOKEN, **settings), keep, lambda: NOW)


@pytest.fixture
def server(store):
    with listening(store.keep_observations) as started:
        yield started


def post(server, document=GOOD, *, body=None, method="POST", path="/observations", host="127.0.0.1", **headers):
    names = {"Authorization": f"Bearer {TOKEN}"} | {name.replace("_", "-"): value for name, value in headers.items()}
    given = {name: value for name, value in names.items() if value is not None}
    with closing(http.client.HTTPConnection(host, server.port, timeout=20)) as connection:
        connection.request(method, path, json.dumps(document).encode() if body is None else body, given)
        answer = connection.getresponse()
        content = answer.read()
    assert content.count(b"\n") == 1
    assert answer.headers["Content-Type"] == "application/json"
    assert answer.headers["Server"] == "alertd"
    return answer.status, json.loads(content), answer.headers


def raw(server, text, *, half_close=False):
    """Send bytes as they are and return all that comes back."""
    with socket.create_connection(("127.0.0.1", server.port), timeout=20) as connection:
        connection.sendall(text)
        if half_close:
            connection.shutdown(socket.SHUT_WR)
        return b"".join(iter(lambda: connection.recv(65536), b""))


def test_an_observation_is_kept(server, store):
    status, answer, _ = post(server)
    assert (status, answer) == (200, {"received": 1, "new": 1})
    (kept,) = store.recent_observations(NOW)
    assert (kept.station, kept.air_temperature, kept.received) == ("barn", -10.0, NOW)


def test_a_list_is_kept_and_the_same_again_is_not_new(server):
    both = [GOOD, GOOD | {"time": "2026-01-23T11:10:00Z"}]
    assert post(server, GOOD)[1] == {"received": 1, "new": 1}
    assert post(server, both)[1] == {"received": 2, "new": 1}


@pytest.mark.parametrize(
    "authorization", [None, "", TOKEN, "Bearer", f"Basic {TOKEN}", f"Bearer {TOKEN}x", "Bearer ümlaut"]
)
def test_without_the_token_nothing_is_kept(server, store, authorization):
    if authorization is not None:
        authorization = authorization.encode()
    status, answer, headers = post(server, Authorization=authorization)
    assert (status, headers["WWW-Authenticate"]) == (401, "Bearer")
    assert answer == {"error": "the token is missing or wrong; send the header Authorization: Bearer TOKEN"}
    assert store.recent_observations(NOW) == ()


def test_the_word_bearer_may_be_written_in_any_case(server):
    assert post(server, Authorization=f"bearer  {TOKEN}")[0] == 200


def test_a_bad_body_is_explained_and_nothing_of_it_is_kept(server, store):
    status, answer, _ = post(server, [GOOD, GOOD | {"unit": "F"}])
    assert status == 400
    assert answer["error"].startswith('observation 2: the unit "F" is not known')
    assert store.recent_observations(NOW) == ()


def test_only_configured_stations_are_taken(store):
    with listening(store.keep_observations, stations=frozenset({"well"})) as server:
        assert post(server)[0] == 400
        assert post(server, GOOD | {"station": "well"})[0] == 200


@pytest.mark.parametrize("length", ["65537", "9" * 30])
def test_a_body_that_is_too_large_is_refused_before_it_is_read(server, length):
    status, answer, _ = post(server, body=b"x" * 100_000, Content_Length=length)
    assert (status, answer) == (413, {"error": "send at most 65536 bytes at once"})


def test_the_answer_arrives_though_the_device_sends_on(server):
    head = f"POST /observations HTTP/1.1\r\nAuthorization: Bearer {TOKEN}\r\nContent-Length: 500000\r\n\r\n"
    with socket.create_connection(("127.0.0.1", server.port), timeout=20) as connection:
        connection.sendall(head.encode())
        for _ in range(5):
            connection.sendall(b"x" * 100_000)
            time.sleep(0.05)
        answer = b"".join(iter(lambda: connection.recv(65536), b""))
    assert answer.startswith(b"HTTP/1.0 413 ")


@pytest.mark.parametrize("length", ["-1", "+5", "0x10", "ten", "1_0", ""])
def test_a_length_that_is_none_is_refused(server, length):
    head = f"POST /observations HTTP/1.1\r\nAuthorization: Bearer {TOKEN}\r\nContent-Length: {length}\r\n\r\n"
    answer = raw(server, head.encode(), half_close=True)
    assert answer.startswith(b"HTTP/1.0 400 ")
    assert b"Content-Length" in answer.splitlines()[-1]


def test_two_lengths_or_none_are_refused(server):
    head = f"POST /observations HTTP/1.1\r\nAuthorization: Bearer {TOKEN}\r\n"
    for lengths in ("", "Content-Length: 2\r\nContent-Length: 2\r\n", "Transfer-Encoding: chunked\r\n"):
        assert raw(server, f"{head}{lengths}\r\n{{}}".encode(), half_close=True).startswith(b"HTTP/1.0 400 ")


def test_a_body_that_breaks_off_is_refused(server):
    head = f"POST /observations HTTP/1.1\r\nAuthorization: Bearer {TOKEN}\r\nContent-Length: 50\r\n\r\n"
    answer = raw(server, f"{head}{{}}".encode(), half_close=True)
    assert b"the body is shorter than its Content-Length" in answer


def test_other_paths_and_methods_are_refused(server):
    assert post(server, path="/")[0] == 404
    for method in ("GET", "PUT", "DELETE", "BREW"):
        status, answer, headers = post(server, method=method)
        assert (status, headers["Allow"]) == (405, "POST")
        assert answer == {"error": "only POST /observations is understood"}


@pytest.mark.parametrize(
    ("text", "status"),
    [
        (b"nonsense\r\n\r\n", 400),
        (b"POST /observations HTTP/9.9\r\n\r\n", 505),
        (b"POST /observations HTTP/1.1\r\n" + b"x: y\r\n" * 200 + b"\r\n", 431),
        (b"POST /" + b"x" * 70_000, 414),
    ],
)
def test_what_is_no_request_is_answered_in_one_line(server, text, status):
    answer = raw(server, text, half_close=True)
    assert b"html" not in answer.lower()
    document = json.loads(answer.splitlines()[-1])
    assert list(document) == ["error"]
    assert f" {status} ".encode() in answer.splitlines()[0] or not answer.startswith(b"HTTP")


def test_no_more_is_read_than_head_and_body_may_have(store):
    with listening(store.keep_observations, largest_body=10) as server:
        head = "POST /observations HTTP/1.1\r\n" + f"x: {'y' * 10_000}\r\n" * 3
        answer = raw(server, f"{head}Authorization: Bearer {TOKEN}\r\nContent-Length: 2\r\n\r\n[]".encode())
    assert answer.startswith(b"HTTP/1.0 401 ")


def test_too_many_requests_are_told_when_to_come_again(store):
    with listening(store.keep_observations, requests=3, period=600.0) as server:
        statuses = [post(server, Authorization="Bearer guess")[0] for _ in range(3)]
        status, answer, headers = post(server)
    assert statuses == [401] * 3
    assert status == 429
    assert 190 <= int(headers["Retry-After"]) <= 200
    assert answer == {"error": f"wait {headers['Retry-After']} s"}


@pytest.mark.parametrize("head", ["", "POST /observations HTTP/1.1\r\n", "full"])
def test_a_device_that_dribbles_is_cut_off_at_the_deadline(store, head):
    if head == "full":
        head = f"POST /observations HTTP/1.1\r\nAuthorization: Bearer {TOKEN}\r\nContent-Length: 5000\r\n\r\n"
    with (
        listening(store.keep_observations, deadline=0.5) as server,
        socket.create_connection(("127.0.0.1", server.port), timeout=20) as connection,
    ):
        connection.sendall(head.encode())
        connection.settimeout(0.05)
        begun, answer = time.monotonic(), None
        while answer is None and time.monotonic() - begun < 10.0:
            try:
                connection.sendall(b"x")
                answer = connection.recv(100)
            except TimeoutError:
                continue
            except OSError:
                answer = b""
        took = time.monotonic() - begun
    assert answer == b""
    assert 0.4 <= took < 4.0


def test_of_very_many_connections_the_last_are_closed_and_later_ones_served(store):
    with listening(store.keep_observations, most_connections=2, deadline=20.0) as server:
        idle = [socket.create_connection(("127.0.0.1", server.port), timeout=20) for _ in range(2)]
        time.sleep(0.3)
        with pytest.raises((http.client.HTTPException, OSError)):
            post(server)
        for connection in idle:
            connection.close()
        time.sleep(0.3)
        assert post(server)[0] == 200


def test_a_store_that_fails_is_told_without_details(caplog):
    def fail(_observations, _now):
        message = "database /secret/place is locked"
        raise StoreError(message)

    with listening(fail) as server:
        status, answer, _ = post(server)
    assert (status, answer) == (503, {"error": "the observations cannot be kept now; send them again later"})
    assert "database /secret/place is locked" in caplog.text


def test_a_mistake_of_ours_ends_one_connection_only(store, caplog):
    def fail_once(observations, now, left=[1]):  # noqa: B006 - counts its calls
        if left:
            left.pop()
            raise RuntimeError
        return store.keep_observations(observations, now)

    caplog.set_level(logging.INFO)
    with listening(fail_once) as server:
        with pytest.raises((http.client.HTTPException, OSError)):
            post(server)
        assert post(server)[0] == 200
    assert "a connection from 127.0.0.1 broke off" in caplog.text


def test_neither_answers_nor_logs_tell_the_token(server, caplog):
    with caplog.at_level(logging.DEBUG):
        post(server)
        _, answer, _ = post(server, Authorization=f"Basic {TOKEN}")
    assert TOKEN not in caplog.text
    assert TOKEN not in json.dumps(answer)


def test_many_devices_at_once_are_all_kept(store):
    def send(number):
        return post(server, GOOD | {"station": f"barn-{number}"})[0]

    with listening(store.keep_observations, requests=1000) as server, ThreadPoolExecutor(8) as threads:
        assert set(threads.map(send, range(40))) == {200}
    assert len({each.station for each in store.recent_observations(NOW)}) == 40


def test_stopping_waits_for_nobody_and_frees_the_port(store):
    server = listening(store.keep_observations, deadline=60.0)
    assert server.port == 0
    server.stop()
    server.start()
    port = server.port
    with socket.create_connection(("127.0.0.1", port), timeout=20) as idle:
        time.sleep(0.3)
        begun = time.monotonic()
        server.stop()
        assert time.monotonic() - begun < 5.0
        assert idle.recv(10) == b""
    server.stop()
    assert server.port == 0
    with pytest.raises(OSError, match="refused"):
        socket.create_connection(("127.0.0.1", port), timeout=5)
    assert not [thread for thread in threading.enumerate() if thread.name == "thermometers"]


def test_a_port_that_is_taken_is_told(server, store):
    other = ThermometerServer(PushSettings("127.0.0.1", server.port, TOKEN), store.keep_observations, lambda: NOW)
    with pytest.raises(OSError, match="in use"):
        other.start()
    other.stop()


def test_it_listens_on_the_other_protocol_too(store):
    if not socket.has_ipv6:
        pytest.skip("this machine has no IPv6")
    try:
        with socket.socket(socket.AF_INET6) as probe:
            probe.bind(("::1", 0))
    except OSError:
        pytest.skip("this machine has no IPv6 address on loopback")
    with listening(store.keep_observations, "::1") as server:
        assert post(server, host="::1")[0] == 200
