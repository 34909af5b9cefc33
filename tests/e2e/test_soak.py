"""Two weeks of faults in simulated time: what was raised is accepted, or reported."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fakes.soak import Soak


@pytest.mark.slow
def test_a_day_and_a_half_of_faults_ends_with_the_books_balanced(tmp_path):
    with Soak(tmp_path, seed=3) as soak:
        soak.run(days=1.5)
        soak.settle()
        books = soak.books()
    print(books)
    assert books.letters >= 2


@pytest.mark.long
def test_two_weeks_of_faults_end_with_the_books_balanced(tmp_path):
    with Soak(tmp_path, seed=1) as soak:
        soak.run(days=14)
        soak.settle()
        books = soak.books()
    print(books)
    assert books.alerts >= 4
    assert books.letters >= 20
    assert books.restarts >= 5
    assert books.expired_and_reported + books.dead_and_reported >= 1
    assert books.letters == books.accepted + books.expired_and_reported + books.dead_and_reported
