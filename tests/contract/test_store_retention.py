"""What a store promises when old things are removed from it."""

import contextlib
import json
import sqlite3
import threading
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from alertd.alerts import Alert, AlertState, Announcement, Outcome
from alertd.audit import AuditEvent
from alertd.core import Answer, AuditError, Certainty, MessageType, ResponseType, Severity, Urgency
from alertd.messages import Letter
from alertd.plan import Action
from alertd.risk import Rule
from alertd.store import Addressed, Commit, Retention, Store, migration, retention
from alertd.weather import Observation

NOW = datetime(2026, 1, 23, 12, tzinfo=UTC)
YEARS_AGO = NOW - timedelta(days=1000)
LEASE = timedelta(minutes=2)
FOR_EVER = Retention()
PRUNING = Retention(record=timedelta(days=400))


@pytest.fixture(params=["memory", "file"])
def store(request, tmp_path):
    with Store.open(None if request.param == "memory" else tmp_path / "alertd.sqlite") as opened:
        yield opened


def an_alert(name, sent, ended=None):
    told = Announcement(
        sent, MessageType.ALERT, ResponseType.PREPARE, Severity.SEVERE, Urgency.FUTURE, Certainty.LIKELY
    )
    alert = Alert(name, "pots", Action.MOVE_IN, Rule.WOOD, AlertState.PREPARE, told, told, None, 1, Severity.SEVERE)
    return alert if ended is None else replace(alert, state=AlertState.ENDED, ended=ended, outcome=Outcome.DONE)


def write_alert(store, name, when, ended=None):
    event = AuditEvent(when, "transition", {"alert_id": name, "revision": 1})
    store.commit(Commit(when, alerts=(an_alert(name, when, ended),), events=(event,)))


def post(store, reference, when, *, settles=True, head=None):
    letter = Letter(reference, "kim", when, "s", "t", "h", "s", (), "Prepare")
    event = AuditEvent(when, "letter", {"reference": reference, "recipient": "kim"})
    store.commit(Commit(when, letters=(Addressed(letter, ("mail",), head),), events=(event,)))
    if settles:
        (item,) = store.claim(when, LEASE)
        body = {"reference": reference, "recipient": "kim", "channel": "mail", "outcome": "accepted"}
        assert store.accept(item, when, AuditEvent(when, "send", body))


def look(store, when, count=1):
    for _ in range(count):
        store.commit(Commit(when, events=(AuditEvent(when, "evaluation", {}),)))


def bodies(store, kind):
    return [json.loads(row.body) for row in store.audit_rows() if row.kind == kind]


def sequences(store):
    return [row.sequence for row in store.audit_rows()]


def test_alerts_and_letters_go_when_they_are_older_than_they_are_kept_and_the_record_tells_so(store):
    write_alert(store, "old", YEARS_AGO, ended=YEARS_AGO)
    write_alert(store, "ended-lately", YEARS_AGO, ended=NOW - timedelta(days=799))
    write_alert(store, "long-open", YEARS_AGO)
    post(store, "old", YEARS_AGO)
    post(store, "young", NOW - timedelta(days=799))
    post(store, "never-sent", YEARS_AGO, settles=False)
    assert store.remove_old(FOR_EVER, NOW) == {"alerts": 1, "letters": 1}
    assert {alert.alert_id for alert in store.all_alerts()} == {"ended-lately", "long-open"}
    assert {item.reference for item in store.outbox_items()} == {"young", "never-sent"}
    assert [(body["removed"], body["count"]) for body in bodies(store, "upkeep")] == [("alerts", 1), ("letters", 1)]
    assert store.verify_audit() == []
    assert store.remove_old(FOR_EVER, NOW) == {}


def test_a_removed_alert_is_not_remembered_by_who_read_it_before(store):
    long_ago = YEARS_AGO - timedelta(days=1)
    write_alert(store, "old", YEARS_AGO, ended=YEARS_AGO)
    assert len(store.load_state(long_ago).alerts) == 1
    store.remove_old(FOR_EVER, NOW)
    assert store.load_state(long_ago).alerts == ()


def test_observations_and_answers_go_silently(store):
    answer = Answer("https://api.example.org", 200, b"{}", YEARS_AGO, None, None, None, "application/json")
    store.keep_answer("a source that is gone", answer)
    store.keep_answer("hold:key:that too", answer)
    store.keep_answer("used", replace(answer, retrieved=NOW - timedelta(days=59)))
    store.keep_observations([Observation("shed", NOW - timedelta(days=n), 1.0, NOW) for n in (1, 20)], NOW)
    short = replace(FOR_EVER, observations=timedelta(days=7))
    assert store.remove_old(short, NOW) == {"answers": 2, "observations": 1}
    assert store.answer("a source that is gone") is None
    assert store.answer("used") is not None
    assert len(store.recent_observations(NOW, 10_000)) == 1
    assert store.head().sequence == 0


def test_the_record_is_kept_for_ever_unless_it_is_said_otherwise(store):
    look(store, YEARS_AGO - timedelta(days=20_000), 5)
    assert store.remove_old(FOR_EVER, NOW) == {}
    assert sequences(store) == [1, 2, 3, 4, 5]


def test_old_rows_of_the_record_go_and_it_still_verifies(store, monkeypatch):
    monkeypatch.setattr(retention, "BATCH", 7)
    look(store, YEARS_AGO, 20)
    last = store.head()
    look(store, NOW, 3)
    assert store.remove_old(PRUNING, NOW) == {"rows": 20}
    assert sequences(store) == list(range(21, 27))
    assert [body["last_removed"] for body in bodies(store, "checkpoint")] == [7, 14, 20]
    assert store.verify_audit() == []
    assert store.verify_audit([last, store.head()]) == []
    assert store.remove_old(PRUNING, NOW) == {}


def test_years_of_upkeep_leave_a_record_that_verifies(store):
    for day in range(0, 3000, 30):
        when = YEARS_AGO + timedelta(days=day)
        look(store, when, 2)
        post(store, f"r-{day}", when, head=str(store.head()))
        write_alert(store, f"a-{day}", when, ended=when)
        store.remove_old(replace(PRUNING, letters=timedelta(days=400), alerts=timedelta(days=400)), when)
        assert store.verify_audit() == []
    assert 0 < len(store.outbox_items()) < 20
    assert sequences(store)[0] > 300


def test_rows_that_an_alert_or_a_letter_rests_on_are_kept_and_all_after_them(store):
    look(store, YEARS_AGO, 2)
    write_alert(store, "long-open", YEARS_AGO)
    look(store, YEARS_AGO, 2)
    assert store.remove_old(PRUNING, NOW) == {"rows": 2}
    assert store.remove_old(PRUNING, NOW) == {}
    assert store.verify_audit() == []
    write_alert(store, "long-open", NOW, ended=NOW)


def test_the_row_that_tells_of_an_acceptance_is_kept_with_its_letter(store):
    post(store, "r", YEARS_AGO)
    keeps = replace(PRUNING, letters=timedelta(days=2000))
    assert store.remove_old(keeps, NOW) == {}
    assert store.remove_old(PRUNING, NOW) == {"letters": 1, "rows": 2}
    assert store.verify_audit() == []


def test_the_last_row_stays_however_old_it_is(store):
    look(store, YEARS_AGO, 3)
    assert store.remove_old(PRUNING, NOW) == {"rows": 2}
    assert sequences(store) == [3, 4]
    assert store.verify_audit() == []


def test_a_young_row_between_old_ones_ends_the_removal(store):
    """The clock had been set: order in the chain counts, not the time that a row tells."""
    look(store, YEARS_AGO, 2)
    look(store, NOW)
    look(store, YEARS_AGO, 2)
    assert store.remove_old(PRUNING, NOW) == {"rows": 2}
    assert store.verify_audit() == []


def test_a_head_of_a_removed_row_is_told_as_one_that_cannot_be_checked(store):
    look(store, YEARS_AGO)
    old = store.head()
    look(store, YEARS_AGO)
    look(store, NOW)
    store.remove_old(PRUNING, NOW)
    (fault,) = store.verify_audit([old])
    assert "cannot be checked any more" in fault.text


@pytest.mark.parametrize(
    "tamper",
    [
        "UPDATE audit SET body = '{\"a\":1}' WHERE sequence = 3",
        "UPDATE audit SET hash = substr(hash, 2) || 'a' WHERE sequence = 3",
        "DELETE FROM audit WHERE sequence = 3",
        "DELETE FROM audit WHERE sequence < 3",
    ],
)
def test_rows_that_do_not_fit_are_evidence_and_stay(store, tamper):
    look(store, YEARS_AGO, 6)
    look(store, NOW)
    store._connection.execute(tamper)
    before = sequences(store)
    with pytest.raises(AuditError, match=r"row \d of the audit log does not fit; old rows are kept"):
        store.remove_old(PRUNING, NOW)
    assert sequences(store) == before
    assert store.verify_audit() != []


def test_after_a_checkpoint_a_first_row_that_does_not_fit_stays(store):
    look(store, YEARS_AGO, 4)
    write_alert(store, "open", YEARS_AGO)
    look(store, YEARS_AGO, 4)
    assert store.remove_old(PRUNING, NOW) == {"rows": 4}
    write_alert(store, "open", NOW)
    store._connection.execute("DELETE FROM alerts")
    store._connection.execute("DELETE FROM audit WHERE sequence = 5")
    with pytest.raises(AuditError, match="row 6 of the audit log does not fit"):
        store.remove_old(PRUNING, NOW)


def deleted_front(connection, last):
    connection.execute("DELETE FROM audit WHERE sequence <= ?", (last,))


@pytest.mark.parametrize("last", [1, 2, 5, 8])
def test_a_beginning_that_somebody_else_cut_off_is_found(store, last):
    look(store, YEARS_AGO, 4)
    look(store, NOW, 4)
    store.remove_old(PRUNING, NOW)
    assert sequences(store)[0] == 5
    deleted_front(store._connection, last)
    assert (store.verify_audit() != []) == (last >= 5)


def test_a_failure_half_way_removes_nothing_without_its_checkpoint(store, monkeypatch):
    look(store, YEARS_AGO, 4)
    look(store, NOW)

    def fails(*_arguments):
        message = "stop here"
        raise RuntimeError(message)

    with monkeypatch.context() as patch:
        patch.setattr(store, "_append", fails)
        with pytest.raises(RuntimeError):
            store.remove_old(PRUNING, NOW)
    assert sequences(store) == [1, 2, 3, 4, 5]
    assert store.verify_audit() == []


# The file


def fill(store, when, count=60):
    for number in range(count):
        letter = Letter(f"r-{number}", "kim", when, "s", "x" * 20_000, "h", "s", (), "Prepare")
        event = AuditEvent(when, "letter", {"reference": f"r-{number}", "recipient": "kim"})
        store.commit(Commit(when, letters=(Addressed(letter, ("mail",)),), events=(event,)))
    store._connection.execute("UPDATE outbox SET state = 'dead', settled = created")


def test_the_file_shrinks_when_much_was_removed_in_few_steps(tmp_path, monkeypatch):
    naps = []
    monkeypatch.setattr(retention.time, "sleep", naps.append)
    path = tmp_path / "alertd.sqlite"
    with Store.open(path, durable=False) as store:
        fill(store, YEARS_AGO)
        store._pragma("wal_checkpoint(TRUNCATE)")
        before = path.stat().st_size
        assert before > 1_000_000
        assert store.remove_old(FOR_EVER, NOW)["letters"] == 60
        assert store.compact() > 1_000_000
        assert 1 <= len(naps) < 10
        assert path.stat().st_size < before / 5
        assert store.compact() == 0
        assert store.verify_audit() == []
        assert store._connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def test_a_file_that_could_not_shrink_is_written_anew_once_if_it_is_small(tmp_path, monkeypatch):
    path = tmp_path / "alertd.sqlite"
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        migration.migrate(connection, "x")
    with Store.open(path, durable=False) as store:
        fill(store, YEARS_AGO)
        store.remove_old(FOR_EVER, NOW)
        with monkeypatch.context() as patch:
            patch.setattr(retention, "LARGEST_REWRITTEN", 100)
            assert store.compact() == 0
        assert store._pragma("auto_vacuum") == 0
        assert store.compact() > 1_000_000
        assert store._pragma("auto_vacuum") == 2
        assert path.stat().st_size < 300_000
        assert store.verify_audit() == []


def test_a_file_is_not_written_anew_where_the_disk_has_no_room_for_it(tmp_path, monkeypatch):
    path = tmp_path / "alertd.sqlite"
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        migration.migrate(connection, "x")
    with Store.open(path, durable=False) as store:
        monkeypatch.setattr(store, "free_space", lambda: 1000)
        assert store.compact() == 0
        assert store._pragma("auto_vacuum") == 0


def test_a_database_in_memory_has_nothing_to_give_back():
    with Store.open(None) as store:
        assert store.compact() == 0
        assert store.free_space() is None
        assert store.ballast is None


def test_evaluations_go_on_while_much_is_removed(tmp_path, monkeypatch):
    monkeypatch.setattr(retention, "BATCH", 20)
    path = tmp_path / "alertd.sqlite"
    with Store.open(path, durable=False) as store:
        fill(store, YEARS_AGO)
        look(store, YEARS_AGO, 200)
        look(store, NOW)
        over, has_begun = threading.Event(), threading.Event()
        written = []

        def evaluate():
            while not over.is_set():
                written.append(store.commit(Commit(NOW, events=(AuditEvent(NOW, "evaluation", {}),))))
                has_begun.set()

        thread = threading.Thread(target=evaluate)
        thread.start()
        try:
            assert has_begun.wait(30)
            before = len(written)
            store.remove_old(PRUNING, NOW)
            store.compact()
            after = len(written)
        finally:
            over.set()
            thread.join(30)
        assert after > before
        assert store.verify_audit([written[-1]]) == []
        assert sequences(store)[0] > 200
