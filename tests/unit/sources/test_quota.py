"""Counting calls before they are made."""

from datetime import UTC, datetime, timedelta

import pytest

from alertd.sources.quota import OPEN_METEO_FREE, Quota, Spent, call_weight, refusal

NOON = datetime(2026, 1, 23, 12, tzinfo=UTC)
SMALL = Quota("example.org", per_minute=10.0, per_hour=25.0, per_day=30.0)


@pytest.mark.parametrize(
    ("locations", "variables", "days", "members", "calls"),
    [
        (1, 1, 7, 1, 1.0),  # never less than one
        (1, 10, 14, 1, 1.0),
        (1, 15, 7, 1, 1.5),  # the service's own example: 15 variables are 1.5 calls
        (1, 10, 28, 1, 2.0),  # and four weeks are two
        (1, 3, 10, 51, 15.3),  # 51 members
        (1, 3, 35, 51, 38.25),
        (4, 3, 10, 51, 61.2),
        (1000, 1, 1, 1, 1000.0),
    ],
)
def test_a_request_costs_what_the_service_counts(locations, variables, days, members, calls):
    assert call_weight(locations, variables, days, members) == pytest.approx(calls)


@pytest.mark.parametrize("amounts", [(0, 1, 7, 1), (1, 0, 7, 1), (1, 1, 0, 1), (1, 1, 7, 0), (1, 1, float("nan"), 1)])
def test_a_request_for_nothing_has_no_weight(amounts):
    with pytest.raises(ValueError, match="asks for nothing"):
        call_weight(*amounts)


@pytest.mark.parametrize(
    ("host", "is_covered"),
    [
        ("open-meteo.com", True),
        ("api.open-meteo.com", True),
        ("ensemble-api.open-meteo.com:443", True),
        ("customer-api.open-meteo.com", False),  # paid for
        ("notopen-meteo.com", False),
        ("open-meteo.com.example.org", False),
        ("127.0.0.1:8080", False),  # somebody's own server
    ],
)
def test_the_free_quota_holds_for_the_free_hosts(host, is_covered):
    assert OPEN_METEO_FREE.covers(host) is is_covered


def test_the_free_tier_is_what_its_terms_say():
    limits = (OPEN_METEO_FREE.per_minute, OPEN_METEO_FREE.per_hour, OPEN_METEO_FREE.per_day)
    assert limits == (600, 5_000, 10_000)


def spent(*calls_at):
    total = Spent()
    for calls, when in calls_at:
        total = total.at(SMALL, when).plus(calls)
    return total


def test_each_window_is_counted_by_itself():
    at = NOON + timedelta(minutes=30)
    assert refusal(SMALL, spent((9.0, at)), 1.0, at) == ""
    assert "10 calls that example.org allows in a minute are used up" in refusal(SMALL, spent((9.5, at)), 1.0, at)
    assert "after 2026-01-23T12:31:00Z" in refusal(SMALL, spent((9.5, at)), 1.0, at)
    hour = spent(*((8.0, NOON + timedelta(minutes=minute)) for minute in (0, 1, 2)))
    assert refusal(SMALL, hour, 1.0, at) == ""
    assert "after 2026-01-23T13:00:00Z" in refusal(SMALL, hour, 2.0, at)
    day = spent((10.0, NOON), (10.0, NOON + timedelta(hours=1)), (10.0, NOON + timedelta(hours=2)))
    assert "after 2026-01-24T00:00:00Z" in refusal(SMALL, day, 1.0, NOON + timedelta(hours=5))
    assert refusal(SMALL, day, 1.0, NOON + timedelta(hours=12)) == ""


def test_the_wait_that_is_told_is_the_longest_one():
    everything = spent((10.0, NOON), (10.0, NOON + timedelta(minutes=1)), (10.0, NOON + timedelta(minutes=2)))
    assert "in a day are used up" in refusal(SMALL, everything, 1.0, NOON + timedelta(minutes=2))


def test_a_request_that_is_never_allowed_says_so():
    assert "ask for fewer places" in refusal(SMALL, Spent(), 11.0, NOON)


def test_a_clock_that_was_set_back_starts_anew():
    later = spent((10.0, NOON + timedelta(days=40)))
    assert refusal(SMALL, later, 10.0, NOON) == ""
