from datetime import date

import pytest

from alertd.messages import Correspondence, Told


def test_a_correspondence_is_read_as_it_was_written():
    known = Correspondence({"pots-1": Told(3), "figs-2": Told(1, is_over=True)}, date(2026, 1, 20))
    assert Correspondence.parse(known.text) == known
    assert Correspondence.parse(Correspondence().text) == Correspondence()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        "{}",
        '{"told":[],"digest_day":null}',
        '{"told":{"a":1},"digest_day":null}',
        '{"told":{},"digest_day":"x"}',
    ],
)
def test_a_spoilt_one_counts_as_none(text):
    assert Correspondence.parse(text) == Correspondence()
