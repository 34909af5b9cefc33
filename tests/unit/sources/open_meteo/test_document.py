"""From bytes to a document about the asked place."""

import json

import pytest

from alertd.core import SourceMalformed
from alertd.sources.open_meteo import Asked
from alertd.sources.open_meteo.document import check_place, document_of, is_number, shown
from tests.fakes.open_meteo import ASKED, SITE, body, document


def head(**parts):
    return {"latitude": 40.71, "longitude": -73.99, "utc_offset_seconds": 0, "elevation": 120.0} | parts


@pytest.mark.parametrize(
    ("answer", "reason"),
    [
        (b"", "empty"),
        (b"<!DOCTYPE html><html>", "web page"),
        (b'{"latitude":nan,"longitude":nan,"utc_offset_seconds":0}', "no valid JSON"),
        (b'{"latitude":NaN}', "no valid JSON"),
        (b'{"latitude":1e999}', "no valid JSON"),
        (b'{"latitude":1', "no valid JSON"),
        (b'{"latitude":1,"latitude":2}', "twice"),
        (b"\xff\xfe", "UTF-8"),
        (b"[" * 100_000, "JSON|nested"),
        (b"null", "no JSON object"),
        (b"[]", "about 0 locations"),
        (b"[3]", "no JSON object"),
        (b"[{}, {}]", "about 2 locations"),
        (b'{"error": true, "reason": "Invalid timezone"}', "an error, with the status of a good one: Invalid timezone"),
        (b'{"hourly":{"time":[1,2Unexpected error while streaming data: x', "broke off in the middle"),
    ],
)
def test_what_is_no_answer_is_refused_with_its_reason(answer, reason):
    with pytest.raises(SourceMalformed, match=reason):
        document_of(answer)


def test_an_error_sentence_behind_a_whole_document_is_refused():
    answer = body({"temperature_2m": [1.0]}) + b"Unexpected error while streaming data: timeout"
    with pytest.raises(SourceMalformed, match="broke off"):
        document_of(answer)


def test_an_array_of_one_location_is_that_location():
    assert document_of(json.dumps([document({"temperature_2m": [1.0]})]).encode())["elevation"] == SITE.elevation


@pytest.mark.parametrize(
    ("parts", "reason"),
    [
        ({"latitude": 41.3}, "not about the asked 40.71 north -74.01 east"),
        ({"latitude": 40.1}, "not about the asked"),
        ({"longitude": -73.3}, "not about the asked"),
        ({"longitude": 74.0}, "not about the asked"),
        ({"latitude": None}, "latitude is missing"),
        ({"latitude": "40.71"}, "latitude is 40.71, no number"),
        ({"longitude": True}, "longitude is True, no number"),
        ({"latitude": 10**400}, "no number"),
        ({"utc_offset_seconds": -18000}, "utc_offset_seconds is -18000, not 0"),
        ({"utc_offset_seconds": None}, "utc_offset_seconds is missing"),
        ({"utc_offset_seconds": False}, "utc_offset_seconds is False"),
        ({"elevation": 9.0}, "elevation of 9 m, not for the asked 120 m"),
        ({"elevation": "120"}, "elevation is 120, no number"),
    ],
)
def test_an_answer_about_another_place_or_in_local_time_is_refused(parts, reason):
    with pytest.raises(SourceMalformed, match=reason):
        check_place(head(**parts), ASKED)


@pytest.mark.parametrize(
    ("asked", "answered"),
    [
        ((-18.0, 179.95), (-18.1, -179.8)),
        ((-18.0, -179.95), (-18.1, 179.8)),
        ((-18.0, -180.0), (-18.0, 180.0)),
        ((90.0, 0.0), (89.9, 137.5)),
        ((-90.0, 15.0), (-89.75, -170.0)),
        ((89.0, 10.0), (89.0, 28.0)),
        ((0.0, 0.0), (0.5, -0.5)),
    ],
)
def test_nearness_holds_across_the_date_line_and_at_the_poles(asked, answered):
    assert check_place(head(latitude=answered[0], longitude=answered[1]), Asked(*asked)) == ""


def test_an_answer_without_elevation_is_taken_with_a_note():
    assert "may be for another height" in check_place(head(elevation=None), ASKED)
    assert check_place(head(), ASKED) == ""
    assert check_place(head(elevation=None), Asked(40.71, -74.0)) == ""


def test_foreign_text_is_shown_short_on_one_printable_line():
    assert shown("a\n\tb\x1b[31m") == "a b?[31m"
    assert shown("\ud800") == "?"
    assert shown("x" * 200) == "x" * 100 + "..."
    assert shown(None) == "missing"
    assert shown({"a": 1}) == "a dict"
    assert shown([[1]]) == "a list"


def test_only_believable_numbers_are_numbers():
    assert is_number(0)
    assert is_number(-3.5)
    assert not any(map(is_number, (True, None, "1", 1e12, 10**400, float("nan"), float("inf"), [])))
