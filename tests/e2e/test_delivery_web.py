"""Letters by webhook, against real HTTP servers on loopback that behave and misbehave."""

from __future__ import annotations

import json
import sys
import threading
import time
from datetime import timedelta
from pathlib import Path

import pytest

from alertd.delivery import Channel, Outcome, send

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fakes.letters import make_letter
from tests.fakes.servers import SilentServer, WebAnswer, WebServer, free_port, untrusted_tls

DEADLINE = timedelta(seconds=20)


def hook(port: int, more: str = "", schema: str = "json") -> Channel:
    return Channel("hook", f"{schema}://127.0.0.1:{port}/hooks/garden{more}")


def post(channel, letter=None, deadline=DEADLINE, stop=None):
    return send(channel, letter or make_letter(), site_slug="north", deadline=deadline, stop=stop)


def test_a_webhook_gets_the_short_form_as_title_the_text_and_the_reference():
    letter = make_letter(text="Wrap 4 figs.\n\n  a < b & c\n")
    with WebServer() as server:
        result = post(hook(server.port), letter)
    assert result.outcome is Outcome.ACCEPTED
    (request,) = server.requests
    document = json.loads(request.body)
    assert (request.method, request.path) == ("POST", "/hooks/garden")
    assert document["title"] == letter.short
    assert document["message"] == "Wrap 4 figs.\n\n  a < b & c"
    assert request.headers["X-Alertd-Reference"] == "N7-1"


@pytest.mark.parametrize(
    ("answer", "outcome", "reason", "retry_after"),
    [
        (WebAnswer(204, body=b""), Outcome.ACCEPTED, "accepted by the channel", None),
        (WebAnswer(404), Outcome.REFUSED, "HTTP 404", None),
        (WebAnswer(401), Outcome.REFUSED, "HTTP 401", None),
        (WebAnswer(429, {"Retry-After": "7"}), Outcome.UNAVAILABLE, "HTTP 429", timedelta(seconds=7)),
        (WebAnswer(500), Outcome.UNAVAILABLE, "HTTP 500", None),
        (WebAnswer(503, {"Retry-After": "soon"}), Outcome.UNAVAILABLE, "HTTP 503", None),
    ],
)
def test_the_answer_of_the_server_decides(answer, outcome, reason, retry_after):
    with WebServer(answer) as server:
        result = post(hook(server.port))
    assert (result.outcome, result.reason, result.retry_after) == (outcome, reason, retry_after)
    assert len(server.requests) == 1


@pytest.mark.parametrize("more", ["", "?redirect=yes"])
def test_a_redirection_is_refused_because_it_would_lose_the_letter(more):
    with WebServer(WebAnswer(302, {"Location": "/elsewhere"}), WebAnswer(200)) as server:
        result = post(hook(server.port, more))
    assert (result.outcome, result.reason) == (Outcome.REFUSED, "HTTP 302")
    assert [request.path for request in server.requests] == ["/hooks/garden"]


def test_the_library_does_not_retry_and_nothing_is_optional():
    with WebServer(WebAnswer(503)) as server:
        result = post(hook(server.port, "?retry=3&wait=1&optional=yes"))
    assert result.outcome is Outcome.UNAVAILABLE
    assert len(server.requests) == 1


def test_a_server_that_hangs_with_the_letter_leaves_the_outcome_unknown():
    with WebServer(WebAnswer(pause=60)) as server:
        result = post(hook(server.port), deadline=timedelta(seconds=4))
    assert (result.outcome, result.reason) == (Outcome.UNKNOWN, "timed out")
    assert result.elapsed < timedelta(seconds=4)


def test_a_server_that_drips_is_cut_off_at_the_deadline():
    with WebServer(WebAnswer(body=b"x" * 60, drip=1.0)) as server:
        result = post(hook(server.port), deadline=timedelta(seconds=3))
    assert (result.outcome, result.reason) == (Outcome.UNKNOWN, "no answer before the deadline")
    assert timedelta(seconds=3) <= result.elapsed < timedelta(seconds=3.5)


def test_a_server_that_takes_the_connection_and_goes_leaves_the_outcome_unknown():
    with WebServer(WebAnswer(hang_up=True)) as server:
        result = post(hook(server.port))
    assert (result.outcome, result.reason) == (Outcome.UNKNOWN, "connection lost")


def test_a_server_that_is_not_there_is_unavailable():
    result = post(hook(free_port()))
    assert (result.outcome, result.reason) == (Outcome.UNAVAILABLE, "connection refused")


def test_a_name_that_does_not_exist_is_unavailable():
    result = post(Channel("hook", "json://hook.alertd.invalid/garden"))
    assert (result.outcome, result.reason) == (Outcome.UNAVAILABLE, "host name not found")


def test_a_certificate_that_nobody_trusts_is_not_used():
    with WebServer(tls=untrusted_tls()) as server:
        result = post(hook(server.port, schema="jsons"))
    assert (result.outcome, result.reason) == (Outcome.UNAVAILABLE, "certificate not trusted")
    assert server.requests == []


def test_a_long_text_is_split_and_every_part_arrives():
    text = "\n".join(f"line {number}: " + "x" * 60 for number in range(3000))
    with WebServer() as server:
        result = post(Channel("hook", f"form://127.0.0.1:{server.port}/garden"), make_letter(text=text))
    assert result.outcome is Outcome.ACCEPTED
    assert len(server.requests) > 1
    everything = b"".join(request.body for request in server.requests)
    for number in range(3000):
        assert f"line+{number}%3A".encode() in everything


def test_a_server_that_drops_a_large_letter_does_not_hold_the_sender():
    result = post(hook(free_port()), make_letter(text="x" * 3_000_000))
    assert result.reason == "connection refused"


def test_a_send_in_flight_stops_within_a_second():
    stop = threading.Event()
    with SilentServer() as server:
        waiter = threading.Thread(target=lambda: (server.connected.wait(10), stop.set()))
        waiter.start()
        result = post(hook(server.port), stop=stop)
        waiter.join()
        ended = time.monotonic()
    assert (result.outcome, result.reason) == (Outcome.UNKNOWN, "stopped while sending")
    assert time.monotonic() - ended < 1.0
    assert result.elapsed < timedelta(seconds=5)
