"""When a service may be asked again."""

from datetime import UTC, datetime, timedelta

import pytest
from requests.structures import CaseInsensitiveDict

from alertd.core import Answer
from alertd.sources.politeness import (
    FetchSettings,
    backoff,
    expiry,
    fresh_until,
    http_date,
    is_noted_in_future,
    retry_after,
)
from tests.fakes.http_servers import http_date as written

NOON = datetime(2026, 1, 23, 12, tzinfo=UTC)
SETTINGS = FetchSettings()
MINUTE = timedelta(minutes=1)
HOUR = timedelta(hours=1)


def ahead(**headers):
    until = expiry(CaseInsensitiveDict({name.replace("_", "-"): value for name, value in headers.items()}), NOON)
    return None if until is None else until - NOON


@pytest.mark.parametrize(
    "text",
    # the three forms of RFC 9110, section 5.6.7
    ["Sun, 06 Nov 1994 08:49:37 GMT", "Sunday, 06-Nov-94 08:49:37 GMT", "Sun Nov  6 08:49:37 1994"],
)
def test_every_form_of_an_http_date_is_read(text):
    assert http_date(text) == datetime(1994, 11, 6, 8, 49, 37, tzinfo=UTC)


@pytest.mark.parametrize(
    "text", [None, "", "0", "-1", "soon", "Sun, 99 Nov 1994 08:49:37 GMT", "Fri, 31 Dec 9999 23:59:59 -2359", "," * 300]
)
def test_what_is_no_date_is_none(text):
    assert http_date(text) is None


@pytest.mark.parametrize(
    ("headers", "minutes"),
    [
        ({}, None),
        ({"Expires": written(NOON + 31 * MINUTE)}, 31),
        ({"Expires": written(NOON + 31 * MINUTE), "Date": written(NOON)}, 31),
        ({"Expires": written(NOON + 31 * MINUTE), "Date": written(NOON - 20 * MINUTE), "Age": "1200"}, 31),
        ({"Expires": written(NOON + 20 * HOUR), "Date": written(NOON + 19.5 * HOUR)}, 30),  # its clock is 19.5 h ahead
        ({"Expires": written(NOON - 20 * HOUR), "Date": written(NOON - 21 * HOUR)}, 60),  # or ours is
        ({"Expires": "0"}, None),
        ({"Expires": "-1"}, None),
        ({"Expires": written(NOON)}, None),
        ({"Expires": written(NOON - HOUR)}, None),
        ({"Expires": "Fri, 31 Dec 9999 23:59:59 GMT", "Date": "Mon, 01 Jan 1900 00:00:00 GMT"}, None),
        ({"Cache_Control": "public, max-age=460, s-maxage=3600"}, 460 / 60),
        ({"Cache_Control": "s-maxage=3600"}, None),  # for shared caches only
        ({"Cache_Control": 'Max-Age="600"'}, 10),
        ({"Cache_Control": "max-age=600", "Age": "60"}, 9),
        ({"Cache_Control": "max-age=600", "Age": "900"}, None),
        ({"Cache_Control": "max-age=600", "Age": "much"}, 10),
        ({"Cache_Control": "max-age=600", "Expires": written(NOON + 2 * HOUR)}, 10),
        ({"Cache_Control": "max-age=0", "Expires": written(NOON + 2 * HOUR)}, None),
        ({"Cache_Control": "max-age=-5"}, None),
        ({"Cache_Control": "max-age=99999999999999999999"}, None),
        ({"Cache_Control": "no-store"}, None),
    ],
)
def test_an_expiry_is_what_the_service_says(headers, minutes):
    assert ahead(**headers) == (None if minutes is None else minutes * MINUTE)


@pytest.mark.parametrize(
    ("text", "pause"),
    [
        (None, None),
        ("", None),
        ("120", 2 * MINUTE),
        (" 120 ", 2 * MINUTE),
        ("0", timedelta(0)),
        ("-5", None),
        ("1.5", None),
        ("86400", 6 * HOUR),
        ("999999999", 6 * HOUR),
        ("9" * 5000, None),
        (written(NOON + 10 * MINUTE), 10 * MINUTE),
        (written(NOON + 10 * HOUR), 6 * HOUR),
        (written(NOON - 10 * HOUR), timedelta(0)),
        ("later", None),
        ("١٢", None),
    ],
)
def test_retry_after_is_seconds_or_a_date_within_bounds(text, pause):
    assert retry_after(text, NOON, 6 * HOUR) == pause


def test_backoff_doubles_from_one_minute_to_an_hour():
    minutes = [backoff(failures, SETTINGS, 0.5) / MINUTE for failures in (1, 2, 3, 4, 5, 6, 7, 8, 10_000)]
    assert minutes == [1, 2, 4, 8, 16, 32, 60, 60, 60]


def test_backoff_varies_by_a_fifth():
    assert backoff(1, SETTINGS, 0.0) / MINUTE == pytest.approx(0.8)
    assert backoff(7, SETTINGS, 1.0) / MINUTE == pytest.approx(72.0)


@pytest.mark.parametrize(
    ("expires", "until"),
    [
        (None, 30 * MINUTE),
        (10 * MINUTE, 10 * MINUTE),
        (timedelta(seconds=1), MINUTE),
        (24 * HOUR, 24 * HOUR),
        (24 * HOUR + MINUTE, 30 * MINUTE),  # nobody means that
        (-HOUR, 30 * MINUTE),
    ],
)
def test_an_answer_is_fresh_for_as_long_as_can_be_believed(expires, until):
    answer = Answer("u", 200, b"", NOON, None if expires is None else NOON + expires, None, None, "")
    assert fresh_until(answer, 30 * MINUTE, SETTINGS) == NOON + until


@pytest.mark.parametrize(
    ("expires", "shortest_pause", "until"),
    [
        (10 * MINUTE, 7 * 24 * HOUR, 7 * 24 * HOUR),
        (None, 7 * 24 * HOUR, 7 * 24 * HOUR),
        (2 * HOUR, HOUR, 2 * HOUR),
        (10 * MINUTE, timedelta(seconds=1), 10 * MINUTE),
        (timedelta(seconds=1), timedelta(seconds=2), MINUTE),
    ],
)
def test_what_hardly_changes_is_fresh_for_longer_than_the_service_says(expires, shortest_pause, until):
    answer = Answer("u", 200, b"", NOON, None if expires is None else NOON + expires, None, None, "")
    assert fresh_until(answer, 30 * MINUTE, SETTINGS, shortest_pause) == NOON + until


def test_what_was_noted_after_now_means_nothing():
    assert not is_noted_in_future(NOON + 5 * MINUTE, NOON)
    assert is_noted_in_future(NOON + 6 * MINUTE, NOON)
