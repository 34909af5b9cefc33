from __future__ import annotations

import json
from dataclasses import replace
from datetime import timedelta

import pytest

from alertd.audit import AuditEvent
from alertd.service.upkeep import TRUSTED_DAYS, Upkeep
from alertd.store import Commit, Retention

PRUNING = Retention(record=timedelta(days=400))


@pytest.fixture
def upkeep(store, readers, site, clock):
    return Upkeep(store, readers, site, PRUNING, clock)


def look_for(upkeep, clock, days: int) -> None:
    for _ in range(days):
        upkeep.look()
        clock.advance(days=1)


def an_old_row(store, clock) -> None:
    store.commit(Commit(clock.now, events=(AuditEvent(clock.now - timedelta(days=500), "evaluation", {}),)))


def kinds(store) -> list[str]:
    return [row.kind for row in store.audit_rows()]


def test_old_things_go_once_the_days_have_proved_the_clock(upkeep, store, clock, caplog):
    an_old_row(store, clock)
    an_old_row(store, clock)
    look_for(upkeep, clock, TRUSTED_DAYS)
    assert kinds(store) == ["evaluation", "evaluation"]
    look_for(upkeep, clock, 1)
    assert kinds(store) == ["evaluation", "checkpoint"]
    assert caplog.messages == ["upkeep: removed what is older than it is kept: 1 rows"]
    assert store.verify_audit() == []


def test_a_clock_that_jumps_far_ahead_for_two_days_removes_nothing(upkeep, store, clock):
    look_for(upkeep, clock, TRUSTED_DAYS + 3)
    an_old_row(store, clock)
    an_old_row(store, clock)
    store.commit(Commit(clock.now, events=(AuditEvent(clock.now, "letter", {}),)))
    upkeep.look()
    before = kinds(store)
    clock.advance(days=3650)
    look_for(upkeep, clock, 2)
    clock.advance(days=-3652)
    look_for(upkeep, clock, 1)
    assert kinds(store) == before


def test_each_day_has_one_upkeep_however_often_it_is_asked_and_over_a_restart(upkeep, store, readers, site, clock):
    look_for(upkeep, clock, TRUSTED_DAYS + 1)
    an_old_row(store, clock)
    an_old_row(store, clock)
    clock.advance(days=-1)
    upkeep.look()
    Upkeep(store, readers, site, PRUNING, clock).look()
    assert kinds(store) == ["evaluation", "evaluation"]
    clock.advance(days=1)
    Upkeep(store, readers, site, PRUNING, clock).look()
    assert kinds(store) == ["evaluation", "checkpoint"]


def test_a_record_that_does_not_verify_is_kept_and_recorded_as_a_problem_once_a_day(upkeep, store, clock, caplog):
    an_old_row(store, clock)
    an_old_row(store, clock)
    store._connection.execute("UPDATE audit SET kind = 'send' WHERE sequence = 1")
    look_for(upkeep, clock, TRUSTED_DAYS)
    for _ in range(3):
        upkeep.look()
    assert kinds(store) == ["send", "evaluation", "problem"]
    assert "does not fit; old rows are kept" in caplog.text


def test_without_a_policy_for_the_record_it_is_kept(store, readers, site, clock):
    upkeep = Upkeep(store, readers, site, replace(PRUNING, record=None), clock)
    an_old_row(store, clock)
    an_old_row(store, clock)
    look_for(upkeep, clock, TRUSTED_DAYS + 5)
    assert kinds(store) == ["evaluation", "evaluation"]


@pytest.mark.parametrize("note", ["", "x", "[]", '{"day": "2026-01-22"}', '{"day": 5, "before": 1}'])
def test_after_a_spoilt_note_the_days_are_counted_anew(upkeep, store, clock, note):
    store.set_note("upkeep", note)
    an_old_row(store, clock)
    an_old_row(store, clock)
    look_for(upkeep, clock, TRUSTED_DAYS)
    assert kinds(store) == ["evaluation", "evaluation"]
    assert json.loads(store.get_note("upkeep"))["before"] == TRUSTED_DAYS - 1
    look_for(upkeep, clock, 1)
    assert kinds(store) == ["evaluation", "checkpoint"]


def test_what_the_database_gives_back_is_logged(upkeep, store, monkeypatch, caplog):
    monkeypatch.setattr(store, "compact", lambda: 3 * 1024 * 1024 // 2)
    upkeep.look()
    assert caplog.messages == ["upkeep: the database gave 1.5 MiB back to the disk"]
