"""Watches, warnings and advisories."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from alertd.core import SourceMalformed
from alertd.sources.nws import parse_alerts
from tests.fakes import nws

FREEZE = "/O.{action}.KZZQ.FZ.W.0003.260123T0300Z-260123T1400Z/"


def parsed(*features):
    return parse_alerts(nws.body(nws.alerts(*features)))


def vtec(*texts):
    return {"VTEC": list(texts)}


def identifiers(*features):
    return [alert.identifier for alert in parsed(*features)]


def test_no_alert_is_an_empty_tuple():
    assert parsed() == ()


def test_the_services_own_words_are_kept_letter_by_letter():
    (alert,) = parsed(nws.alert())
    assert alert.event == "Freeze Warning"
    assert alert.headline == "Freeze Warning until 9 AM EST Friday"
    assert alert.description == "* WHAT...Temperatures as low as 16.\n\n* WHERE...Quince County."
    assert alert.instruction == "Protect tender plants."
    assert alert.area == "Quince County"
    assert (alert.severity, alert.certainty, alert.urgency) == ("Moderate", "Likely", "Expected")


def test_the_event_ends_when_it_ends_and_not_when_the_message_expires():
    (alert,) = parsed(nws.alert())  # expires at 02:00, ends at 09:00 EST
    assert alert.onset == datetime(2026, 1, 23, 3, tzinfo=UTC)
    assert alert.ends == datetime(2026, 1, 23, 14, tzinfo=UTC)
    assert not alert.has_ended(datetime(2026, 1, 23, 13, 59, tzinfo=UTC))
    assert alert.has_ended(datetime(2026, 1, 23, 14, tzinfo=UTC))


def test_an_end_may_stand_among_the_parameters_or_nowhere():
    times = {"eventEndingTime": ["2026-01-23T08:00:00-05:00"]}
    (alert,) = parsed(nws.alert(ends=None, parameters=times))
    assert alert.ends == datetime(2026, 1, 23, 13, tzinfo=UTC)
    (alert,) = parsed(nws.alert(ends=None, parameters={}))
    assert alert.ends is None
    assert not alert.has_ended(datetime(2036, 1, 1, tzinfo=UTC))


def test_absent_texts_are_empty_and_an_absent_severity_is_unknown():
    (alert,) = parsed(
        nws.alert(
            headline=None, instruction=None, severity=None, certainty=None, urgency=None, onset=None, references=None
        )
    )
    assert (alert.headline, alert.instruction, alert.onset) == ("", "", None)
    assert (alert.severity, alert.certainty, alert.urgency) == ("Unknown", "Unknown", "Unknown")
    assert alert.references == frozenset()


def test_a_message_that_a_later_one_refers_to_is_replaced():
    former = nws.alert("a", parameters={})
    update = nws.alert("b", parameters={}, sent="2026-01-22T16:00:00-05:00", references=[{"identifier": "a"}])
    assert identifiers(former, update) == ["b"]
    assert identifiers(update, former) == ["b"]


def test_an_update_of_the_same_event_replaces_it_without_a_reference():
    former = nws.alert("a")
    update = nws.alert("b", sent="2026-01-22T16:00:00-05:00", parameters=vtec(FREEZE.format(action="CON")))
    assert identifiers(former, update) == ["b"]


def test_the_same_message_twice_is_one():
    assert identifiers(nws.alert("a"), nws.alert("a")) == ["a"]


def test_different_events_are_both_kept_in_the_order_of_their_onsets():
    frost = vtec("/O.NEW.KZZQ.FR.Y.0001.260122T2200Z-260123T1400Z/")
    early = nws.alert("z", event="Frost Advisory", onset="2026-01-22T17:00:00-05:00", parameters=frost)
    assert identifiers(nws.alert("a"), early) == ["z", "a"]


def test_the_same_number_of_another_office_is_another_event():
    other = vtec(FREEZE.format(action="NEW").replace("KZZQ", "KZZR"))
    assert identifiers(nws.alert("a"), nws.alert("b", parameters=other)) == ["a", "b"]


def test_messages_without_events_or_references_are_all_kept():
    assert identifiers(nws.alert("a", parameters={}), nws.alert("b", parameters={})) == ["a", "b"]


@pytest.mark.parametrize(
    "over",
    [
        {"messageType": "Cancel", "references": [{"identifier": "a"}], "parameters": {}},
        {"messageType": "Cancel", "parameters": vtec(FREEZE.format(action="CAN"))},
        {"messageType": "Update", "parameters": vtec(FREEZE.format(action="CAN"))},
    ],
)
def test_a_cancellation_takes_its_event_away_and_is_no_alert_itself(over):
    assert identifiers(nws.alert("a"), nws.alert("b", sent="2026-01-22T16:00:00-05:00", **over)) == []


def test_a_cancellation_that_was_sent_before_does_not_take_a_new_message_away():
    over = nws.alert(
        "b", messageType="Cancel", sent="2026-01-22T10:00:00-05:00", parameters=vtec(FREEZE.format(action="CAN"))
    )
    assert identifiers(nws.alert("a"), over) == ["a"]


def test_of_messages_sent_at_once_the_one_by_which_the_event_goes_on_counts():
    over = nws.alert("z", messageType="Cancel", parameters=vtec(FREEZE.format(action="CAN")))
    on = nws.alert("a", messageType="Update", parameters=vtec(FREEZE.format(action="CON")))
    assert identifiers(over, on) == ["a"]


def test_a_watch_that_became_a_warning_is_replaced_by_it():
    watch = nws.alert("a", event="Freeze Watch", parameters=vtec("/O.NEW.KZZQ.FZ.A.0002.260123T0300Z-260123T1400Z/"))
    upgrade = "/O.UPG.KZZQ.FZ.A.0002.260123T0300Z-260123T1400Z/"
    warning = nws.alert("b", sent="2026-01-22T16:00:00-05:00", parameters=vtec(upgrade, FREEZE.format(action="NEW")))
    (alert,) = parsed(watch, warning)
    assert (alert.identifier, alert.event) == ("b", "Freeze Warning")


def test_an_older_message_that_speaks_of_one_more_event_is_kept():
    cold = "/O.NEW.KZZQ.CW.Y.0001.260123T0300Z-260123T1400Z/"
    former = nws.alert("a", parameters=vtec(FREEZE.format(action="NEW"), cold))
    update = nws.alert("b", sent="2026-01-22T16:00:00-05:00", parameters=vtec(FREEZE.format(action="CON")))
    assert identifiers(former, update) == ["a", "b"]


@pytest.mark.parametrize("status", ["Test", "Exercise", "System", "Draft"])
def test_a_test_is_no_alert(status):
    assert parsed(nws.alert(status=status)) == ()


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"id": None}, "an alert's id"),
        ({"event": 7}, "an alert's event"),
        ({"sent": None}, "an alert's sent"),
        ({"ends": "soon"}, "an alert's ends"),
        ({"onset": 5}, "an alert's onset"),
        ({"headline": ["x"]}, "an alert's headline"),
        ({"headline": "\ud800"}, "no valid text"),
        ({"parameters": [1]}, "an alert's parameters"),
        ({"parameters": {"VTEC": "x"}}, "an alert's VTEC"),
        ({"parameters": {"VTEC": [5]}}, "an alert's VTEC"),
        ({"references": [{}]}, "a reference's identifier"),
        ({"references": "a"}, "an alert's references"),
    ],
)
def test_an_alert_that_cannot_be_read_is_named(changed, named):
    with pytest.raises(SourceMalformed, match=named):
        parsed(nws.alert(**changed))


@pytest.mark.parametrize(
    "body",
    [b"{}", b'{"features": null}', b'{"features": [4]}', b'{"features": [{}]}', b'{"type": "Feature", "features": []}'],
)
def test_what_is_no_list_of_alerts_is_refused(body):
    with pytest.raises(SourceMalformed):
        parse_alerts(body)
