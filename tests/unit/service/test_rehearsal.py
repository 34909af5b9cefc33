"""Test messages by the calendar."""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

sys.path.insert(0, str(Path(__file__).parents[3]))

from alertd.audit import Head
from alertd.config import load
from alertd.core import StoreError
from alertd.service.rehearsal import Rehearsal
from alertd.store import Store
from alertd.watch import CycleNote, SourceSeen, keep_cycle, readership
from tests.fakes.garden_folder import GardenFolder

_SECOND_READER = """
[[channels]]
name = "paper"
url = "file:letters"

[[recipients]]
name = "helper <b>"
channels = ["paper", "way"]
"""


def loaded_with(folder, rhythm="monthly", zone="America/New_York", earliest="07:00"):
    """Return a configuration with two readers and three ways in all."""
    folder.mkdir(exist_ok=True)
    garden = GardenFolder(folder, f"file:{folder / 'letters'}")
    text = garden.configuration.read_text().replace("America/New_York", zone)
    text += f'{_SECOND_READER}\n[status]\ntest_message = "{rhythm}"\n\n[work]\nearliest = "{earliest}"\n'
    garden.configuration.write_text(text.replace('every = "1s"', 'every = "1h"'))
    return load(garden.configuration, {})


def rehearsal_of(loaded, store, clock):
    return Rehearsal(loaded, store, readership(loaded), clock)


@pytest.fixture
def loaded(tmp_path):
    return loaded_with(tmp_path / "garden")


def days(store, zone="America/New_York") -> list[str]:
    """Return the local day of each rehearsal, and check that each wrote every letter."""
    found: dict[str, int] = {}
    for row in store.audit_rows():
        if row.kind == "letter":
            day = datetime.fromisoformat(row.happened).astimezone(ZoneInfo(zone)).date().isoformat()
            found[day] = found.get(day, 0) + 1
    assert set(found.values()) <= {3}
    return list(found)


def test_each_first_day_of_a_month_has_its_letters_once_however_often_it_is_asked_and_restarted(loaded, store, clock):
    clock.now = datetime(2026, 10, 15, tzinfo=UTC)
    while clock.now < datetime(2027, 4, 20, tzinfo=UTC):
        rehearsal_of(loaded, store, clock).look()
        clock.advance(hours=1)
    assert days(store) == ["2026-11-01", "2026-12-01", "2027-01-01", "2027-02-01", "2027-03-01", "2027-04-01"]
    hours = {row.happened[11:16] for row in store.audit_rows() if row.kind == "letter"}
    assert hours == {"11:00", "12:00"}  # 07:00 in winter and, on 1 April, in summer; on 1 November clocks go back at 2


@pytest.mark.parametrize(
    ("zone", "earliest", "first", "last"),
    [
        ("Europe/Berlin", "02:30", datetime(2027, 3, 20, tzinfo=UTC), datetime(2027, 4, 2, tzinfo=UTC)),
        ("America/New_York", "01:30", datetime(2026, 10, 25, tzinfo=UTC), datetime(2026, 11, 5, tzinfo=UTC)),
        ("Australia/Lord_Howe", "01:45", datetime(2027, 3, 30, tzinfo=UTC), datetime(2027, 4, 10, tzinfo=UTC)),
        ("America/Santiago", "00:00", datetime(2026, 9, 1, tzinfo=UTC), datetime(2026, 9, 12, tzinfo=UTC)),
    ],
)
def test_where_clocks_are_changed_each_monday_has_its_letters_once(tmp_path, store, clock, zone, earliest, first, last):
    loaded = loaded_with(tmp_path / "garden", "weekly", zone, earliest)
    rehearsal = rehearsal_of(loaded, store, clock)
    clock.now = first
    while clock.now < last:
        rehearsal.look()
        clock.advance(minutes=10)
    found = days(store, zone)
    assert found == sorted(set(found))
    local = [first.astimezone(ZoneInfo(zone)).date() + timedelta(days=day) for day in range(1, (last - first).days)]
    assert found == [day.isoformat() for day in local if day.weekday() == 0]


def test_nothing_is_made_up_for_when_it_is_switched_on(loaded, store, clock):
    clock.now = datetime(2026, 11, 20, 12, tzinfo=UTC)
    rehearsal_of(loaded, store, clock).look()
    rehearsal_of(loaded, store, clock).look()
    assert store.outbox_items() == []


def test_months_that_passed_while_nothing_ran_are_made_up_for_once(loaded, store, clock):
    clock.now = datetime(2026, 10, 20, tzinfo=UTC)
    rehearsal_of(loaded, store, clock).look()
    clock.now = datetime(2027, 2, 9, 15, tzinfo=UTC)
    for _ in range(3):
        rehearsal_of(loaded, store, clock).look()
        clock.advance(hours=5)
    assert days(store) == ["2027-02-09"]


def test_a_clock_that_is_set_back_repeats_nothing(loaded, store, clock):
    clock.now = datetime(2026, 11, 20, tzinfo=UTC)
    rehearsal_of(loaded, store, clock).look()
    clock.now = datetime(2026, 12, 1, 12, 30, tzinfo=UTC)
    rehearsal_of(loaded, store, clock).look()
    for hours in (1, 24):
        clock.now = datetime(2026, 12, 1, 12, 30, tzinfo=UTC) - timedelta(hours=hours)
        for _ in range(60):
            rehearsal_of(loaded, store, clock).look()
            clock.advance(hours=1)
    assert days(store) == ["2026-12-01"]


def test_a_note_from_a_wrong_clock_does_not_silence_the_years_until_then(loaded, store, clock):
    clock.now = datetime(2099, 12, 1, 18, tzinfo=UTC)
    rehearsal_of(loaded, store, clock).look()
    clock.now = datetime(2026, 12, 1, 18, tzinfo=UTC)
    for _ in range(5):
        rehearsal_of(loaded, store, clock).look()
        clock.advance(days=1)
    assert days(store) == ["2026-12-01"]


@pytest.mark.parametrize("note", ["", "x", "[]", '{"day": 5}'])
def test_a_spoilt_note_costs_no_second_letter(loaded, store, clock, note):
    store.set_note("rehearsal", note)
    rehearsal_of(loaded, store, clock).look()
    rehearsal_of(loaded, store, clock).look()
    assert store.outbox_items() == []


def written(loaded, store, clock):
    """Write the letters of one day, and return them by recipient and channel."""
    clock.now = datetime(2026, 11, 20, tzinfo=UTC)
    rehearsal_of(loaded, store, clock).look()
    clock.now = datetime(2026, 12, 1, 12, tzinfo=UTC)
    rehearsal_of(loaded, store, clock).look()
    return {(item.recipient, item.channel): item for item in store.outbox_items()}


def test_each_channel_of_each_person_gets_a_letter_of_its_own_that_falls_back_on_no_other(loaded, store, clock):
    items = written(loaded, store, clock)
    assert set(items) == {("keeper", "way"), ("helper <b>", "paper"), ("helper <b>", "way")}
    assert {item.fallback_channels for item in items.values()} == {()}
    assert len({item.reference for item in items.values()}) == 3
    assert store.verify_audit() == []


def test_the_letter_says_that_it_is_a_test_what_is_watched_and_what_to_do_without_it(loaded, store, clock):
    began = datetime(2026, 12, 1, 11, 50, tzinfo=UTC)
    seen = (SourceSeen("weather file", began - timedelta(hours=1), began),)
    hour = timedelta(hours=1)
    keep_cycle(store, CycleNote("1", began, timedelta(0), hour, began + hour, seen, last_good=began))
    letter = written(loaded, store, clock)["keeper", "way"].letter
    assert letter.subject == "Test message from Hollow Lane, nothing to do"
    lines = letter.text.split("\n\n")
    assert lines[:5] == [
        "Hollow Lane, Tue 1 Dec 07:00",
        "This is the monthly Test message of alertd by the channel way. Nothing is to be done.",
        "Watched: the fig pots (outside).",
        "Forecasts: weather file, made 05:50 today. Last look 06:50 today.",
        "Nothing is wrong.",
    ]
    assert lines[5].startswith("The next one comes on Fri 1 Jan. If it does not come on that day, then alertd, ")
    assert Head.parse(lines[7].removeprefix("Record ")) == Head.parse("0:000000000000")
    assert lines[8] == f"Reference {letter.reference}\n"
    assert "alertd audit verify --head 0:000000000000" in letter.text


def test_the_letter_says_what_is_wrong(loaded, store, clock):
    letter = written(loaded, store, clock)["helper <b>", "way"].letter
    assert "Wrong: no look at a forecast is recorded yet; start alertd run." in letter.text
    assert "<b>" not in letter.html


def test_letters_and_the_note_of_their_day_are_written_together_or_not_at_all(loaded, tmp_path, clock, monkeypatch):
    with Store.open(tmp_path / "a.sqlite") as store:
        clock.now = datetime(2026, 11, 20, tzinfo=UTC)
        rehearsal_of(loaded, store, clock).look()
        before = store.get_note("rehearsal")
        clock.now = datetime(2026, 12, 1, 12, tzinfo=UTC)

        def fail(_events):
            message = "the disk is full"
            raise StoreError(message)

        with monkeypatch.context() as patch:
            patch.setattr(store, "_append", fail)
            with pytest.raises(StoreError, match="the disk is full"):
                rehearsal_of(loaded, store, clock).look()
        assert (store.get_note("rehearsal"), store.outbox_items()) == (before, [])
        rehearsal_of(loaded, store, clock).look()
        assert json.loads(store.get_note("rehearsal")) == {"day": "2026-12-01"}
        assert len(store.outbox_items()) == 3
