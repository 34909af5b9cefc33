"""What copies promise: whole while others write, looked over before they are used, never in place of what must stay."""

import contextlib
import json
import os
import sqlite3
import subprocess
import sys
import threading
from datetime import UTC, datetime, timedelta

import pytest

from alertd.audit import AuditEvent
from alertd.core import AuditError, StoreError, StoreTooNew
from alertd.messages import Letter
from alertd.site import Condition, Cover
from alertd.store import Addressed, Commit, SiteLock, Store, back_up, copies, migration, restore, restoring
from alertd.store.schema import MIGRATIONS, SCHEMA_VERSION

NOON = datetime(2026, 1, 23, 12, tzinfo=UTC)
KEPT = "alertd.before-20260123T120000Z.sqlite"


@pytest.fixture
def path(tmp_path):
    folder = tmp_path / "state"
    folder.mkdir()
    return folder / "alertd.sqlite"


@pytest.fixture
def copy(tmp_path):
    return tmp_path / "copy.sqlite"


def write(store, name):
    letter = Letter(name, "kim", NOON, "s", "t", "h", "s", (), "Prepare")
    event = AuditEvent(NOON, "letter", {"reference": name, "recipient": "kim"})
    condition = {name: Condition(Cover.IN_PLACE, cover_since=NOON)}
    return store.commit(Commit(NOON, conditions=condition, letters=(Addressed(letter, ("mail",)),), events=(event,)))


def filled(path, *names):
    with Store.open(path) as store:
        for name in names:
            write(store, name)
        return store.head()


def references(path):
    with Store.open(path) as store:
        assert store.verify_audit() == []
        return [item.reference for item in store.outbox_items()]


def raw(path, *statements):
    with contextlib.closing(sqlite3.connect(path)) as connection, connection:
        for statement in statements:
            connection.execute(statement)


def files(folder):
    return sorted(each.name for each in folder.iterdir())


# Making a copy


def test_a_copy_holds_what_the_database_held_and_is_one_file_for_its_owner_only(path, copy):
    head = filled(path, "a", "b")
    with Store.open(path) as store:  # with its log beside it
        write(store, "c")
        copied = back_up(path, copy)
        assert copied.head == store.head() != head
    assert (copied.version, copied.waiting) == (SCHEMA_VERSION, 3)
    assert files(copy.parent) == ["copy.sqlite", "state"]
    assert copy.stat().st_mode & 0o777 == 0o600
    assert references(copy) == ["a", "b", "c"]


WRITER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from alertd.audit import AuditEvent
from alertd.messages import Letter
from alertd.store import Addressed, Commit, Store

now = datetime(2026, 1, 23, 12, tzinfo=UTC)
with Store.open(Path(sys.argv[1])) as store:
    number = 0
    while True:
        number += 1
        name = f"r-{number}"
        store.commit(Commit(
            now,
            letters=(Addressed(Letter(name, "kim", now, "s", "t" * 3000, "h", "s", (), "Prepare"), ("mail",)),),
            events=(AuditEvent(now, "letter", {"reference": name, "recipient": "kim"}),),
        ))
        print(number, flush=True)
"""


def test_a_copy_made_while_another_process_writes_is_a_whole_beginning_of_what_that_wrote(path, tmp_path):
    copied = []
    with subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True) as writer:
        drain = threading.Thread(target=writer.stdout.readlines)
        try:
            assert writer.stdout.readline() == "1\n"
            drain.start()
            for number in range(5):
                target = tmp_path / f"copy-{number}.sqlite"
                copied.append((target, back_up(path, target)))
        finally:
            writer.kill()
            drain.join(60)
    with Store.open(path) as store:
        rows = list(store.audit_rows())
    assert [each.head.sequence for _, each in copied] == sorted(each.head.sequence for _, each in copied)
    for target, each in copied:
        with Store.open(target) as store:
            assert list(store.audit_rows()) == rows[: each.head.sequence]
            assert len(store.outbox_items()) == each.head.sequence
            assert store.verify_audit() == []


def test_writers_are_not_kept_waiting_by_a_copy(path, copy, monkeypatch):
    filled(path, "a")
    with Store.open(path, busy_timeout=timedelta(seconds=0.1)) as store:

        def meanwhile(*_arguments):
            write(store, "b")
            return copies.Copied(store.head(), 1, 0)

        monkeypatch.setattr(copies, "look_over", meanwhile)
        back_up(path, copy)
    assert references(copy) == ["a"]


def test_a_file_that_exists_is_replaced_only_when_it_is_said(path, copy):
    filled(path, "a")
    copy.write_text("holiday pictures")
    with pytest.raises(StoreError, match=r"copy\.sqlite exists already; name another file, or say --force$"):
        back_up(path, copy)
    assert copy.read_text() == "holiday pictures"
    back_up(path, copy, overwrite=True)
    assert references(copy) == ["a"]
    assert copy.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("suffix", ["", "-wal", "-shm", ".lock", ".ballast"])
def test_the_files_of_the_database_itself_are_never_replaced(path, suffix):
    filled(path, "a")
    with pytest.raises(StoreError, match="belongs to the database itself; name another file"):
        back_up(path, path.with_name(path.name + suffix), overwrite=True)
    assert references(path) == ["a"]


def test_nor_is_the_database_by_another_name(path, copy):
    filled(path, "a")
    copy.symlink_to(path)
    with pytest.raises(StoreError, match="belongs to the database itself"):
        back_up(path, copy, overwrite=True)


def test_a_folder_that_is_none_and_a_folder_in_place_of_a_file_are_told(path, tmp_path):
    filled(path, "a")
    with pytest.raises(
        StoreError, match=r"missing/copy cannot be written: No such file or directory; check its folder"
    ):
        back_up(path, tmp_path / "missing" / "copy")
    with pytest.raises(StoreError, match="is a folder; name a file in it"):
        back_up(path, tmp_path, overwrite=True)


@pytest.mark.parametrize("content", [b"", b"Dear diary" * 100])
def test_what_is_no_database_of_ours_is_not_copied(path, copy, content):
    path.write_bytes(content)
    with pytest.raises(StoreError, match=r"is empty|is not a database"):
        back_up(path, copy)
    assert files(copy.parent) == ["state"]


def test_a_database_of_another_program_is_not_copied(path, copy):
    raw(path, "CREATE TABLE songs (title TEXT)")
    with pytest.raises(StoreError, match="belongs to another program"):
        back_up(path, copy)
    assert files(copy.parent) == ["state"]


def test_a_record_that_does_not_verify_is_copied_all_the_same_and_told(path, copy):
    filled(path, "a", "b")
    raw(path, "UPDATE audit SET kind = 'send' WHERE sequence = 1")
    with pytest.raises(AuditError, match="the audit log does not verify: "):
        back_up(path, copy)
    with Store.open(copy) as store:
        assert store.verify_audit() != []


def test_a_database_that_somebody_locks_for_long_is_told(path, copy, monkeypatch):
    filled(path, "a")
    raw(path, "PRAGMA journal_mode = DELETE")
    monkeypatch.setattr(copies, "_LONGEST_WAIT", timedelta(0))
    monkeypatch.setattr(copies, "is_new", lambda *_: False)
    with contextlib.closing(sqlite3.connect(path)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(StoreError, match="locked by another process"):
            back_up(path, copy)
    assert files(copy.parent) == ["state"]


@pytest.fixture
def small_disk(tmp_path):
    if os.geteuid() != 0:
        pytest.skip("a small disk can be mounted by root only")
    folder = tmp_path / "disk"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=200k", "tmpfs", folder]
    mounted = subprocess.run(command, capture_output=True, text=True, check=False)
    if mounted.returncode != 0:
        pytest.skip(f"a small disk cannot be mounted here: {mounted.stderr.strip()}")
    yield folder
    subprocess.run(["umount", folder], check=True)


def test_a_copy_that_does_not_fit_on_its_disk_is_told_and_leaves_nothing(path, small_disk):
    with Store.open(path, durable=False) as store:
        store.commit(Commit(NOON, events=(AuditEvent(NOON, "evaluation", {"text": "x" * 400_000}),)))
        with pytest.raises(StoreError, match=r"copy\.sqlite cannot be written, the disk is full"):
            back_up(path, small_disk / "copy.sqlite")
    assert files(small_disk) == []


# Putting it back


def test_a_copy_takes_the_place_of_the_database_which_is_kept_beside(path, copy):
    head = filled(path, "a")
    back_up(path, copy)
    before = copy.read_bytes()
    later = filled(path, "b")
    restored = restore(copy, path, NOON)
    assert restored.kept == path.with_name(KEPT)
    assert (restored.copied.head, restored.copied.waiting) == (head, 1)
    assert references(path) == ["a"]
    assert references(restored.kept) == ["a", "b"]
    assert copy.read_bytes() == before
    with Store.open(path) as store:
        last = list(store.audit_rows())[-1]
        assert last.kind == "restore"
        assert json.loads(last.body) == {"head": head.full_text, "replaced": later.full_text, "kept": KEPT}
        assert store.load_state(NOON).conditions.keys() == {"a"}
        write(store, "c")
        (fault,) = store.verify_audit([later])
        assert "written anew" in fault.text
    assert path.stat().st_mode & 0o777 == 0o600
    assert files(path.parent) == [KEPT, "alertd.sqlite", "alertd.sqlite.lock"]


def test_a_copy_can_be_put_where_there_is_no_database_yet(path, copy):
    filled(path, "a")
    back_up(path, copy)
    elsewhere = copy.parent / "other.sqlite"
    assert restore(copy, elsewhere, NOON).kept is None
    assert references(elsewhere) == ["a"]


def test_what_the_old_database_had_in_its_log_only_is_kept_with_it(path, copy):
    filled(path, "a")
    back_up(path, copy)
    with Store.open(path) as store:  # like a process that died: its log is never brought into the file
        write(store, "b")
        restored = restore(copy, path, NOON)
        assert references(restored.kept) == ["a", "b"]
    assert references(path) == ["a"]


def test_while_a_daemon_runs_nothing_is_put_in_its_place(path, copy):
    filled(path, "a")
    back_up(path, copy)
    filled(path, "b")
    with SiteLock(path), pytest.raises(StoreError, match=rf"in use by another alertd \(process {os.getpid()}\)"):
        restore(copy, path, NOON)
    assert references(path) == ["a", "b"]
    assert KEPT not in files(path.parent)


def damage_page(copy):
    data = bytearray(copy.read_bytes())
    data[4096 * 3 : 4096 * 3 + 64] = os.urandom(64)
    copy.write_bytes(bytes(data))


def cut(copy):
    copy.write_bytes(copy.read_bytes()[:9000])


def no_database(copy):
    copy.write_text("Dear diary" * 1000)


def empty(copy):
    copy.write_bytes(b"")


def edited(copy):
    raw(copy, "UPDATE audit SET body = '{}' WHERE sequence = 1")


def forged(copy):
    raw(copy, "DELETE FROM audit WHERE sequence = 1")


def newer(copy):
    raw(copy, f"PRAGMA user_version = {SCHEMA_VERSION + 1}")


def of_another(copy):
    raw(copy, "PRAGMA application_id = 7")


def gone(copy):
    copy.unlink()


@pytest.mark.parametrize(
    ("harm", "words"),
    [
        (damage_page, "is damaged|does not verify|spoilt"),
        (cut, "is damaged"),
        (no_database, "is not a database"),
        (empty, "is empty; name a copy"),
        (edited, "the audit log does not verify: row 1"),
        (forged, "the audit log does not verify: "),
        (newer, r"was written by a newer alertd \(version \d+ of its tables, this alertd knows \d+\)"),
        (of_another, "belongs to another program"),
        (gone, "there is no file"),
    ],
)
def test_a_copy_that_cannot_be_trusted_is_refused_in_one_line_and_nothing_is_changed(path, copy, harm, words):
    filled(path, "a", "b", "c")
    back_up(path, copy)
    harm(copy)
    with pytest.raises((StoreError, StoreTooNew, AuditError), match=words) as caught:
        restore(copy, path, NOON)
    assert "\n" not in str(caught.value)
    assert str(copy) in str(caught.value)
    assert references(path) == ["a", "b", "c"]
    assert files(path.parent) in (["alertd.sqlite"], ["alertd.sqlite", "alertd.sqlite.lock"])


def test_the_database_itself_is_no_copy(path):
    filled(path, "a")
    with pytest.raises(StoreError, match="is the database itself"):
        restore(path, path, NOON)


def test_a_damaged_database_is_replaced_and_kept_as_it_is(path, copy):
    filled(path, "a")
    back_up(path, copy)
    path.write_text("ruined")
    path.with_name("alertd.sqlite-wal").write_text("ruined too")
    restored = restore(copy, path, NOON)
    assert references(path) == ["a"]
    assert restored.kept.read_text() == "ruined"
    with Store.open(path) as store:
        assert json.loads(list(store.audit_rows())[-1].body)["replaced"] is None


def test_two_restorations_in_one_second_do_not_lose_what_was_kept(path, copy):
    filled(path, "a")
    back_up(path, copy)
    restore(copy, path, NOON)
    with pytest.raises(StoreError, match="exists already; wait a second"):
        restore(copy, path, NOON)
    restore(copy, path, NOON + timedelta(seconds=1))
    assert references(path) == ["a"]


def test_where_there_are_no_links_the_database_is_copied_aside(path, copy, monkeypatch):
    def no_links(*_arguments):
        raise OSError(1, "Operation not permitted")

    filled(path, "a")
    back_up(path, copy)
    filled(path, "b")
    monkeypatch.setattr(restoring.os, "link", no_links)
    assert references(restore(copy, path, NOON).kept) == ["a", "b"]


@pytest.mark.parametrize("version", range(1, SCHEMA_VERSION))
def test_a_copy_of_an_older_version_is_brought_up_to_date(path, copy, version, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(migration, "MIGRATIONS", MIGRATIONS[:version])
        patch.setattr(migration, "SCHEMA_VERSION", version)
        filled(path, "a")
        assert back_up(path, copy).version == version
    restored = restore(copy, path, NOON)
    assert restored.copied.version == version
    assert references(path) == ["a"]
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (SCHEMA_VERSION,)
    with contextlib.closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (version,)


def test_an_older_database_is_copied_as_it_is(path, copy, monkeypatch):
    with monkeypatch.context() as patch:
        patch.setattr(migration, "MIGRATIONS", MIGRATIONS[:1])
        patch.setattr(migration, "SCHEMA_VERSION", 1)
        filled(path, "a")
    assert back_up(path, copy).version == 1
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (1,)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can give files away")
def test_what_root_restores_belongs_to_whom_the_database_belonged(path, copy):
    filled(path, "a")
    back_up(path, copy)
    os.chown(path, 12345, 12345)
    restore(copy, path, NOON)
    for name in ("alertd.sqlite", "alertd.sqlite.lock", KEPT):
        found = path.with_name(name).stat()
        assert (name, found.st_uid, found.st_gid) == (name, 12345, 12345)
