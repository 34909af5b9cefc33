"""What is believed of the answers of chat servers. The conversations themselves are tested against real servers."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace

import pytest

from alertd.delivery.mqtt import BrokerListener
from alertd.delivery.verdict import Outcome, Phrase, Verdict
from alertd.delivery.xmpp import Conversation


@dataclass
class Code:
    """A reason code as the client library shows it."""

    name: str
    is_failure: bool

    def __str__(self) -> str:
        return self.name


@dataclass
class Service:
    """What is used of an MQTT service."""

    qos: int = 0
    socket_read_timeout: float = 28.0
    client: SimpleNamespace = field(default_factory=SimpleNamespace)

    def connect(self, name: str, *, is_failure: bool) -> None:
        self.client.on_connect(self.client, None, None, Code(name, is_failure), None)

    def acknowledge(self, *, is_failure: bool) -> None:
        self.client.on_publish(self.client, None, 1, Code("", is_failure), None)


@pytest.mark.parametrize(("qos", "asked"), [(0, 1), (1, 1), (2, 2)])
def test_a_broker_is_always_asked_for_an_acknowledgement(qos, asked):
    service = Service(qos)
    BrokerListener(service)
    assert service.qos == asked


def test_a_broker_that_was_not_reached_is_left_to_the_library():
    assert BrokerListener(Service()).verdict is None


def test_a_message_is_accepted_by_a_broker_once_acknowledged():
    service = Service()
    listener = BrokerListener(service)
    service.connect("Success", is_failure=False)
    assert listener.verdict == Verdict(Outcome.UNKNOWN, Phrase.TIMED_OUT)
    service.acknowledge(is_failure=False)
    assert listener.verdict is None
    assert service.socket_read_timeout == 28.0


@pytest.mark.parametrize(
    ("name", "verdict"),
    [
        ("Bad user name or password", Verdict(Outcome.REFUSED, Phrase.LOGIN)),
        ("Not authorized", Verdict(Outcome.REFUSED, Phrase.LOGIN)),
        ("Server unavailable", Verdict(Outcome.UNAVAILABLE, Phrase.SERVICE_FAILED)),
    ],
)
def test_a_broker_that_lets_nobody_in_is_not_waited_for(name, verdict):
    service = Service()
    listener = BrokerListener(service)
    service.connect(name, is_failure=True)
    assert listener.verdict == verdict
    assert service.socket_read_timeout == 0.0


def test_an_acknowledgement_may_be_a_refusal():
    service = Service()
    listener = BrokerListener(service)
    service.connect("Success", is_failure=False)
    service.acknowledge(is_failure=True)
    assert listener.verdict == Verdict(Outcome.REFUSED, Phrase.SERVICE_FAILED)


def test_a_message_is_accepted_by_an_xmpp_server_once_it_has_answered_after_it():
    conversation = Conversation()
    conversation.note_answer()
    assert conversation.verdict == Verdict(Outcome.UNAVAILABLE, Phrase.CONNECTION_LOST)
    conversation.note_message()
    assert conversation.verdict == Verdict(Outcome.UNKNOWN, Phrase.CONNECTION_LOST)
    conversation.note_answer()
    assert conversation.verdict is None


def test_the_first_failure_of_a_conversation_is_its_cause():
    conversation = Conversation()
    conversation.note_failure(Verdict(Outcome.REFUSED, Phrase.LOGIN))
    conversation.note_failure(Verdict(Outcome.UNAVAILABLE, Phrase.CONNECTION_LOST))
    assert conversation.verdict == Verdict(Outcome.REFUSED, Phrase.LOGIN)
