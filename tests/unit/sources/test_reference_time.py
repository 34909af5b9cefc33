from datetime import UTC, datetime, timedelta

import pytest

from alertd.core import SourceMalformed
from alertd.sources.reference_time import is_older, older_forecast, refuse_future, tells_of_older

NOW = datetime(2026, 1, 22, 9, tzinfo=UTC)


def test_a_service_whose_clock_is_a_little_ahead_is_believed():
    assert refuse_future(NOW + timedelta(hours=1), NOW) is None


def test_a_forecast_from_the_future_is_refused():
    with pytest.raises(SourceMalformed, match="made at 2026-01-22T10:00:01Z, after 2026-01-22T09:00:00Z, so its age"):
        refuse_future(NOW + timedelta(hours=1, seconds=1), NOW)


HOUR = timedelta(hours=1)


@pytest.mark.parametrize(
    ("made", "before", "retrieved", "is_it"),
    [
        (NOW - 3 * HOUR, NOW - 2 * HOUR, NOW - HOUR, True),
        (NOW - 2 * HOUR, NOW - 2 * HOUR, NOW - HOUR, False),
        (NOW - HOUR, NOW - 2 * HOUR, NOW - HOUR, False),
    ],
)
def test_a_forecast_is_older_if_it_was_made_before_the_one_that_is_kept(made, before, retrieved, is_it):
    assert is_older(made, before, retrieved) is is_it


def test_a_claim_that_lies_ahead_of_its_retrieval_holds_nothing_off_that_was_made_after_it():
    claimed, retrieved = NOW + HOUR, NOW
    assert not is_older(NOW + timedelta(minutes=1), claimed, retrieved)
    assert is_older(NOW - timedelta(minutes=1), claimed, retrieved)


def test_a_claim_that_cannot_be_true_counts_for_nothing():
    assert not is_older(NOW - 6 * HOUR, NOW + HOUR + timedelta(seconds=1), NOW)


def test_older_forecasts_are_told_apart_from_other_problems():
    told = older_forecast("api.example.org", NOW)
    assert told == "api.example.org answers with an older forecast than before, made 2026-01-22T09:00:00Z"
    assert tells_of_older(told)
    assert not tells_of_older("api.example.org answered 500")
    assert not tells_of_older("")
