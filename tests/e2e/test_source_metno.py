"""The MET Norway source against a real web server that behaves as the real one does, and as badly."""

import logging
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from alertd.core import SourceMalformed, SourceUnavailable
from alertd.site import MonthDay, Site
from alertd.sources import Source
from alertd.sources.fetch import Fetcher, FetchSettings, MemoryAnswers
from alertd.sources.metno import CREDITS, MetNorwaySource
from tests.fakes.http_servers import Behaviour, HttpServer, conditional, http_date, json_answer
from tests.fakes.metno import START, UPDATED, location_forecast, polite_only

NOW = datetime(2026, 1, 22, 8, 5, tzinfo=UTC)
LATER = NOW + timedelta(hours=1)
SITE = Site("North", 47.01239, -91.45679, 189.6, ZoneInfo("America/Chicago"), "kim@example.org", MonthDay(5, 20))
HEADERS = {
    "Content-Type": "application/json",
    "Expires": http_date(NOW + timedelta(minutes=31)),
    "Last-Modified": http_date(NOW - timedelta(minutes=2)),
}
GOOD = json_answer(location_forecast(), HEADERS)


@pytest.fixture
def server():
    with HttpServer() as running:
        yield running


def source_at(server, site=SITE, answers=None, **options):
    fetcher = Fetcher(
        "alertd/0.3 kim@example.org",
        answers or MemoryAnswers(),
        FetchSettings(),
        random=Random(1),
        sleep=lambda _s: None,
    )
    return MetNorwaySource("met", site, fetcher, base_url=server.url + "/2.0/", **options)


def test_it_asks_for_the_place_with_four_decimals_and_says_who_asks(server):
    server.script("/2.0/complete", GOOD)
    source_at(server).get(NOW)
    [seen] = server.seen
    assert seen.query == {"lat": "47.0123", "lon": "-91.4567", "altitude": "190"}
    assert seen.headers["User-Agent"] == "alertd/0.3 kim@example.org"
    assert seen.headers["Accept"] == "application/json"


def test_it_gives_a_forecast_with_minima_error_and_credits(server):
    server.script("/2.0/complete", GOOD)
    source = source_at(server, weight=2.0)
    assert isinstance(source, Source)
    forecast, findings = source.get(NOW)
    assert (forecast.source, forecast.problem, forecast.weight, findings) == ("met", "", 2.0, ())
    assert (forecast.forecast_reference_time, forecast.retrieved) == (UPDATED, NOW)
    assert forecast.series.times[0] == np.datetime64(START.replace(tzinfo=None), "s")
    assert min(minimum.air_temperature for minimum in forecast.minima) == -14.0
    assert forecast.error.shape == forecast.series.times.shape
    assert forecast.credits == CREDITS


@pytest.mark.parametrize(
    ("latitude", "longitude", "elevation"),
    [
        (47.000000001, -91.999999999, 189.5),
        (-54.80190001, -68.30295, -2.4),
        (90.0, 0.00000001, 0.0),
        (-90.0, 180.0, 2835.49),
        (0.00001, -179.99999, 0.4),
    ],
)
def test_no_place_on_earth_makes_it_impolite(server, latitude, longitude, elevation):
    answer = location_forecast(latitude=latitude, longitude=longitude, altitude=round(elevation))
    server.script("/2.0/complete", polite_only(json_answer(answer, HEADERS)))
    site = replace(SITE, latitude=latitude, longitude=longitude, elevation=elevation)
    assert source_at(server, site).get(NOW)[0].problem == ""


def test_own_credits_replace_the_usual_ones(server):
    server.script("/2.0/complete", GOOD)
    assert source_at(server, credits="Mirror of example.org.").get(NOW)[0].credits == "Mirror of example.org."


def test_it_does_not_ask_again_before_the_answer_expires(server):
    server.script("/2.0/complete", GOOD)
    source = source_at(server)
    for minutes in (0, 10, 30):
        source.get(NOW + timedelta(minutes=minutes))
    assert len(server.seen) == 1


def test_an_unchanged_forecast_is_confirmed_and_not_sent_again(server):
    server.script("/2.0/complete", conditional(GOOD))
    source = source_at(server)
    source.get(NOW)
    forecast, _findings = source.get(LATER)
    assert server.seen[1].headers["If-Modified-Since"] == HEADERS["Last-Modified"]
    assert (forecast.forecast_reference_time, forecast.retrieved, forecast.problem) == (UPDATED, LATER, "")


def test_a_version_that_will_end_still_gives_a_forecast_and_a_warning(server, caplog):
    server.script("/2.0/complete", json_answer(location_forecast(), HEADERS, status=203))
    with caplog.at_level(logging.WARNING):
        forecast, _findings = source_at(server).get(NOW)
    assert forecast.problem == ""
    assert "answers 203" in caplog.text


PAGE = b"<html><body><h1>403 Forbidden</h1><p>Identify yourself</p></body></html>"


@pytest.mark.parametrize(
    ("behaviour", "reason"),
    [
        (
            Behaviour(403, PAGE, {"Content-Type": "text/html"}),
            r"contact of the site \(403 Forbidden Identify yourself\)",
        ),
        (Behaviour(400, b"Mandatory parameters 'lat', 'lon' missing"), r"it answers 400: .*'lat', 'lon' missing"),
        (Behaviour(404, b"Outside of coverage area"), "no forecast for this place"),
        (Behaviour(429), "asked too often"),
        (Behaviour(503, b"service unavailable"), "it has trouble of its own; it is asked again later"),
        (Behaviour(hang_up=True), "127.0.0.1"),
    ],
)
def test_a_failure_is_one_line_and_the_last_good_forecast_stays(server, behaviour, reason):
    server.script("/2.0/complete", behaviour)
    with pytest.raises(SourceUnavailable, match=reason) as caught:
        source_at(server).get(NOW)
    assert "\n" not in str(caught.value)
    server.script("/2.0/complete", GOOD, behaviour)
    source = source_at(server)
    source.get(NOW)
    forecast, _findings = source.get(LATER)
    assert forecast.problem == str(caught.value)
    assert forecast.retrieved == NOW
    assert forecast.forecast_reference_time == UPDATED


FUTURE = location_forecast(updated=NOW + timedelta(hours=3))


@pytest.mark.parametrize(
    ("document", "reason"),
    [
        (location_forecast(error="no data at the given location"), "it answers 'no data at the given location'"),
        (location_forecast(latitude=59.93, longitude=10.72), "km from the place asked for"),
        (location_forecast(altitude=1200), "speaks of 1200 m above the sea"),
        (location_forecast(times=[]), "no step"),
        (FUTURE, "made at 2026-01-22T11:05:00Z, after 2026-01-22T0[89]:05:00Z, so its age is unknown"),
    ],
)
def test_an_answer_with_status_200_that_cannot_be_trusted_never_replaces_a_good_one(server, document, reason):
    server.script("/2.0/complete", json_answer(document))
    with pytest.raises(SourceMalformed, match=reason):
        source_at(server).get(NOW)
    server.script("/2.0/complete", GOOD, json_answer(document))
    source = source_at(server)
    source.get(NOW)
    forecast, _findings = source.get(LATER)
    assert reason.partition("Z")[0] in forecast.problem
    assert forecast.retrieved == NOW


def test_a_service_whose_clock_is_a_little_ahead_made_its_forecast_now(server):
    server.script("/2.0/complete", json_answer(location_forecast(updated=NOW + timedelta(minutes=20))))
    assert source_at(server).get(NOW)[0].forecast_reference_time == NOW


def test_an_older_forecast_does_not_take_the_place_of_a_newer_one_even_after_a_restart(server):
    older = location_forecast(updated=UPDATED - timedelta(hours=88))
    server.script("/2.0/complete", GOOD, json_answer(older))
    answers = MemoryAnswers()
    running = source_at(server, answers=answers)
    running.get(NOW)
    for source in (running, source_at(server, answers=answers)):
        forecast, _findings = source.get(LATER)
        assert (forecast.forecast_reference_time, forecast.retrieved) == (UPDATED, NOW)
        assert "answers with an older forecast than before, made 2026-01-18T" in forecast.problem
    assert len(server.seen) == 2


def test_an_answer_that_is_cut_off_is_no_forecast(server):
    server.script("/2.0/complete", Behaviour(body=GOOD.body, headers=HEADERS, cut_after=3000, claimed_length=-1))
    with pytest.raises(SourceMalformed, match="no valid JSON"):
        source_at(server).get(NOW)
