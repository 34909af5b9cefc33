"""What a store does when its disk is full: nothing acknowledged is lost, and the reserve lets it go on."""

import os
import subprocess
from datetime import UTC, datetime, timedelta
from itertools import count

import pytest

from alertd.audit import AuditEvent
from alertd.core import StoreError, StoreFull
from alertd.messages import Letter
from alertd.store import Addressed, Commit, Retention, Store
from alertd.store.ballast import Ballast

NOW = datetime(2026, 1, 23, 12, tzinfo=UTC)
YEARS_AGO = NOW - timedelta(days=1000)
DISK = 14 * 1024 * 1024
RESERVE = 6 * 1024 * 1024


@pytest.fixture
def disk(tmp_path):
    if os.geteuid() != 0:
        pytest.skip("a small disk can be mounted by root only")
    folder = tmp_path / "disk"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", f"size={DISK}", "tmpfs", folder]
    mounted = subprocess.run(command, capture_output=True, text=True, check=False)
    if mounted.returncode != 0:
        pytest.skip(f"a small disk cannot be mounted here: {mounted.stderr.strip()}")
    yield folder
    subprocess.run(["umount", folder], check=True)


def a_commit(name, when=NOW, size=20_000):
    letter = Letter(name, "kim", when, "s", "x" * size, "", "s", (), "Prepare")
    event = AuditEvent(when, "letter", {"reference": name, "recipient": "kim"})
    return Commit(when, letters=(Addressed(letter, ("mail",)),), events=(event,))


def fill_disk(folder):
    """Take up what is left, as another program might."""
    with (folder / "filler").open("ab", buffering=0) as filler:
        try:
            while True:
                filler.write(bytes(65536))
        except OSError:
            pass
        try:
            while True:
                filler.write(bytes(512))
        except OSError:
            pass


def commit_for_ever(store, written):
    for number in count():
        store.commit(a_commit(f"r-{number}"))
        written.append(f"r-{number}")


def laid(store):
    store.ballast.size = RESERVE
    assert store.ballast.lay()


def test_the_commit_that_meets_a_full_disk_is_written_all_the_same(disk):
    with Store.open(disk / "alertd.sqlite") as store:
        laid(store)
        store.commit(a_commit("before"))
        fill_disk(disk)
        names = ["before"]
        for number in range(60):  # some fit into room that the log beside the database has already
            store.commit(a_commit(f"r-{number}"))
            names.append(f"r-{number}")
            if not store.ballast.path.exists():
                break
        assert not store.ballast.path.exists()
        assert [item.reference for item in store.outbox_items()] == names
        assert store.verify_audit() == []


def test_once_the_reserve_is_used_up_the_refusal_is_told_and_all_that_was_written_stays(disk):
    with Store.open(disk / "alertd.sqlite") as store:
        laid(store)
        fill_disk(disk)
        written = []
        with pytest.raises(StoreFull, match="the disk is full; nothing of this change was written"):
            commit_for_ever(store, written)
        assert len(written) > 20
        assert [item.reference for item in store.outbox_items()] == written
        (disk / "filler").unlink()
        store.commit(a_commit("after"))
        assert store.verify_audit() == []


def test_a_deletion_that_cannot_be_written_for_want_of_room_can_once_the_reserve_is_gone(disk):
    with Store.open(disk / "alertd.sqlite") as store:
        for number in range(60):
            store.commit(a_commit(f"r-{number}", YEARS_AGO))
        store._connection.execute("UPDATE outbox SET state = 'dead', settled = created")
        store._pragma("wal_checkpoint(TRUNCATE)")
        laid(store)
        fill_disk(disk)
        with pytest.raises(StoreFull):
            store.remove_old(Retention(), NOW)
        assert not store.ballast.path.exists()
        assert store.remove_old(Retention(), NOW) == {"letters": 60}
        assert store.compact() > 1_000_000
        assert store.verify_audit() == []
        assert store._connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"


def test_a_store_opens_on_a_full_disk_at_the_price_of_its_reserve(disk):
    path = disk / "alertd.sqlite"
    with Store.open(path) as store:
        store.commit(a_commit("before"))
        laid(store)
    fill_disk(disk)
    with Store.open(path) as store:
        assert not store.ballast.path.exists()
        store.commit(a_commit("after"))
        assert len(store.outbox_items()) == 2
        assert store.verify_audit() == []


def test_without_a_reserve_a_full_disk_is_told_at_the_start(disk):
    path = disk / "alertd.sqlite"
    Store.open(path).close()
    fill_disk(disk)
    with pytest.raises(StoreError, match=r"disk|cannot be opened"):
        Store.open(path)


def test_a_reserve_that_does_not_fit_is_not_left_half_made(disk):
    fill_disk(disk)
    ballast = Ballast(disk / "alertd.sqlite", RESERVE)
    assert not ballast.lay()
    assert not ballast.is_laid
    assert not ballast.path.exists()
    assert not ballast.give_up()
    (disk / "filler").unlink()
    assert ballast.lay()
    assert ballast.lay()
    assert ballast.give_up()
    assert not ballast.path.exists()
