"""What everything that keeps answers of services promises."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from alertd.core import Answer
from alertd.sources import MemoryAnswers
from alertd.store import Store

NOON = datetime(2026, 1, 23, 12, 0, 0, 250, tzinfo=UTC)
ANSWER = Answer(
    "https://api.example.org/?apikey=***",
    200,
    b"\x00\xff{}",
    NOON,
    NOON + timedelta(minutes=31),
    'W/"a"',
    "Fri, 23 Jan 2026 11:58:00 GMT",
    "application/json",
)


@pytest.fixture(params=["memory", "database in memory", "file"])
def answers(request, tmp_path):
    if request.param == "memory":
        yield MemoryAnswers()
        return
    with Store.open(tmp_path / "alertd.sqlite" if request.param == "file" else None) as opened:
        yield opened


def test_an_answer_comes_back_as_it_was_kept(answers):
    bare = replace(ANSWER, body=b"", expires=None, etag=None, last_modified=None, content_type="")
    answers.keep_answer("a", ANSWER)
    answers.keep_answer("b", bare)
    assert answers.answer("a") == ANSWER
    assert answers.answer("b") == bare


def test_nothing_is_kept_under_other_keys(answers):
    answers.keep_answer("a", ANSWER)
    assert answers.answer("A") is None
    assert answers.answer("") is None


def test_a_new_answer_takes_the_place_of_the_old_one(answers):
    answers.keep_answer("a", ANSWER)
    answers.keep_answer("a", replace(ANSWER, body=b"new"))
    assert answers.answer("a").body == b"new"


def test_an_answer_can_be_forgotten(answers):
    answers.keep_answer("a", ANSWER)
    answers.forget_answer("a")
    answers.forget_answer("a")
    assert answers.answer("a") is None
