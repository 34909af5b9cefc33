"""What refusals mean."""

from datetime import UTC, datetime

import pytest

from alertd.sources.open_meteo import blocked_until, explain
from alertd.sources.open_meteo.refusals import reason_of
from tests.fakes.open_meteo import refusal

NOW = datetime(2026, 12, 31, 22, 58, 30, 5, tzinfo=UTC)

#: Texts of the service's own source, seen.
MINUTELY = "Minutely API request limit exceeded. Please try again in one minute."
HOURLY = "Hourly API request limit exceeded. Please try again in the next hour."
DAILY = "Daily API request limit exceeded. Please try again tomorrow."
CONCURRENT = "Too many concurrent requests"


@pytest.mark.parametrize(
    ("reason", "phrase", "until"),
    [
        (MINUTELY, "limit of requests per minute", datetime(2026, 12, 31, 22, 59, tzinfo=UTC)),
        (HOURLY, "limit of requests per hour", datetime(2026, 12, 31, 23, tzinfo=UTC)),
        (DAILY, "limit of requests per day", datetime(2027, 1, 1, tzinfo=UTC)),
        (CONCURRENT, "at the same time", datetime(2026, 12, 31, 22, 59, tzinfo=UTC)),
        ("Slow down", "asked too often", datetime(2026, 12, 31, 23, tzinfo=UTC)),
    ],
)
def test_each_limit_has_its_name_and_its_end(reason, phrase, until):
    text = explain(429, {}, refusal(reason))
    assert phrase in text
    assert reason.rstrip(".") in text
    assert "\n" not in text
    assert blocked_until(429, refusal(reason), NOW) == until


def test_a_full_window_begins_the_next_one():
    assert blocked_until(429, refusal(DAILY), datetime(2026, 3, 1, tzinfo=UTC)) == datetime(2026, 3, 2, tzinfo=UTC)


def test_other_statuses_block_nothing():
    assert blocked_until(503, refusal("The service is overloaded"), NOW) is None


@pytest.mark.parametrize(
    ("status", "reason", "phrase"),
    [
        (400, "No data is available for this location", "no data for this place"),
        (400, "Latitude must be in range of -90 to 90°. Given: 95.0.", "check the site's latitude"),
        (400, "Longitude must be in range of -180 to 180°. Given: 195.0.", "check the site's longitude"),
        (400, "Forecast days is invalid. Allowed range 0 to 16. Given 20.", "ask for fewer days"),
        (400, "Your API call requests too much data. Please reduce", "ask for fewer days"),
        (400, "The requested model run is not available. x", "does not have this run"),
        (400, "Data corrupted at path ''. Cannot initialize", "check model and days"),
        (401, "x", "check api_key"),
        (403, "The supplied key is unknown", "check api_key"),
        (500, "Something went wrong.", "it failed"),
        (502, "Upstream", "it failed"),
        (503, "The service is overloaded", "it is overloaded"),
    ],
)
def test_each_reason_is_told_with_a_way_to_mend_it(status, reason, phrase):
    text = explain(status, {}, refusal(reason))
    assert phrase in text
    assert reason.rstrip(".") in text


@pytest.mark.parametrize("body", [b"", b"<html>", b"[]", b'{"reason": 3}', b'{"error": true}', b"\xff", b"[" * 100_000])
def test_a_body_without_a_reason_leaves_the_words_to_others(body):
    assert reason_of(body) == ""
    assert explain(400, {}, body) == ""
    assert "asked too often" in explain(429, {}, body)
