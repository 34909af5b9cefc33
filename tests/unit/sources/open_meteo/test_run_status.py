"""When a model was run, and from which run an answer is."""

import json
from datetime import UTC, datetime, timedelta

import pytest

from alertd.core import SourceMalformed
from alertd.sources.open_meteo import parse_forecast, parse_status, run_of
from alertd.sources.open_meteo.models import Model
from alertd.sources.open_meteo.run_status import latest_possible_run
from tests.fakes.open_meteo import ASKED, START, body, status

RUN = datetime(2026, 1, 23, 6, tzinfo=UTC)


def test_a_status_says_when_the_model_was_run():
    told = parse_status(json.dumps(status(RUN)).encode())
    assert told.initialisation == RUN
    assert told.availability == RUN + timedelta(hours=4)
    assert told.update_interval == timedelta(hours=6)


@pytest.mark.parametrize(
    ("parts", "reason"),
    [
        ({"last_run_initialisation_time": None}, "last_run_initialisation_time of missing"),
        ({"last_run_initialisation_time": "x"}, "last_run_initialisation_time of x"),
        ({"last_run_availability_time": 10**12}, "last_run_availability_time"),
        ({"last_run_availability_time": 0}, "before it was begun"),
        ({"update_interval_seconds": 0}, "update_interval_seconds of 0"),
        ({"update_interval_seconds": True}, "update_interval_seconds of True"),
        ({"update_interval_seconds": 10**9}, "update_interval_seconds"),
    ],
)
def test_a_status_that_cannot_be_true_is_refused(parts, reason):
    with pytest.raises(SourceMalformed, match=reason):
        parse_status(json.dumps(status(RUN) | parts).encode())


@pytest.mark.parametrize(
    ("retrieved", "run"),
    [
        (RUN + timedelta(hours=4, minutes=10), RUN),
        (RUN + timedelta(hours=9), RUN),
        (RUN + timedelta(hours=4, minutes=9), RUN - timedelta(hours=6)),
        (RUN - timedelta(hours=1, minutes=50), RUN - timedelta(hours=6)),
        (RUN - timedelta(hours=1, minutes=51), RUN - timedelta(hours=12)),
    ],
)
def test_an_answer_is_of_the_last_run_that_every_server_had_when_it_was_got(retrieved, run):
    assert run_of(parse_status(json.dumps(status(RUN)).encode()), retrieved) == run


def test_an_answer_that_begins_days_ago_was_not_made_today():
    series = parse_forecast(body({"temperature_2m": [1.0]}), ASKED, Model("best_match")).series
    assert latest_possible_run(series, START + timedelta(hours=9)) == START + timedelta(hours=9)
    assert latest_possible_run(series, START + timedelta(days=4)) == START + timedelta(days=1)
