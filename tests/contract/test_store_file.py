"""What a store in a file promises besides: other processes, other threads, sudden ends, full disks."""

import contextlib
import os
import random
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest

from alertd.alerts import Alert, AlertState, Announcement
from alertd.audit import AuditEvent
from alertd.core import Certainty, MessageType, ResponseType, Severity, StoreError, StoreTooNew, Urgency
from alertd.messages import Letter
from alertd.plan import Action
from alertd.risk import Rule
from alertd.site import Condition, Cover
from alertd.store import Addressed, Commit, OutboxState, StateChanged, Store, database, migration
from alertd.store.schema import APPLICATION_ID, SCHEMA_VERSION

NOON = datetime(2026, 1, 23, 12, tzinfo=UTC)
SEASON = datetime(2025, 7, 1, tzinfo=UTC)
SHORT = timedelta(milliseconds=100)
LEASE = timedelta(minutes=2)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "alertd.sqlite"


def an_alert(name):
    told = Announcement(
        NOON, MessageType.ALERT, ResponseType.PREPARE, Severity.SEVERE, Urgency.FUTURE, Certainty.LIKELY
    )
    return Alert(name, "pots", Action.MOVE_IN, Rule.WOOD, AlertState.PREPARE, told, told, None, 1, Severity.SEVERE)


def a_commit(name, padding=""):
    """One alert, one letter, two events, all of one name."""
    letter = Letter(name, "kim", NOON, "s", padding, "", "s", (), "Prepare")
    return Commit(
        NOON,
        alerts=(an_alert(name),),
        letters=(Addressed(letter, ("mail",)),),
        events=(
            AuditEvent(NOON, "transition", {"alert_id": name, "revision": 1}),
            AuditEvent(NOON, "letter", {"reference": name, "recipient": "kim"}),
        ),
    )


def is_consistent(store):
    names = {alert.alert_id for alert in store.all_alerts()}
    references = {item.reference for item in store.outbox_items()}
    integrity = store._connection.execute("PRAGMA integrity_check").fetchone()[0]
    return names == references and store.verify_audit() == [] and integrity == "ok"


def raw(path, *statements):
    with contextlib.closing(sqlite3.connect(path)) as connection, connection:
        for statement in statements:
            connection.execute(statement)


def test_what_was_committed_is_there_after_a_restart(path):
    with Store.open(path) as store:
        head = store.commit(a_commit("a"))
        store.commit(Commit(NOON, conditions={"figs": Condition(Cover.IN_PLACE)}))
        state = store.load_state(SEASON)
    with Store.open(path) as store:
        assert store.head() == head
        assert store.load_state(SEASON) == state
        assert is_consistent(store)


def test_a_new_file_is_for_its_owner_only(path):
    with Store.open(path) as store:
        store.commit(a_commit("a"))
        modes = {file.name: file.stat().st_mode & 0o777 for file in path.parent.iterdir()}
    assert modes == {"alertd.sqlite": 0o600, "alertd.sqlite-wal": 0o600, "alertd.sqlite-shm": 0o600}


@pytest.mark.parametrize(("durable", "synchronous"), [(True, 2), (False, 0)])
def test_a_file_is_set_up_as_it_must_be(path, durable, synchronous):
    with Store.open(path, durable=durable, busy_timeout=timedelta(seconds=3)) as store:
        settings = {
            name: store._connection.execute(f"PRAGMA {name}").fetchone()[0]
            for name in (
                "journal_mode",
                "synchronous",
                "foreign_keys",
                "busy_timeout",
                "cache_size",
                "application_id",
                "user_version",
            )
        }
    assert settings == {
        "journal_mode": "wal",
        "synchronous": synchronous,
        "foreign_keys": 1,
        "busy_timeout": 3000,
        "cache_size": -256,  # [KiB], as SQLite has it
        "application_id": APPLICATION_ID,
        "user_version": SCHEMA_VERSION,
    }


def test_a_file_of_a_newer_alertd_is_refused_and_left_alone(path):
    Store.open(path).close()
    raw(path, f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    with pytest.raises(StoreTooNew, match=r"newer alertd .* install that alertd again, or name another file"):
        Store.open(path)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone()[0] == SCHEMA_VERSION + 1


@pytest.mark.parametrize(
    "statement", ["PRAGMA application_id = 7", "CREATE TABLE songs (title TEXT)", "PRAGMA user_version = 1"]
)
def test_a_database_of_another_program_is_refused_and_left_alone(path, statement):
    raw(path, statement)
    before = path.read_bytes()
    with pytest.raises(StoreError, match="belongs to another program; name another file"):
        Store.open(path)
    assert path.read_bytes() == before


def test_an_older_database_is_brought_up_to_date_step_by_step(path, monkeypatch):
    with Store.open(path) as store:
        head = store.commit(a_commit("a"))
    steps = (*migration.MIGRATIONS, ("ALTER TABLE alerts ADD COLUMN seen TEXT",), ("CREATE TABLE extra (x TEXT)",))
    monkeypatch.setattr(migration, "MIGRATIONS", steps)
    monkeypatch.setattr(migration, "SCHEMA_VERSION", len(steps))
    with Store.open(path) as store:
        assert store._connection.execute("PRAGMA user_version").fetchone()[0] == len(steps)
        assert store._connection.execute("SELECT seen FROM alerts").fetchall() == [(None,)]
        assert store.head() == head
        assert is_consistent(store)


def test_a_step_that_fails_leaves_the_older_database_whole(path, monkeypatch):
    Store.open(path).close()
    with monkeypatch.context() as patch:
        patch.setattr(
            migration, "MIGRATIONS", (*migration.MIGRATIONS, ("CREATE TABLE extra (x TEXT)", "DROP TABLE no"))
        )
        patch.setattr(migration, "SCHEMA_VERSION", SCHEMA_VERSION + 1)
        with pytest.raises(StoreError, match="no such table: no"):
            Store.open(path)
    with Store.open(path) as store:
        tables = [name for (name,) in store._connection.execute("SELECT name FROM sqlite_master")]
        assert "extra" not in tables
        store.commit(a_commit("a"))


def test_a_disk_that_cannot_hold_a_write_ahead_log_is_told():
    with contextlib.closing(sqlite3.connect(":memory:")) as connection, pytest.raises(StoreError, match="local disk"):
        database._use_write_ahead_log(connection, "x", SHORT)


def test_an_empty_file_becomes_a_database(path):
    path.touch()
    with Store.open(path) as store:
        assert store.head().sequence == 0


def test_a_file_that_is_no_database_is_refused_and_left_alone(path):
    path.write_text("Dear diary, the figs are in. " * 100)
    before = path.read_bytes()
    with pytest.raises(StoreError, match="is not a database; move the file away"):
        Store.open(path)
    assert path.read_bytes() == before


def test_a_folder_in_place_of_a_file_is_refused(tmp_path):
    with pytest.raises(StoreError, match="cannot be opened or written"):
        Store.open(tmp_path)


def test_a_folder_that_does_not_exist_is_named(tmp_path):
    with pytest.raises(StoreError, match=r"missing/a\.sqlite cannot be made: No such file or directory; check"):
        Store.open(tmp_path / "missing" / "a.sqlite")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_file_that_may_not_be_written_is_refused(path):
    Store.open(path).close()
    path.chmod(0o400)
    path.parent.chmod(0o500)
    try:
        with pytest.raises(StoreError, match="this user may write"), Store.open(path) as store:
            store.commit(a_commit("a"))
    finally:
        path.parent.chmod(0o700)


def test_a_locked_file_is_told_after_the_time_limit_and_works_afterwards(path):
    with Store.open(path, busy_timeout=SHORT) as store, contextlib.closing(sqlite3.connect(path)) as other:
        other.execute("BEGIN IMMEDIATE")
        begun = time.monotonic()
        with pytest.raises(StoreError, match="locked by another process"):
            store.commit(a_commit("a"))
        assert 0.09 <= time.monotonic() - begun < 2.0
        assert store.all_alerts() == ()
        other.rollback()
        store.commit(a_commit("a"))
        assert is_consistent(store)


def test_a_new_file_that_another_process_holds_is_told(path):
    with contextlib.closing(sqlite3.connect(path)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(StoreError, match="locked by another process"):
            Store.open(path, busy_timeout=SHORT)


def test_another_process_is_never_overlooked(path):
    with Store.open(path) as store, Store.open(path) as other:
        for number in range(20):
            assert len(store.load_state(SEASON).alerts) == number
            other.commit(a_commit(f"a-{number}"))
            assert len(store.load_state(SEASON).alerts) == number + 1
            store.commit(Commit(NOON, events=(AuditEvent(NOON, "evaluation", {}),)))
            cover = Cover.OPENED if number % 2 else Cover.LIFTED
            other.commit(Commit(NOON, conditions={"figs": Condition(cover)}))
            assert store.load_state(SEASON).conditions["figs"].cover is cover


def test_a_report_between_reading_and_writing_is_not_overwritten(path):
    with Store.open(path) as daemon, Store.open(path) as command:
        seen = daemon.state_version()
        command.commit(Commit(NOON, conditions={"figs": Condition(Cover.IN_PLACE)}))
        with pytest.raises(StateChanged):
            daemon.commit(Commit(NOON, conditions={"figs": Condition(Cover.OFF)}, based_on=seen))
        assert daemon.load_state(SEASON).conditions["figs"].cover is Cover.IN_PLACE


def open_and_write(path, start, number):
    start.wait(10)
    with Store.open(path) as store:
        store.commit(a_commit(f"a-{number}"))


def test_many_may_open_a_new_file_at_once(path):
    start = threading.Barrier(8)
    with ThreadPoolExecutor(8) as threads:
        for work in [threads.submit(open_and_write, path, start, number) for number in range(8)]:
            work.result(60)
    with Store.open(path) as store:
        assert len(store.all_alerts()) == 8
        assert is_consistent(store)


FACT_WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from alertd.audit import AuditEvent
from alertd.store import Commit, Store

now = datetime(2026, 1, 23, 12, tzinfo=UTC)
with Store.open(Path(sys.argv[1])) as store:
    print("ready", flush=True)
    sys.stdin.readline()
    for number in range(500):
        store.commit(Commit(now, events=(AuditEvent(now, "evaluation", {"number": number}),)))
"""


def test_two_processes_take_turns_and_share_one_chain(path):
    command = [sys.executable, "-c", FACT_WRITER, str(path)]
    with contextlib.ExitStack() as stack:
        writers = [
            stack.enter_context(subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True))
            for _ in range(2)
        ]
        assert [writer.stdout.readline() for writer in writers] == ["ready\n", "ready\n"]
        for writer in writers:
            writer.stdin.write("go\n")
            writer.stdin.flush()
        assert [writer.wait(60) for writer in writers] == [0, 0]
    with Store.open(path) as store:
        assert store.head().sequence == 1000
        assert store.verify_audit() == []


def write_many(store, thread, count):
    for number in range(count):
        store.commit(a_commit(f"a-{thread}-{number}"))
        assert store.alert(f"a-{thread}-{number}") is not None


def send_all(store, count):
    accepted = 0
    while accepted < count:
        for item in store.claim(NOON, LEASE):
            body = {"reference": item.reference, "recipient": item.recipient, "channel": item.channel}
            accepted += store.accept(item, NOON, AuditEvent(NOON, "send", body | {"outcome": "accepted"}))
        assert len(store.load_state(SEASON).alerts) >= accepted


def verify_often(store):
    for _ in range(20):
        assert store.verify_audit() == []


@pytest.mark.parametrize("kind", ["memory", "file"])
def test_threads_share_one_store(path, kind):
    with Store.open(path if kind == "file" else None, durable=False) as store, ThreadPoolExecutor(5) as threads:
        works = [threads.submit(write_many, store, thread, 25) for thread in range(3)]
        works += [threads.submit(send_all, store, 75), threads.submit(verify_often, store)]
        for work in works:
            work.result(60)
        assert store.outbox_summary().counts[OutboxState.ACCEPTED] == 75
        assert store.head().sequence == 225
        assert is_consistent(store)


WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from alertd.audit import AuditEvent
from alertd.messages import Letter
from alertd.site import Condition
from alertd.store import Addressed, Commit, Store

now = datetime(2026, 1, 23, 12, tzinfo=UTC)
with Store.open(Path(sys.argv[1])) as store:
    while True:
        name = f"r-{store.head().sequence + 1}"
        head = store.commit(Commit(
            now,
            conditions={name: Condition(cover_since=now)},
            letters=(Addressed(Letter(name, "kim", now, "s", "t", "h", "s", (), "Prepare"), ("mail",)),),
            events=(AuditEvent(now, "letter", {"reference": name, "recipient": "kim"}),),
        ))
        print(head.full_text, flush=True)
"""


def run_until_killed(path, seconds):
    """Return the last line that a writer acknowledged before it was killed."""
    with subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True) as writer:
        lines = [writer.stdout.readline()]
        assert lines[0], "the writer never wrote"
        killer = threading.Timer(seconds, writer.send_signal, [signal.SIGKILL])
        killer.start()
        lines += writer.stdout.readlines()
        killer.join()
    assert writer.returncode == -signal.SIGKILL
    return [line for line in lines if line.endswith("\n")][-1].strip()


@pytest.mark.slow
def test_no_acknowledged_commit_is_lost_when_the_process_is_killed(path):
    chance = random.Random(20260123)
    for _ in range(10):
        sequence, _, digits = run_until_killed(path, chance.uniform(0.0, 0.3)).partition(":")
        with Store.open(path) as store:
            (row,) = store.audit_rows(int(sequence), int(sequence))
            assert row.hash == digits
            stored = store.head().sequence
            assert int(sequence) <= stored <= int(sequence) + 1
            references = {item.reference for item in store.outbox_items()}
            assert references == {f"r-{number}" for number in range(1, stored + 1)}
            assert set(store.load_state(SEASON).conditions) == references
            assert store.verify_audit() == []
            assert store._connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


@pytest.fixture
def small_disk(tmp_path):
    if os.geteuid() != 0:
        pytest.skip("a small disk can be mounted by root only")
    folder = tmp_path / "disk"
    folder.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", folder], capture_output=True, text=True, check=False
    )
    if mounted.returncode != 0:
        pytest.skip(f"a small disk cannot be mounted here: {mounted.stderr.strip()}")
    yield folder
    subprocess.run(["umount", folder], check=True)


def fill(store, heads):
    """Commit until the disk is full; note the head after every commit."""
    for number in range(1000):
        heads.append(store.commit(a_commit(f"a-{number}", padding="x" * 20_000)))


@pytest.mark.slow
def test_a_full_disk_is_told_and_what_was_written_stays_whole(small_disk):
    ballast = small_disk / "ballast"
    ballast.write_bytes(bytes(200_000))
    with Store.open(small_disk / "alertd.sqlite") as store:
        heads = []
        with pytest.raises(StoreError, match=r"the disk is full; nothing of this change was written; free some space$"):
            fill(store, heads)
        number, head = len(heads), heads[-1]
        assert number > 3
        assert store.head() == head
        assert len(store.all_alerts()) == number
        assert is_consistent(store)
        ballast.unlink()
        store.commit(a_commit("after"))
        assert is_consistent(store)
    with Store.open(small_disk / "alertd.sqlite") as store:
        assert len(store.all_alerts()) == number + 1
        assert is_consistent(store)
