"""The MOSMIX source against a real web server."""

from datetime import UTC, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from alertd.core import SourceMalformed, SourceUnavailable
from alertd.site import MonthDay, Site
from alertd.sources import Source
from alertd.sources.fetch import Fetcher, FetchSettings, MemoryAnswers
from alertd.sources.mosmix import CREDITS, MosmixSource
from tests.fakes.http_servers import Behaviour, HttpServer
from tests.fakes.mosmix import ISSUED, STATION, hours, kml, kmz, rows, zipped

NOW = datetime(2026, 1, 22, 9, 50, tzinfo=UTC)
SITE = Site("North", 47.0123, -91.4567, 350.0, ZoneInfo("America/Chicago"), "kim@example.org", MonthDay(5, 20))
PATH = f"/single/{STATION}/kml/MOSMIX_L_LATEST_{STATION}.kmz"
GOOD = Behaviour(body=kmz(), headers={"Content-Type": "application/vnd.google-earth.kmz"})


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
    return MosmixSource("dwd", site, fetcher, station=STATION, base_url=server.url + "/single", **options)


def test_it_gives_the_forecast_of_the_station_at_the_elevation_of_the_site(server):
    server.script(PATH, GOOD)
    source = source_at(server, weight=0.5)
    assert isinstance(source, Source)
    forecast, findings = source.get(NOW)
    assert (forecast.source, forecast.problem, forecast.weight, findings) == ("dwd", "", 0.5, ())
    assert (forecast.forecast_reference_time, forecast.retrieved) == (ISSUED, NOW)
    # The station is at 250 m, the site at 350 m: 0.65 °C colder.
    assert forecast.series.air_temperature[0] == pytest.approx(np.array(rows()["TTT"]) - 273.15 - 0.65)
    assert forecast.minima[0].air_temperature == pytest.approx(rows()["TN"][20] - 273.15 - 0.65)
    assert forecast.error[0] == pytest.approx(1.2 * np.sqrt(np.pi / 2.0))
    assert forecast.credits == CREDITS
    assert "Deutscher Wetterdienst" in CREDITS


def test_it_does_not_ask_again_at_once(server):
    server.script(PATH, GOOD)
    source = source_at(server)
    source.get(NOW)
    source.get(NOW + timedelta(minutes=20))
    assert len(server.seen) == 1


def test_a_station_that_does_not_exist_is_told_as_that(server):
    with pytest.raises(SourceUnavailable, match="there is no forecast for this station; check station"):
        source_at(server).get(NOW)


BAD = {
    "station X9001 is 50 km from the site, more than 20 km; choose a nearer station": GOOD.body,
    "the file is for station 'X9002'": kmz(station="X9002"),
    "made at 2026-01-22T20:00:00Z": kmz(issued=ISSUED + timedelta(hours=11)),
    "is no whole KMZ file": GOOD.body[:500],
    "is a web page instead of a KMZ file": b"<html><body>Wartung</body></html>",
    "longer than 8 MiB": zipped({"bomb.kml": kml() + b" " * 50_000_000}),
    "declares a document type or entities": kmz(prolog='<!DOCTYPE kml [<!ENTITY a "b">]>'),
}


@pytest.mark.parametrize("reason", list(BAD))
def test_a_file_that_cannot_be_trusted_never_replaces_a_good_one(server, reason):
    body, near = BAD[reason], "-91.4567,47.0123,350.0"
    server.script(PATH, Behaviour(body=kmz(coordinates=near)), Behaviour(body=body))
    far = "-90.8000,47.0123,350.0"
    if body is GOOD.body:
        server.script(PATH, Behaviour(body=kmz(coordinates=near)), Behaviour(body=kmz(coordinates=far)))
    source = source_at(server, largest_distance=20_000.0)
    source.get(NOW)
    forecast, _findings = source.get(NOW + timedelta(hours=1))
    assert reason in forecast.problem
    assert forecast.retrieved == NOW


def test_an_older_forecast_does_not_take_the_place_of_a_newer_one_even_after_a_restart(server):
    server.script(PATH, GOOD, Behaviour(body=kmz(issued=ISSUED - timedelta(hours=6))))
    answers = MemoryAnswers()
    running = source_at(server, answers=answers)
    running.get(NOW)
    for source in (running, source_at(server, answers=answers)):
        forecast, _findings = source.get(NOW + timedelta(hours=1))
        assert (forecast.forecast_reference_time, forecast.retrieved) == (ISSUED, NOW)
        assert "answers with an older forecast than before, made 2026-01-22T03:" in forecast.problem
    assert len(server.seen) == 2


def test_without_an_earlier_forecast_a_distant_station_is_refused(server):
    server.script(PATH, Behaviour(body=kmz(coordinates="-85.0,47.0123,350.0")))
    with pytest.raises(SourceMalformed, match="km from the site, more than 50 km; choose a nearer station"):
        source_at(server).get(NOW)


def test_a_station_across_the_date_line_may_be_near(server):
    server.script(PATH, Behaviour(body=kmz(coordinates="179.95,-16.5,20.0", times=hours())))
    site = Site("East", -16.5, -179.95, 20.0, ZoneInfo("Pacific/Fiji"), "kim@example.org", MonthDay(10, 1))
    assert source_at(server, site).get(NOW)[0].series.n_times == 48


@pytest.mark.parametrize("station", ["", "../etc", "10384/x", "a b", "x" * 17])
def test_what_is_no_id_is_never_asked_for(server, station):
    with pytest.raises(ValueError, match="is no id of a station"):
        MosmixSource("dwd", SITE, Fetcher("alertd/0.3", MemoryAnswers()), station=station, base_url=server.url)
    assert server.seen == []
