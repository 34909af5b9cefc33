from dataclasses import fields, replace
from datetime import UTC, datetime

import pytest

from alertd.alerts import Alert, AlertState, Announcement
from alertd.core import Certainty, MessageType, ResponseType, Severity, Urgency
from alertd.messages import Letter
from alertd.plan import Action
from alertd.risk import Rule
from alertd.site import Condition, Cover
from alertd.store import codec

NOON = datetime(2026, 1, 23, 12, tzinfo=UTC)
TOLD = Announcement(
    NOON, MessageType.ALERT, ResponseType.PREPARE, Severity.SEVERE, Urgency.FUTURE, Certainty.LIKELY, minimum=-11
)
ALERT = Alert(
    "patio-pots-2026-01-23",
    "patio-pots",
    Action.MOVE_IN,
    Rule.CONTAINER_ROOTS,
    AlertState.PREPARE,
    TOLD,
    TOLD,
    NOON,
    1,
    Severity.SEVERE,
)
LETTER = Letter("r-1", "kim", NOON, "s", "t", "<p>t</p>", "s", ("patio-pots-2026-01-23",), "Prepare")


@pytest.mark.parametrize(
    ("document", "record"),
    [
        (codec.alert_document(ALERT), Alert),
        (codec.alert_document(ALERT)["opened"], Announcement),
        (codec.condition_document(Condition()), Condition),
        (codec.letter_document(LETTER), Letter),
    ],
)
def test_every_field_is_written(document, record):
    assert set(document) == {field.name for field in fields(record)}


def test_tokens_and_times_are_written_as_their_standards_spell_them():
    document = codec.alert_document(ALERT)
    assert document["action"] == "move_in"
    assert document["end"] == "2026-01-23T12:00:00Z"
    assert document["opened"]["severity"] == "Severe"
    assert codec.condition_document(Condition(Cover.IN_PLACE))["cover"] == "in-place"


def test_a_field_that_has_a_default_may_be_missing():
    document = codec.alert_document(ALERT)
    del document["reminded"]
    del document["history"]
    assert codec.alert_from(document) == ALERT


@pytest.mark.parametrize(
    "change",
    [
        {"colour": "red"},
        {"revision": "1"},
        {"revision": True},
        {"reminded": 1},
        {"history": "none"},
        {"opened": []},
        {"action": "prune"},
        {"alert_id": 7},
        {"end": "tomorrow"},
        {"end": "2026-01-23T12:00:00"},
        {"opened": {**codec.alert_document(ALERT)["opened"], "minimum": True}},
        {"opened": {**codec.alert_document(ALERT)["opened"], "minimum": "-11"}},
        {"opened": {**codec.alert_document(ALERT)["opened"], "minimum": float("nan")}},
    ],
)
def test_a_document_of_another_shape_is_refused(change):
    with pytest.raises(ValueError, match=r"."):
        codec.alert_from(codec.alert_document(ALERT) | change)


def test_a_missing_field_is_named():
    document = codec.letter_document(LETTER)
    del document["subject"]
    with pytest.raises(ValueError, match=r"missing fields \['subject'\]"):
        codec.letter_from(document)


@pytest.mark.parametrize(
    "alert",
    [
        replace(ALERT, end=datetime(2026, 1, 23)),  # noqa: DTZ001 - the mistake under test
        replace(ALERT, end="2026-01-23T12:00:00Z"),
        replace(ALERT, opened=replace(TOLD, minimum=float("inf"))),
        replace(ALERT, state="asleep"),
    ],
)
def test_an_alert_that_breaks_its_own_types_is_not_written(alert):
    with pytest.raises(ValueError, match=r"."):
        codec.alert_document(alert)
