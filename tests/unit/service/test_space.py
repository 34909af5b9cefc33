from __future__ import annotations

import json

import pytest

from alertd.core import StoreError
from alertd.service.space import ENOUGH, LOW_SPACE, Space
from alertd.store import Store

MIB = 1024 * 1024


class Disk:
    """Has as much room as it is told."""

    def __init__(self) -> None:
        self.free = 100 * LOW_SPACE

    def __call__(self) -> int:
        return self.free


@pytest.fixture
def disk(store, monkeypatch):
    disk = Disk()
    monkeypatch.setattr(store, "free_space", disk)
    return disk


@pytest.fixture
def store(tmp_path):
    with Store.open(tmp_path / "x.sqlite") as store:
        store.ballast.size = MIB
        yield store


@pytest.fixture
def space(store, readers, site, clock, disk):
    assert disk.free > LOW_SPACE
    return Space(store, readers, site, clock)


def problems(store) -> list[dict]:
    return [json.loads(row.body) for row in store.audit_rows() if row.kind == "problem"]


def subjects(store) -> list[str]:
    return [item.letter.subject for item in store.outbox_items() if item.recipient == "Ann"]


def test_with_room_the_reserve_is_laid_and_nobody_is_told(space, store, caplog):
    for _ in range(3):
        space.look()
    assert store.ballast.path.stat().st_size == MIB
    assert store.ballast.path.stat().st_mode & 0o777 == 0o600
    assert store.ballast.path.name == "x.sqlite.ballast"
    assert (subjects(store), problems(store), caplog.messages) == ([], [], [])


def test_a_disk_that_fills_up_is_told_to_everybody_once_and_recorded(space, store, disk, clock, caplog):
    space.look()
    disk.free = LOW_SPACE - 1
    for _ in range(5):
        space.look()
        clock.advance(minutes=30)
    ann, bo = store.outbox_items()
    assert {ann.recipient, bo.recipient} == {"Ann", "Bo"}
    assert ann.letter.subject == "The disk is nearly full: make room on the machine of alertd (Steinbruch)"
    assert "has 63 MiB left" in ann.letter.text
    assert "A reserve is kept beside the record" in ann.letter.text
    assert problems(store) == [{"problem": "disk nearly full", "free_mib": 63, "reserve": "kept"}]
    assert caplog.messages == ["disk: only 63 MiB left; make room"]
    assert store.verify_audit() == []


def test_the_end_is_told_once_and_only_when_there_is_clearly_enough(space, store, disk, clock):
    space.look()
    disk.free = 0
    space.look()
    clock.advance(hours=2)
    disk.free = ENOUGH * LOW_SPACE - 1
    space.look()
    assert len(subjects(store)) == 1
    disk.free += 1
    space.look()
    space.look()
    low, well = [item.letter for item in store.outbox_items() if item.recipient == "Ann"]
    assert well.subject == "The disk has room again (Steinbruch)"
    assert "had been nearly full since 10:00 on Thu 22 Jan" in well.text
    assert low.threads == well.threads
    assert store.get_note("disk_low_since") == ""
    disk.free = 0
    space.look()
    assert len(subjects(store)) == 3


def test_a_reserve_that_was_given_up_is_told_even_if_there_is_room_again(space, store, disk, caplog):
    space.look()
    store.ballast.give_up()
    disk.free = LOW_SPACE
    space.look()
    assert (
        "It was full, and the reserve that is kept for this has been given up." in store.outbox_items()[0].letter.text
    )
    assert problems(store)[-1]["reserve"] == "given up"
    assert "the reserve has been given up; make room now" in caplog.text
    assert store.ballast.is_laid
    assert len(subjects(store)) == 1
    disk.free = ENOUGH * LOW_SPACE
    space.look()
    assert store.ballast.is_laid
    assert subjects(store)[-1].startswith("The disk has room again")


def test_a_reserve_that_is_given_up_later_is_recorded_and_logged_without_a_second_letter(space, store, disk, caplog):
    space.look()
    disk.free = MIB
    space.look()
    store.ballast.give_up()
    space.look()
    space.look()
    assert [body["reserve"] for body in problems(store)] == ["kept", "given up"]
    assert len(subjects(store)) == 1
    assert caplog.text.count("has been given up") == 1


def test_a_restart_does_not_repeat_it_and_still_tells_the_end(space, store, disk, readers, site, clock):
    space.look()
    disk.free = 0
    space.look()
    restarted = Space(store, readers, site, clock)
    restarted.look()
    assert len(subjects(store)) == 1
    disk.free = ENOUGH * LOW_SPACE
    restarted.look()
    assert len(subjects(store)) == 2


def test_what_could_not_be_written_is_told_later(space, store, disk, monkeypatch):
    def fails(*_arguments):
        message = "database x: the disk is full"
        raise StoreError(message)

    space.look()
    disk.free = 0
    with monkeypatch.context() as patch:
        patch.setattr(store, "_append", fails)
        with pytest.raises(StoreError):
            space.look()
    space.look()
    assert len(subjects(store)) == 1


def test_a_folder_in_which_no_reserve_can_be_made_is_told(space, store):
    store.ballast.path.mkdir()
    space.look()
    assert problems(store)[-1]["reserve"] == "given up"


def test_a_database_in_memory_has_no_disk(readers, site, clock):
    with Store.open(None) as store:
        Space(store, readers, site, clock).look()
        assert store.head().sequence == 0
