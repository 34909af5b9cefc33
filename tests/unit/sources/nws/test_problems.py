"""What failing answers mean."""

from __future__ import annotations

import pytest

from alertd.sources.nws import explain
from alertd.sources.nws.problems import PHRASES
from tests.fakes import nws


@pytest.mark.parametrize("urn", [False, True])
@pytest.mark.parametrize("kind", sorted(PHRASES))
def test_a_problem_is_known_by_the_last_part_of_its_type(kind, urn):
    assert explain(500, {}, nws.problem(kind, 500, urn=urn).body) == PHRASES[kind]


def test_an_expired_grid_tells_since_when():
    detail = "The requested forecast grid was issued 2026-01-18T11:36:27+00:00 and has expired."
    text = explain(503, {}, nws.problem("ForecastGridExpired", 503, detail).body)
    assert text == f"{PHRASES['ForecastGridExpired']} (issued 2026-01-18T11:36:27+00:00)"


@pytest.mark.parametrize(
    ("status", "body", "text"),
    [
        (403, b"<html>Access Denied</html>", PHRASES["Forbidden"]),
        (404, b"no script", PHRASES["NotFound"]),
        (400, b"", PHRASES["BadRequest"]),
        (502, b"<html>", ""),
        (503, b"[]", ""),
        (500, b"\xff", ""),
        (500, b'{"title": 5, "type": 7}', ""),
        (500, b'{"title": "Out of\\nice \\u0007cream", "type": "x"}', "the service says: Out of ice cream"),
        (500, b'{"title": "' + b"x" * 500 + b'"}', "the service says: " + "x" * 80),
        (999, b"{}", ""),
    ],
)
def test_other_failures_are_told_by_status_or_title_on_one_line(status, body, text):
    assert explain(status, {}, body) == text


def test_each_phrase_says_what_happens_next_or_what_to_do():
    for phrase in PHRASES.values():
        assert any(words in phrase for words in ("asked again later", "check", "update alertd", "state a contact")), (
            phrase
        )
