"""The relay between a real store and real servers, some of which misbehave."""

from __future__ import annotations

import json
import os
import random
import sys
import threading
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from alertd.audit import AuditEvent
from alertd.delivery import SENT_AGAIN, Channel
from alertd.service import daemon
from alertd.store import Addressed, Commit, OutboxState, Store
from alertd.watch.relay import Relay, RelaySettings

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fakes.letters import make_letter
from tests.fakes.servers import MailServer, SilentServer, WebAnswer, WebServer

SETTINGS = RelaySettings(deadline=timedelta(seconds=20), jitter=0.0)


def present() -> datetime:
    return datetime.now(UTC)


def put(store, letter, *channels):
    letter = replace(letter, composed=present())
    event = AuditEvent(present(), "letter", {"reference": letter.reference, "recipient": letter.recipient})
    store.commit(Commit(present(), letters=(Addressed(letter, channels),), events=(event,)))


def hook(name, server):
    return Channel(name, f"json://127.0.0.1:{server.port}/{name}")


def mail(name, server):
    return Channel(name, f"mailto://127.0.0.1:{server.port}/?from=alertd@example.org&to=ann@example.org")


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "alertd.db") as store:
        yield store
        assert store.verify_audit() == []


def make_relay(store, channels, settings=SETTINGS, others=None):
    return Relay(
        store,
        {channel.name: channel for channel in channels},
        settings,
        "north",
        random=random.Random(1),
        others=others,
        clock=present,
    )


def sends(store):
    return [json.loads(row.body) for row in store.audit_rows() if row.kind == "send"]


def test_a_refused_mail_arrives_by_webhook_under_the_same_reference(store):
    with MailServer(recipient_answer="550 no such user") as mail_server, WebServer() as web_server:
        relay = make_relay(store, [mail("mail", mail_server), hook("phone", web_server)])
        put(store, make_letter(), "mail", "phone")
        relay.run_once(present())
        assert relay.wait(timedelta(seconds=20))
        assert relay.stop()
    (request,) = web_server.requests
    document = json.loads(request.body)
    assert document["message"].startswith('The channel "mail" did not take this message (SMTP 550)')
    assert request.headers["X-Alertd-Reference"] == "N7-1"
    assert [(event["channel"], event["outcome"]) for event in sends(store)] == [
        ("mail", "refused"),
        ("phone", "accepted"),
    ]


def test_a_server_that_asks_for_a_wait_gets_it(store):
    with WebServer(WebAnswer(429, {"Retry-After": "600"})) as server:
        relay = make_relay(store, [hook("phone", server)])
        put(store, make_letter(), "phone")
        relay.run_once(present())
        assert relay.wait(timedelta(seconds=20))
        assert relay.stop()
    (item,) = store.outbox_items(OutboxState.WAITING)
    assert timedelta(seconds=590) < item.not_before - present() <= timedelta(seconds=600)
    assert not item.is_resend


def test_one_hung_channel_delays_no_other(store):
    with SilentServer() as silent, WebServer() as server:
        relay = make_relay(store, [hook("hung", silent), hook("phone", server)])
        for number in range(3):
            put(store, make_letter(reference=f"H{number}-1"), "hung")
        put(store, make_letter(), "phone")
        started = time.monotonic()
        assert relay.run_once(present()) == 2
        while not server.requests and time.monotonic() - started < 10:
            time.sleep(0.01)
        elapsed = time.monotonic() - started
        assert relay.stop()
    assert len(server.requests) == 1
    assert elapsed < 5.0
    states = {item.reference: item.state for item in store.outbox_items()}
    assert states["H0-1"] is OutboxState.CLAIMED
    assert states["H1-1"] is OutboxState.WAITING


def test_letters_of_a_healthy_channel_are_claimed_at_the_next_look_and_accepted_while_its_neighbours_hang(store):
    assert timedelta(seconds=1) >= daemon._RELAY_EVERY  # so often the daemon looks, and that is all the delay there is
    settings = replace(SETTINGS, deadline=timedelta(minutes=5))
    hung = [f"hung{number}" for number in range(settings.parallel - 1)]
    with SilentServer() as silent, WebServer() as server:
        relay = make_relay(store, [*(hook(name, silent) for name in hung), hook("phone", server)], settings)
        for name in hung:
            put(store, make_letter(reference=f"{name}-1"), name)
        put(store, make_letter(reference="P0-1"), "phone")
        assert relay.run_once(present()) == settings.parallel
        for number in range(1, 4):
            assert until_accepted(relay, store, number)
            put(store, make_letter(reference=f"P{number}-1"), "phone")
            assert relay.run_once(present()) == 1
        assert until_accepted(relay, store, 4)
        states = {item.reference: item.state for item in store.outbox_items()}
        assert [states[f"{name}-1"] for name in hung] == [OutboxState.CLAIMED] * len(hung)
        assert relay.stop()
    assert [event["reference"] for event in sends(store)] == [f"P{number}-1" for number in range(4)]
    assert [request.headers["X-Alertd-Reference"] for request in server.requests] == [f"P{n}-1" for n in range(4)]


def until_accepted(relay, store, count):
    """Return whether so many letters are accepted, and their channel is free again, before long."""
    end = time.monotonic() + 120
    while time.monotonic() < end:
        with relay._changed:
            if len(store.outbox_items(OutboxState.ACCEPTED)) == count and "phone" not in relay._busy:
                return True
        time.sleep(0.02)
    return False


def test_stopping_takes_a_second_at_most_with_hung_sends_in_flight(store):
    with SilentServer() as silent:
        channels = [hook(f"hung{number}", silent) for number in range(3)]
        relay = make_relay(store, channels)
        for channel in channels:
            put(store, make_letter(reference=f"{channel.name}-1"), channel.name)
        assert relay.run_once(present()) == 3
        assert silent.connected.wait(20)
        started = time.monotonic()
        assert relay.stop()
        assert time.monotonic() - started < 1.0
    assert {item.state for item in store.outbox_items()} == {OutboxState.CLAIMED}
    assert sends(store) == []


def test_a_send_that_was_stopped_is_sent_again_under_the_same_reference_and_says_so(store):
    with WebServer(WebAnswer(pause=60), WebAnswer()) as server:
        first = make_relay(store, [hook("phone", server)])
        put(store, make_letter(), "phone")
        first.run_once(present())
        while not server.requests:
            time.sleep(0.01)
        assert first.stop()
        second = make_relay(store, [hook("phone", server)])
        later = present() + SETTINGS.lease
        second.run_once(later)
        assert second.wait(timedelta(seconds=20))
        assert second.stop()
    assert [request.headers["X-Alertd-Reference"] for request in server.requests] == ["N7-1", "N7-1"]
    assert SENT_AGAIN not in json.loads(server.requests[0].body)["message"]
    assert json.loads(server.requests[1].body)["message"].endswith(SENT_AGAIN)
    assert [item.state for item in store.outbox_items()] == [OutboxState.ACCEPTED]


def test_many_letters_over_several_channels_all_arrive_once(store):
    with WebServer() as one, WebServer() as two, MailServer() as three:
        relay = make_relay(store, [hook("one", one), hook("two", two), mail("three", three)])
        for number in range(4):
            for name in ("one", "two", "three"):
                put(store, make_letter(reference=f"{name}-{number}", recipient=name), name)
        relay.run_once(present())
        assert relay.wait(timedelta(seconds=60))
        assert relay.stop()
    for server, name in ((one, "one"), (two, "two")):
        references = [request.headers["X-Alertd-Reference"] for request in server.requests]
        assert references == [f"{name}-{number}" for number in range(4)]
    assert [mail["X-Alertd-Reference"] for mail in three.received] == [f"three-{number}" for number in range(4)]


def senders():
    """Yield the command lines of sending processes that this process has started."""
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            is_ours = f"PPid:\t{os.getpid()}\n" in (folder / "status").read_text()
            command = (folder / "cmdline").read_bytes()
        except OSError:  # it has ended meanwhile
            continue
        if is_ours and b"alertd.delivery.child" in command:
            yield command


def test_a_stopped_relay_leaves_no_process_behind(store):
    with SilentServer() as silent:
        relay = make_relay(store, [hook("hung", silent)])
        put(store, make_letter(), "hung")
        relay.run_once(present())
        assert silent.connected.wait(20)
        assert len(list(senders())) == 1
        assert relay.stop()
    threads = [thread for thread in threading.enumerate() if thread.name.startswith(("relay", "job"))]
    for thread in threads:
        thread.join(2)
    assert not any(thread.is_alive() for thread in threads)
    assert list(senders()) == []
