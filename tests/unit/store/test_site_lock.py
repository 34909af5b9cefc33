import os
import subprocess
import sys

import pytest

from alertd.core import StoreError
from alertd.store import SiteLock


def test_a_second_daemon_is_told_which_process_runs(tmp_path):
    path = tmp_path / "alertd.sqlite"
    with SiteLock(path), pytest.raises(StoreError, match=rf"process {os.getpid()}\); stop that one first"):
        SiteLock(path).acquire()


def test_a_lock_can_be_taken_again_after_it_was_released(tmp_path):
    lock = SiteLock(tmp_path / "alertd.sqlite")
    for _ in range(2):
        lock.acquire()
        lock.release()
        lock.release()
    assert lock.path.stat().st_mode & 0o777 == 0o600


def test_a_process_that_was_killed_leaves_no_lock(tmp_path):
    path = tmp_path / "alertd.sqlite"
    program = (
        "import sys, pathlib, alertd.store as s; s.SiteLock(pathlib.Path(sys.argv[1])).acquire(); "
        "print('held', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(StoreError, match=f"process {holder.pid}"):
            SiteLock(path).acquire()
        holder.kill()
    assert (tmp_path / "alertd.sqlite.lock").exists()
    with SiteLock(path):
        pass


def test_a_folder_that_does_not_exist_is_named(tmp_path):
    with pytest.raises(StoreError, match=r"missing/alertd\.sqlite\.lock cannot be made: No such file"):
        SiteLock(tmp_path / "missing" / "alertd.sqlite").acquire()
