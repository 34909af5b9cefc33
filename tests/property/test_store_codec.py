import json
from datetime import UTC, datetime, timedelta, timezone

from hypothesis import given
from hypothesis import strategies as st

from alertd.alerts import Alert, AlertState, Announcement, Outcome
from alertd.audit import canonical_json
from alertd.core import Certainty, MessageType, ResponseType, Severity, Urgency, parse_instant
from alertd.messages import Letter
from alertd.plan import Action
from alertd.risk import Rule
from alertd.site import Condition, Cover, Stage
from alertd.store import codec

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
ZONES = st.integers(-23 * 60, 23 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
INSTANTS = st.datetimes(min_value=datetime(2, 1, 1), max_value=datetime(9998, 12, 30), timezones=ZONES)  # noqa: DTZ001
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
ANNOUNCEMENTS = st.builds(
    Announcement,
    sent=INSTANTS,
    message_type=st.sampled_from(MessageType),
    response_type=st.sampled_from(ResponseType),
    severity=st.sampled_from(Severity),
    urgency=st.sampled_from(Urgency),
    certainty=st.sampled_from(Certainty),
    onset=st.none() | INSTANTS,
    end=st.none() | INSTANTS,
    start_by=st.none() | INSTANTS,
    minimum=st.none() | NUMBERS,
    minimum_low=st.none() | NUMBERS,
    minimum_high=st.none() | NUMBERS,
    probability=st.none() | st.floats(0, 1),
)
ALERTS = st.builds(
    Alert,
    alert_id=TEXT,
    group=TEXT,
    action=st.sampled_from(Action),
    rule=st.sampled_from(Rule),
    state=st.sampled_from(AlertState),
    opened=ANNOUNCEMENTS,
    announced=ANNOUNCEMENTS,
    end=st.none() | INSTANTS,
    revision=st.integers(1, 10**6),
    worst_severity=st.sampled_from(Severity),
    reminded=st.booleans(),
    called=st.booleans(),
    ended=st.none() | INSTANTS,
    outcome=st.none() | st.sampled_from(Outcome),
    history=st.lists(ANNOUNCEMENTS, max_size=3).map(tuple),
)
CONDITIONS = st.builds(
    Condition,
    cover=st.sampled_from(Cover),
    stage=st.sampled_from(Stage),
    cover_since=st.none() | INSTANTS,
    stage_since=st.none() | INSTANTS,
)
LETTERS = st.builds(
    Letter,
    reference=TEXT,
    recipient=TEXT,
    composed=INSTANTS,
    subject=TEXT,
    text=TEXT,
    html=TEXT,
    short=TEXT,
    threads=st.lists(TEXT, max_size=3).map(tuple),
    response_type=TEXT,
)


def through_text(document):
    return json.loads(canonical_json(document))


@given(ALERTS)
def test_an_alert_comes_back_as_it_was(alert):
    assert codec.alert_from(through_text(codec.alert_document(alert))) == alert


@given(CONDITIONS)
def test_a_condition_comes_back_as_it_was(condition):
    assert codec.condition_from(through_text(codec.condition_document(condition))) == condition


@given(LETTERS)
def test_a_letter_comes_back_as_it_was(letter):
    assert codec.letter_from(through_text(codec.letter_document(letter))) == letter


@given(INSTANTS, INSTANTS)
def test_sortable_texts_sort_as_their_instants(one, other):
    assert (codec.sortable_text(one) < codec.sortable_text(other)) == (one < other)
    assert parse_instant(codec.exact_text(one)) == one
    assert parse_instant(codec.sortable_text(one)) == one
    assert parse_instant(codec.exact_text(one)).tzinfo is UTC
