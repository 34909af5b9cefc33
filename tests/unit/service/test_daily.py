from __future__ import annotations

import json
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[3]))

from alertd.audit import AuditEvent
from alertd.core import StoreError
from alertd.service.daily import Daily
from alertd.service.jobs import Tally
from alertd.store import Addressed, Commit, Store
from tests.fakes.letters import make_letter


@pytest.fixture
def daily(store, site, clock):
    return Daily(store, site, Tally(), clock)


def lines(store) -> list[dict]:
    return [json.loads(row.body) for row in store.audit_rows() if row.kind == "daily"]


def test_each_local_day_has_one_line_however_often_it_is_asked(daily, store, clock):
    for _ in range(6 * 24 * 3):
        daily.look()
        clock.advance(minutes=10)
    assert len(lines(store)) == 4  # 22 January 10:00 local time to the 25th


@pytest.mark.parametrize(("month", "day"), [(3, 28), (10, 25)])
def test_days_of_23_and_25_hours_have_one_line_each(daily, store, site, clock, month, day):
    year = 2027 if month == 3 else 2026
    clock.now = datetime(year, month, day, 12, tzinfo=UTC) - timedelta(days=2)
    for _ in range(4 * 24 * 4):
        daily.look()
        clock.advance(minutes=15)
    days = [
        site.local(datetime.fromisoformat(row.happened)).date() for row in store.audit_rows() if row.kind == "daily"
    ]
    assert len(days) == len(set(days)) == 5


def test_a_restart_does_not_repeat_the_line_and_counts_go_on_from_the_last_one(daily, store, site, clock):
    for kind in ("evaluation", "evaluation", "letter"):
        store.commit(Commit(clock.now, events=(AuditEvent(clock.now, kind, {}),)))
    daily.look()
    store.commit(Commit(clock.now, events=(AuditEvent(clock.now, "evaluation", {}),)))
    restarted = Daily(store, site, Tally(), clock)
    restarted.look()
    clock.advance(days=1)
    restarted.look()
    first, second = lines(store)
    assert (first["evaluations"], first["letters"]) == (2, 1)
    assert (second["evaluations"], second["letters"]) == (1, 0)


def test_the_line_tells_the_head_before_it_and_the_depth_of_the_outbox(daily, store, clock, caplog):
    event = AuditEvent(clock.now, "letter", {"reference": "N7-1", "recipient": "Ann"})
    store.commit(Commit(clock.now, letters=(Addressed(make_letter(), ("mail",)),), events=(event,)))
    before = store.head()
    daily.look()
    (line,) = lines(store)
    assert line["record"] == str(before)
    assert (line["outbox_waiting"], line["outbox_given_up"], line["open_alerts"]) == (1, 0, 0)
    assert store.verify_audit([before]) == []
    (told,) = caplog.messages
    assert told == (
        f"daily: record {before}, open alerts 0, evaluations 0, letters 1, outbox 1 waiting and 0 given up, "
        "rounds failed 0, left out 0, disk None MiB free"
    )


@pytest.mark.parametrize("note", ["", "x", "[]", '{"day": "2026-01-22"}', '{"day": 5, "sequence": 1}'])
def test_a_spoilt_note_costs_a_second_line_at_most(daily, store, note):
    store.set_note("daily", note)
    daily.look()
    daily.look()
    assert len(lines(store)) == 1


def test_a_line_that_could_not_be_written_is_written_later_once(store, site, clock, monkeypatch):
    """Line and note go together: nothing is noted that was not written, and nothing written that is not noted."""
    daily = Daily(store, site, Tally(), clock)
    with monkeypatch.context() as patch:
        patch.setattr(store, "_append", _raise)
        with pytest.raises(StoreError):
            daily.look()
    assert store.get_note("daily") is None
    with monkeypatch.context() as patch:
        patch.setattr(store, "_set_note", _raise)
        with pytest.raises(StoreError):
            daily.look()
    assert lines(store) == []
    daily.look()
    daily.look()
    assert len(lines(store)) == 1


def _raise(*_arguments):
    message = "database x: the disk is full"
    raise StoreError(message)


def test_rows_that_are_written_beside_the_line_are_counted_by_the_next_one(daily, store, clock, monkeypatch):
    commit, event = store.commit, AuditEvent(clock.now, "evaluation", {})

    def others_first(change):
        monkeypatch.undo()
        commit(Commit(clock.now, events=(event,)))
        return commit(change)

    monkeypatch.setattr(store, "commit", others_first)
    daily.look()
    clock.advance(days=1)
    daily.look()
    assert [line["evaluations"] for line in lines(store)] == [0, 1]


def test_the_line_tells_how_much_room_the_disk_has(tmp_path, site, clock, caplog):
    with Store.open(tmp_path / "x.sqlite") as store:
        Daily(store, site, Tally(), clock).look()
        (line,) = lines(store)
    assert line["disk_free_mib"] > 0
    assert f"disk {line['disk_free_mib']} MiB free" in caplog.text
