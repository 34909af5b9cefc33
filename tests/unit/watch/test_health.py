"""How the daemon fares, told from its database alone."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[3]))

from alertd.alerts import Refusal
from alertd.audit import AuditEvent
from alertd.store import Addressed, Commit, Store
from alertd.watch import CycleNote, SourceSeen, age_text, health, keep_cycle, note_trouble, read_cycle, wrongs
from tests.fakes.letters import make_letter

NOW = datetime(2026, 1, 22, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)
GOOD = CycleNote(
    version="1.0",
    began=NOW,
    duration=timedelta(seconds=0.4),
    every=HOUR,
    next_look=NOW + HOUR,
    used=(SourceSeen("hill", NOW - HOUR, NOW, "by nobody"),),
    last_good=NOW,
)


@pytest.fixture
def store():
    with Store.open(None) as store:
        yield store


def put_letter(store, at=NOW):
    event = AuditEvent(at, "letter", {"reference": "N7-1", "recipient": "Ann"})
    store.commit(Commit(at, letters=(Addressed(make_letter(), ("mail",)),), events=(event,)))


def try_letter(store, at):
    """Claim the one letter, and return it with the record of a try that failed."""
    (item,) = store.claim(at, HOUR)
    body = {"reference": item.reference, "recipient": item.recipient, "channel": "mail", "outcome": "unavailable"}
    return item, AuditEvent(at, "send", body)


def test_a_note_comes_back_as_it_was_written(store):
    note = replace(
        GOOD, refused=(Refusal("plain", "is stale", is_used=True),), failures=2, problem="StoreError: full", stopped=NOW
    )
    keep_cycle(store, note)
    assert read_cycle(store) == note


@pytest.mark.parametrize("text", ["", "x", "[]", '{"version": "1"}'])
def test_a_spoilt_note_counts_as_none(store, text):
    store.set_note("cycle", text)
    assert read_cycle(store) is None


def test_a_recent_good_look_is_healthy_until_one_is_clearly_missing(store):
    keep_cycle(store, GOOD)
    assert wrongs(store, HOUR, NOW) == []
    assert health(store, HOUR, NOW + timedelta(minutes=5)).line == "healthy: last good look 5 min ago"
    assert health(store, HOUR, NOW + 2 * HOUR).is_healthy
    late = health(store, HOUR, NOW + 2 * HOUR + timedelta(seconds=1))
    assert not late.is_healthy
    assert late.line == (
        "not healthy: the last look was 2 h ago, and one is due every 1 h: alertd does not run, or hangs; see its log"
    )


def test_where_looks_come_every_second_some_minutes_are_given_all_the_same(store):
    second = timedelta(seconds=1)
    keep_cycle(store, GOOD)
    assert health(store, second, NOW + timedelta(minutes=10)).is_healthy
    assert not health(store, second, NOW + timedelta(minutes=11)).is_healthy


def test_before_the_first_look_it_says_what_to_start(store):
    assert health(store, HOUR, NOW).line == "not healthy: no look at a forecast is recorded yet; start alertd run"


def test_a_stop_is_told_at_once(store):
    keep_cycle(store, replace(GOOD, stopped=NOW))
    found = health(store, HOUR, NOW + timedelta(minutes=3))
    assert found.line == "not healthy: alertd was stopped 3 min ago and watches nothing; start alertd run"


def test_a_look_in_the_future_is_a_matter_of_the_clock(store):
    keep_cycle(store, replace(GOOD, began=NOW + 5 * HOUR, last_good=NOW + 5 * HOUR))
    assert wrongs(store, HOUR, NOW) == ["the last look lies 5 h ahead of this machine's clock; set the clock"]
    assert not health(store, HOUR, NOW).is_healthy


def test_a_blind_watch_is_not_healthy_once_its_last_good_look_is_old(store):
    blind = replace(GOOD, is_blind=True, used=(), refused=(Refusal("hill", "it is 14 h old"),), last_good=NOW - HOUR)
    keep_cycle(store, blind)
    assert health(store, HOUR, NOW).is_healthy
    assert wrongs(store, HOUR, NOW) == [
        "the watch is blind: no source has a usable forecast; read a forecast yourself",
        "source hill is not used: it is 14 h old",
    ]
    keep_cycle(store, replace(blind, last_good=NOW - 3 * HOUR))
    assert health(store, HOUR, NOW).line == (
        "not healthy: the last good look was 3 h ago: the watch is blind: no source has a usable forecast; "
        "read a forecast yourself"
    )
    keep_cycle(store, replace(blind, last_good=None))
    assert health(store, HOUR, NOW).line.startswith("not healthy: there was no good look yet: the watch is blind")


def test_looks_that_fail_are_told_with_their_reason(store):
    keep_cycle(store, replace(GOOD, failures=1, problem="StoreError: the disk is full"))
    assert wrongs(store, HOUR, NOW) == ["the last look ended with an error: StoreError: the disk is full"]
    keep_cycle(store, replace(GOOD, failures=3, problem="StoreError: the disk is full"))
    assert wrongs(store, HOUR, NOW) == ["the last 3 looks ended with an error: StoreError: the disk is full"]


def test_a_letter_that_waits_long_is_told_and_is_not_healthy(store):
    put_letter(store)
    item, event = try_letter(store, NOW)
    store.postpone(item, NOW, NOW + HOUR, "connection refused", event)
    later = NOW + timedelta(minutes=45)
    keep_cycle(store, replace(GOOD, began=later, last_good=later))
    assert wrongs(store, HOUR, later) == []
    later += timedelta(seconds=1)
    assert wrongs(store, HOUR, later) == [
        "1 letter waiting, the oldest for 45 min (to Ann by mail: connection refused)"
    ]
    assert health(store, HOUR, later).line.startswith("not healthy: 1 letter waiting")


def test_letters_never_tried_say_so(store):
    put_letter(store)
    assert "it was not tried yet" in wrongs(store, HOUR, NOW + HOUR)[-1]


def test_a_letter_that_was_given_up_is_told_for_a_week_and_does_not_make_the_watch_ill(store):
    put_letter(store)
    item, event = try_letter(store, NOW)
    store.bury(item, NOW, "SMTP 550", event)
    keep_cycle(store, GOOD)
    assert wrongs(store, HOUR, NOW) == [
        (
            "1 letter given up in the last 7 days, the last one 0 s ago (to Ann by mail: SMTP 550); "
            "mend the channel, then alertd check --send"
        )
    ]
    assert health(store, HOUR, NOW).is_healthy
    after = NOW + timedelta(days=7, seconds=1)
    keep_cycle(store, replace(GOOD, began=after, last_good=after))
    assert wrongs(store, HOUR, after) == []


def test_a_trouble_is_told_from_its_beginning_until_its_end(store):
    keep_cycle(store, GOOD)
    note_trouble(store, "backup", "the disk is full", NOW - 3 * HOUR)
    note_trouble(store, "backup", "the disk is full", NOW - HOUR)
    assert wrongs(store, HOUR, NOW) == ["backup (since 3 h): the disk is full"]
    note_trouble(store, "backup", "the folder is gone", NOW)
    assert wrongs(store, HOUR, NOW) == ["backup (since 3 h): the folder is gone"]
    note_trouble(store, "backup", "", NOW)
    note_trouble(store, "backup", "", NOW)
    assert wrongs(store, HOUR, NOW) == []


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 s"),
        (60, "1 min"),
        (119, "119 s"),
        (120, "2 min"),
        (7199, "119 min"),
        (7200, "2 h"),
        (172799, "47 h"),
        (172800, "2 d"),
    ],
)
def test_ages_are_said_in_the_largest_unit_that_makes_two(seconds, text):
    assert age_text(timedelta(seconds=seconds)) == text
