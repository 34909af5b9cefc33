"""The daemon on a disk that fills up."""

from __future__ import annotations

import json
import os
import subprocess
import threading
import time
from contextlib import contextmanager

import pytest

from alertd.config import load
from alertd.service import run
from alertd.store import Store
from tests.fakes.garden_folder import GardenFolder

PATIENCE = 60.0


@pytest.fixture
def disk(tmp_path):
    if os.geteuid() != 0:
        pytest.skip("a small disk can be mounted by root only")
    folder = tmp_path / "disk"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=32m", "tmpfs", folder]
    mounted = subprocess.run(command, capture_output=True, text=True, check=False)
    if mounted.returncode != 0:
        pytest.skip(f"a small disk cannot be mounted here: {mounted.stderr.strip()}")
    yield folder
    subprocess.run(["umount", folder], check=True)


@contextmanager
def running(loaded):
    stop = threading.Event()
    thread = threading.Thread(target=run, args=(loaded,), kwargs={"stop": stop})
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join(PATIENCE)
        assert not thread.is_alive()


def wait_until(condition) -> bool:
    end = time.monotonic() + PATIENCE
    while not condition():
        if time.monotonic() > end:
            return False
        time.sleep(0.1)
    return True


def fill(folder):
    with (folder / "filler").open("ab", buffering=0) as filler:
        for size in (1 << 20, 4096, 1):
            try:
                while True:
                    filler.write(bytes(size))
            except OSError:
                pass


@pytest.mark.slow
def test_people_are_told_of_a_small_disk_and_evaluations_go_on_when_it_is_full(disk, tmp_path, caplog):
    letters = tmp_path / "letters"
    garden = GardenFolder(disk / "garden", f"file:{letters}")
    garden.write_forecast(is_severe=True)
    ballast = garden.database.with_name("alertd.sqlite.ballast")

    def told(words):
        return letters.exists() and any(words in path.read_text() for path in letters.glob("*.txt"))

    with running(load(garden.configuration, {})):
        assert wait_until(ballast.exists)
        assert wait_until(lambda: told("The disk is nearly full"))
        fill(disk)
        assert wait_until(lambda: not ballast.exists())
        with Store.open(garden.database) as store:
            full_at = store.head().sequence
            assert wait_until(lambda: store.head().sequence > full_at + 2)
            (disk / "filler").unlink()
            rows = list(store.audit_rows())
            assert store.verify_audit() == []
    assert [json.loads(row.body)["reserve"] for row in rows if row.kind == "problem"][:1] == ["kept"]
    assert [row.kind for row in rows[full_at:]].count("evaluation") >= 1
    assert "disk: only" in caplog.text
