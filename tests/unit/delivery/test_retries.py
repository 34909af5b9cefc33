from __future__ import annotations

import random
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alertd.delivery import RelaySettings, retry_delay

STEADY = RelaySettings(jitter=0.0)


@pytest.mark.parametrize(
    ("attempts", "seconds"), [(1, 30), (2, 60), (3, 120), (6, 960), (7, 1800), (8, 1800), (5000, 1800)]
)
def test_waits_double_up_to_half_an_hour(attempts, seconds):
    assert retry_delay(STEADY, attempts, None, random.Random(1)) == timedelta(seconds=seconds)


@pytest.mark.parametrize(("asked", "seconds"), [(5, 30), (600, 600), (86400, 1800)])
def test_a_wait_that_the_channel_asks_for_is_heeded_within_reason(asked, seconds):
    delay = retry_delay(STEADY, 1, timedelta(seconds=asked), random.Random(1))
    assert delay == timedelta(seconds=seconds)


@given(st.integers(1, 40), st.integers())
def test_chance_moves_a_wait_by_a_fifth_at_most(attempts, seed):
    steady = retry_delay(STEADY, attempts, None, random.Random(0))
    moved = retry_delay(RelaySettings(), attempts, None, random.Random(seed))
    assert 0.799 * steady <= moved <= 1.201 * steady


def test_chance_moves_waits_apart():
    chance = random.Random(7)
    assert len({retry_delay(RelaySettings(), 1, None, chance) for _ in range(10)}) == 10


def test_a_lease_outlives_its_send():
    assert RelaySettings().lease == timedelta(seconds=45)
