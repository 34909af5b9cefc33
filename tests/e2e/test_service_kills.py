"""Killed at any moment, the daemon loses no alert and repeats a letter only under its own reference."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from random import Random

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.e2e.kill_support import (
    KillingMailServer,
    check_nothing_is_lost,
    kill_again_and_again,
    mail_garden,
    run_until_all_is_quiet,
)


def put_to_the_test(folder, rounds: int, seed: int):
    print(f"seed {seed}")
    began = time.monotonic()
    with KillingMailServer() as server:
        garden = mail_garden(folder, server)
        kill_again_and_again(garden, server, rounds, Random(seed))
        run_until_all_is_quiet(garden, patience=60.0 + 5.0 * rounds)
        tally = check_nothing_is_lost(garden, server, kills=rounds)
    took = time.monotonic() - began
    print(f"{rounds} kills in {took:.0f} s, {server.kills} as a letter was accepted: {tally}")
    return tally


@pytest.mark.slow
def test_fifteen_kills_lose_nothing(tmp_path):
    tally = put_to_the_test(tmp_path, 15, seed=20261125)
    assert tally.letters >= 2
    assert tally.alerts >= 1


@pytest.mark.long
def test_very_many_kills_lose_nothing(tmp_path):
    """``TEST_KILLS`` says how many, for a night's run; the default fits into an everyday one."""
    tally = put_to_the_test(tmp_path, int(os.environ.get("TEST_KILLS", "100")), seed=7)
    assert tally.letters >= 6
    assert tally.alerts >= 3
    assert tally.repeated >= 3  # a kill fell between a letter's acceptance and its being written down
