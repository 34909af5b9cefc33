"""The US National Weather Service as a source, against a real server on loopback that behaves as the service did."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.core import SourceMalformed, SourceUnavailable
from alertd.sources.answer import MemoryAnswers
from alertd.sources.fetch import Fetcher
from alertd.sources.nws import NwsAlertSource, NwsObservationSource, NwsSource, WarnedSource
from alertd.sources.nws.points import PointSource
from alertd.sources.nws.problems import PHRASES
from alertd.sources.protocol import Source
from alertd.weather import bind_minima, unbound_minima
from tests.fakes import nws
from tests.fakes.http_servers import Behaviour, HttpServer, conditional, http_date

NOW = nws.NOW
HOURLY_PATH = f"{nws.CELL_PATH}/forecast/hourly"


@pytest.fixture
def server():
    with HttpServer() as running:
        nws.serve_all(running)
        yield running


@pytest.fixture
def fetcher():
    return Fetcher("alertd/0 keeper@example.org", MemoryAnswers(), random=random.Random(1), sleep=lambda _seconds: None)


@pytest.fixture
def source(server, fetcher):
    return NwsSource("nws", nws.site(), fetcher, base_url=server.url)


def source_over(server, answers):
    """Return a source that was just started, over stored answers."""
    fetcher = Fetcher("alertd/0 keeper@example.org", answers, random=random.Random(1), sleep=lambda _seconds: None)
    return NwsSource("nws", nws.site(), fetcher, base_url=server.url)


def paths(server):
    return [seen.path for seen in server.seen]


def test_the_forecast_of_a_garden(server, source):
    forecast, findings = source.get(NOW)
    assert isinstance(source, Source)
    assert paths(server) == [f"/points/{nws.POSITION}", nws.CELL_PATH]
    assert findings == ()
    assert forecast.source == "nws"
    assert forecast.problem == ""
    assert forecast.forecast_reference_time == datetime(2026, 1, 22, 17, 12, 50, tzinfo=UTC)
    assert forecast.retrieved == NOW
    assert forecast.credits == (
        "Forecast data: US National Weather Service (public domain). "
        "Modified by this software; not an official NWS product."
    )
    assert forecast.weight == 1.0
    # it is 18:30, so 17:00 is over for more than an hour; 37 °F is 2.78 °C, 19 °F is -7.22 °C
    assert forecast.series.times[0] == np.datetime64("2026-01-22T18:00:00")
    assert forecast.series.air_temperature[0, 0] == pytest.approx(2.78, abs=0.01)
    assert np.nanmin(forecast.series.air_temperature) == pytest.approx(-7.22, abs=0.01)
    (night,) = forecast.minima  # the minimum of the morning before is over
    assert (night.start.hour, night.end.hour) == (0, 14)
    assert night.air_temperature == pytest.approx(-8.89, abs=0.01)  # 16 °F


def test_requests_say_who_asks_and_what_for(server, source):
    source.get(NOW)
    for seen in server.seen:
        assert seen.headers["User-Agent"] == "alertd/0 keeper@example.org"
        assert seen.headers["Accept"] == "application/geo+json"
        assert seen.query == {}


def test_a_garden_above_its_cell_is_colder_by_the_lapse_rate(server, fetcher):
    source = NwsSource("nws", nws.site(elevation=500.0), fetcher, base_url=server.url)
    forecast, _findings = source.get(NOW)
    # 200 m at 6.5 K/km are 1.3 K
    assert np.nanmin(forecast.series.air_temperature) == pytest.approx(-7.22 - 1.3, abs=0.01)
    assert forecast.minima[0].air_temperature == pytest.approx(-8.89 - 1.3, abs=0.01)


def test_a_cell_that_does_not_say_how_high_it_is_is_taken_as_it_is(server, fetcher):
    server.script(nws.CELL_PATH, nws.geojson(nws.gridpoint(elevation=...)))
    source = NwsSource("nws", nws.site(elevation=500.0), fetcher, base_url=server.url, credits="ours", weight=2.0)
    forecast, _findings = source.get(NOW)
    assert np.nanmin(forecast.series.air_temperature) == pytest.approx(-7.22, abs=0.01)
    assert (forecast.credits, forecast.weight) == ("ours", 2.0)


def test_nothing_is_asked_again_while_the_answers_are_fresh(server, source):
    source.get(NOW)
    again, _findings = source.get(NOW + timedelta(minutes=20))
    assert len(server.seen) == 2
    assert again.retrieved == NOW
    source.get(NOW + timedelta(hours=3))
    assert paths(server)[2:] == [nws.CELL_PATH]  # the cell is known for a week
    source.get(NOW + timedelta(hours=23))
    assert f"/points/{nws.POSITION}" not in paths(server)[2:]


def test_the_cell_is_asked_anew_after_a_week(server, source):
    source.get(NOW)
    server.script(
        nws.CELL_PATH,
        nws.geojson(
            nws.gridpoint(
                updateTime="2026-01-30T17:00:00Z",
                temperature=nws.layer("wmoUnit:degC", ("2026-01-30T17:00:00Z/P1D", -3)),
            )
        ),
    )
    source.get(NOW + timedelta(days=8))
    assert paths(server)[2:] == [f"/points/{nws.POSITION}", nws.CELL_PATH]


EXPIRING = {"Cache_Control": "public, max-age=600"}


def points_again(server):
    return paths(server).count(f"/points/{nws.POSITION}") - 1


def test_the_cell_is_known_for_a_week_although_the_service_lets_it_expire_within_minutes(server, fetcher):
    server.script(f"/points/{nws.POSITION}", nws.geojson(nws.points(), **EXPIRING))
    source = PointSource("nws", nws.site(), fetcher, base_url=server.url)
    for hours in (0, 1, 24, 167):
        source.get(NOW + timedelta(hours=hours))
    assert points_again(server) == 0
    source.get(NOW + timedelta(hours=169))
    assert points_again(server) == 1


def test_a_cell_that_is_gone_is_asked_anew_at_once_however_young_its_mapping(server, source):
    server.script(
        f"/points/{nws.POSITION}",
        nws.geojson(nws.points(), **EXPIRING),
        nws.geojson(nws.points(path=nws.OTHER_CELL_PATH), **EXPIRING),
    )
    server.script(nws.OTHER_CELL_PATH, nws.geojson(nws.gridpoint(path=nws.OTHER_CELL_PATH)))
    source.get(NOW)
    server.script(nws.CELL_PATH, nws.problem("InvalidPoint", 404))
    forecast, _findings = source.get(NOW + timedelta(hours=2))
    assert (forecast.problem, forecast.retrieved) == ("", NOW + timedelta(hours=2))
    assert points_again(server) == 1
    source.get(NOW + timedelta(hours=4))
    assert points_again(server) == 1  # and the new one is known in its turn


@pytest.mark.parametrize(
    "wrong",
    [
        nws.gridpoint(path="/gridpoints/ZZS/7,8"),
        {**nws.gridpoint(), "geometry": {"type": "Point", "coordinates": [nws.LONGITUDE, 40.0]}},
    ],
)
def test_a_cell_of_another_place_is_looked_for_at_once(server, source, wrong):
    server.script(
        f"/points/{nws.POSITION}",
        nws.geojson(nws.points(), **EXPIRING),
        nws.geojson(nws.points(path=nws.OTHER_CELL_PATH), **EXPIRING),
    )
    server.script(nws.CELL_PATH, nws.geojson(wrong))
    server.script(nws.OTHER_CELL_PATH, nws.geojson(nws.gridpoint(path=nws.OTHER_CELL_PATH)))
    forecast, _findings = source.get(NOW)
    assert forecast.problem == ""
    assert paths(server)[-2:] == [f"/points/{nws.POSITION}", nws.OTHER_CELL_PATH]


def test_a_cell_that_stays_one_of_another_place_is_looked_for_once_a_day(server, source):
    server.script(f"/points/{nws.POSITION}", nws.geojson(nws.points(), **EXPIRING))
    server.script(nws.CELL_PATH, nws.geojson(nws.gridpoint(path=nws.OTHER_CELL_PATH)))
    for minutes in (0, 20, 50, 100, 150):
        source.get(NOW + timedelta(minutes=minutes))
    assert paths(server).count(nws.CELL_PATH) >= 3
    assert points_again(server) == 1


def test_the_stations_near_a_cell_are_known_for_a_day(server, source, fetcher):
    server.script(f"{nws.CELL_PATH}/stations", nws.geojson(nws.stations(), **EXPIRING))
    observations = NwsObservationSource("nws", nws.site(), fetcher, source.points, base_url=server.url)
    for hours in (0, 1, 2):
        observations.get(NOW + timedelta(hours=hours))
    assert paths(server).count(f"{nws.CELL_PATH}/stations") == 1
    with pytest.raises(SourceUnavailable):  # by then the reports are old
        observations.get(NOW + timedelta(hours=25))
    assert paths(server).count(f"{nws.CELL_PATH}/stations") == 2


def test_an_unchanged_forecast_is_confirmed_without_a_body(server, source):
    last = datetime(2026, 1, 22, 17, 12, 50, tzinfo=UTC)
    server.script(nws.CELL_PATH, conditional(nws.geojson(nws.gridpoint(), Last_Modified=http_date(last))))
    source.get(NOW)
    later = NOW + timedelta(hours=2)
    forecast, _findings = source.get(later)
    assert server.seen[-1].headers["If-Modified-Since"] == http_date(last)
    assert (forecast.retrieved, forecast.problem) == (later, "")


def test_a_stale_grid_with_fresh_headers_is_as_old_as_it_says(server, source):
    """An answer of 88 h before, with Last-Modified ahead of the clock (seen in a user's report)."""
    stale = NOW - timedelta(hours=88)
    server.script(
        nws.CELL_PATH,
        nws.geojson(
            nws.gridpoint(updateTime=stale.isoformat()),
            Last_Modified=http_date(NOW + timedelta(hours=18)),
            Expires=http_date(NOW + timedelta(minutes=10)),
        ),
    )
    forecast, _findings = source.get(NOW)
    assert forecast.forecast_reference_time == stale
    assert forecast.retrieved == NOW


def test_older_raw_layers_do_not_take_the_place_of_newer_ones_even_after_a_restart(server):
    older = nws.gridpoint(updateTime="2026-01-20T05:00:00Z")
    server.script(nws.CELL_PATH, nws.geojson(nws.gridpoint()), nws.geojson(older))
    answers = MemoryAnswers()
    source_over(server, answers).get(NOW)
    later = NOW + timedelta(hours=2)
    running = source_over(server, answers)
    for source in (running, running, source_over(server, answers)):
        forecast, _findings = source.get(later)
        assert forecast.forecast_reference_time == datetime(2026, 1, 22, 17, 12, 50, tzinfo=UTC)
        assert forecast.retrieved == NOW
        assert "answers with an older forecast than before, made 2026-01-20T05:00:00Z" in forecast.problem
        assert len(forecast.minima) == 1
    assert paths(server).count(nws.CELL_PATH) == 2


def test_an_older_hourly_forecast_does_not_take_the_place_of_a_newer_one_even_after_a_restart(server):
    server.script(nws.CELL_PATH, nws.problem("UnexpectedProblem", 500))
    good = nws.hourly(*(nws.period(f"22T{hour}", 40 - hour) for hour in range(13, 20)))
    older = nws.hourly(*(nws.period(f"22T{hour}", 40) for hour in range(13, 20)), updateTime="2026-01-20T05:00:00Z")
    server.script(HOURLY_PATH, nws.geojson(good), nws.geojson(older))
    answers = MemoryAnswers()
    running = source_over(server, answers)
    running.get(NOW)
    for source in (running, source_over(server, answers)):
        forecast, _findings = source.get(NOW + timedelta(hours=2))
        assert forecast.forecast_reference_time == datetime(2026, 1, 22, 17, 12, 50, tzinfo=UTC)
        assert "answers with an older forecast than before, made 2026-01-20T05:00:00Z" in forecast.problem
    assert paths(server).count(HOURLY_PATH) == 2


def test_a_grid_of_the_future_is_refused(server, source):
    server.script(nws.CELL_PATH, nws.geojson(nws.gridpoint(updateTime="2026-01-22T20:00:00Z")))
    server.script(HOURLY_PATH, Behaviour(500))
    with pytest.raises(SourceMalformed, match="made at 2026-01-22T20:00:00Z"):
        source.get(NOW)


@pytest.mark.parametrize(
    ("failing", "reason"),
    [
        (nws.problem("UnexpectedProblem", 500), PHRASES["UnexpectedProblem"]),
        (nws.problem("ForecastGridExpired", 503), PHRASES["ForecastGridExpired"]),
        (nws.problem("UnavailableWebService", 503, urn=True), PHRASES["UnavailableWebService"]),
        (nws.geojson(nws.gridpoint(temperature=...)), "there is no air temperature"),
        (nws.geojson(nws.gridpoint(temperature=nws.layer("wmoUnit:odd", ("NOW/PT1H", 1)))), "'wmoUnit:odd'"),
        (nws.geojson(nws.gridpoint(path=nws.OTHER_CELL_PATH)), "grid cell ZZR/5,6 and not for ZZQ/12,34"),
        (
            nws.geojson(nws.gridpoint(temperature=nws.layer("wmoUnit:degC", ("2026-01-22T11:00:00Z/P2D", 1000)))),
            "outside -90 to 60 °C",
        ),
        (Behaviour(200, nws.body(nws.gridpoint())[:2000], {"Content-Type": "application/geo+json"}), "no valid JSON"),
        (Behaviour(hang_up=True), "127.0.0.1"),
    ],
)
def test_the_hourly_forecast_stands_in_for_raw_layers_that_fail_and_says_so(server, source, failing, reason):
    server.script(nws.CELL_PATH, failing)
    forecast, _findings = source.get(NOW)
    assert forecast.series.n_times == 4
    assert forecast.series.air_temperature[0, 0] == pytest.approx(-2.78, abs=0.01)  # 27 °F
    assert forecast.minima == ()
    assert reason in forecast.problem
    assert forecast.problem.endswith("so this is the hourly forecast, without the nights' own minima")
    # only a cell that is gone, or of another place, is looked for again
    assert paths(server).count(f"/points/{nws.POSITION}") == (2 if "and not for" in reason else 1)


def test_a_second_try_after_an_unexpected_problem_is_enough(server, source):
    server.script(nws.CELL_PATH, nws.problem("UnexpectedProblem", 500), nws.geojson(nws.gridpoint()))
    forecast, _findings = source.get(NOW)
    assert forecast.problem == ""
    assert len(forecast.minima) == 1


def test_if_everything_fails_both_reasons_are_told(server, source):
    server.script(nws.CELL_PATH, nws.problem("ForecastGridExpired", 503))
    server.script(HOURLY_PATH, nws.geojson(nws.hourly(periods=[])))
    with pytest.raises(SourceUnavailable, match=r"expired.*the hourly forecast: .*no air temperature"):
        source.get(NOW)
    server.script(nws.CELL_PATH, nws.geojson(nws.gridpoint(temperature=...)))
    with pytest.raises(SourceMalformed, match=r"no air temperature.*the hourly forecast: .*no air temperature"):
        source.get(NOW + timedelta(hours=2))


def test_young_raw_layers_are_kept_rather_than_an_hourly_forecast(server, source):
    source.get(NOW)
    server.script(nws.CELL_PATH, nws.problem("UnavailableWebService", 503))
    forecast, _findings = source.get(NOW + timedelta(hours=2))
    assert PHRASES["UnavailableWebService"] in forecast.problem
    assert forecast.retrieved == NOW
    assert len(forecast.minima) == 1
    assert HOURLY_PATH not in paths(server)


def test_old_raw_layers_give_way_to_a_newer_hourly_forecast_only(server, source):
    source.get(NOW)
    server.script(nws.CELL_PATH, nws.problem("UnavailableWebService", 503))
    later = NOW + timedelta(hours=4)
    forecast, _findings = source.get(later)
    assert len(forecast.minima) == 1  # the hourly forecast was made from the same update, and has ended
    newer = nws.hourly(nws.period("22T18", 20), updateTime="2026-01-22T22:00:00Z")
    server.script(HOURLY_PATH, nws.geojson(newer))
    forecast, _findings = source.get(later + timedelta(hours=1, minutes=5))
    assert forecast.forecast_reference_time == datetime(2026, 1, 22, 22, tzinfo=UTC)
    assert "hourly forecast" in forecast.problem
    server.script(HOURLY_PATH, nws.problem("UnavailableWebService", 503))
    forecast, _findings = source.get(later + timedelta(hours=1, minutes=10))
    assert forecast.forecast_reference_time == datetime(2026, 1, 22, 22, tzinfo=UTC)


def test_an_hourly_forecast_that_is_no_newer_does_not_take_the_place_of_raw_layers(server, source):
    source.get(NOW)
    server.script(nws.CELL_PATH, nws.problem("UnavailableWebService", 503))
    server.script(HOURLY_PATH, nws.geojson(nws.hourly(nws.period("22T20", 20))))
    forecast, _findings = source.get(NOW + timedelta(hours=4))
    assert len(forecast.minima) == 1
    assert forecast.series.n_times > 4


def test_an_hourly_forecast_that_fails_too_is_told_as_an_old_one(server, source):
    server.script(nws.CELL_PATH, nws.problem("UnavailableWebService", 503))
    source.get(NOW)
    server.script(HOURLY_PATH, nws.problem("UnexpectedProblem", 500))
    forecast, _findings = source.get(NOW + timedelta(hours=2))
    assert "and not a new one" in forecast.problem
    assert PHRASES["UnexpectedProblem"] in forecast.problem


def test_a_forecast_that_has_ended_is_none(server, source):
    source.get(NOW)
    server.script(nws.CELL_PATH, nws.problem("UnexpectedProblem", 500))
    with pytest.raises(SourceUnavailable, match="ends at 2026-01-24T20:00:00Z"):
        source.get(NOW + timedelta(days=4))


def test_a_cell_that_is_gone_is_looked_for_once(server, source):
    server.script(nws.CELL_PATH, nws.problem("InvalidPoint", 404))
    server.script(
        f"/points/{nws.POSITION}", nws.geojson(nws.points()), nws.geojson(nws.points(path=nws.OTHER_CELL_PATH))
    )
    server.script(nws.OTHER_CELL_PATH, nws.geojson(nws.gridpoint(path=nws.OTHER_CELL_PATH)))
    forecast, _findings = source.get(NOW)
    assert forecast.problem == ""
    expected = [f"/points/{nws.POSITION}", nws.CELL_PATH, f"/points/{nws.POSITION}", nws.OTHER_CELL_PATH]
    assert paths(server) == expected
    source.get(NOW + timedelta(hours=2))
    assert paths(server) == [*expected, nws.OTHER_CELL_PATH]  # the new cell is remembered


def test_a_cell_that_is_gone_for_good_is_looked_for_once_a_day(server, source):
    server.script(nws.CELL_PATH, nws.problem("InvalidPoint", 404))
    server.script(HOURLY_PATH, nws.problem("InvalidPoint", 404))
    for minutes in (0, 60, 180, 400, 800):
        with pytest.raises(SourceUnavailable, match="no forecast for this position"):
            source.get(NOW + timedelta(minutes=minutes))
    assert paths(server).count(f"/points/{nws.POSITION}") == 2


def test_stored_raw_layers_are_kept_if_their_cell_is_gone_and_no_other_is_found(server, source):
    source.get(NOW)
    server.script(nws.CELL_PATH, nws.problem("NotFound", 404))
    server.script(f"/points/{nws.POSITION}", nws.problem("UnexpectedProblem", 500))
    forecast, _findings = source.get(NOW + timedelta(hours=2))
    assert PHRASES["NotFound"] in forecast.problem
    assert forecast.retrieved == NOW


def test_a_position_outside_the_country_is_told(server, source):
    server.script(f"/points/{nws.POSITION}", nws.problem("InvalidPoint", 404))
    with pytest.raises(SourceUnavailable, match="must lie in the United States"):
        source.get(NOW)


def test_points_of_another_place_are_refused(server, source):
    server.script(f"/points/{nws.POSITION}", nws.geojson(nws.points(latitude=40.0)))
    with pytest.raises(SourceMalformed, match="not for the position asked"):
        source.get(NOW)


def test_a_redirect_to_the_position_that_the_service_wants_is_followed(server, source):
    server.script(f"/points/{nws.POSITION}", Behaviour(301, headers={"Location": "/points/44.1234,-72.5000"}))
    server.script("/points/44.1234,-72.5000", nws.geojson(nws.points()))
    assert source.get(NOW)[0].problem == ""


def test_a_minimum_that_no_night_has_is_left_out_and_told(server, source):
    odd = nws.layer("wmoUnit:degC", ("2026-01-23T00:00:00Z/PT14H", -40), ("2026-01-24T00:00:00Z/PT14H", 1000))
    server.script(nws.CELL_PATH, nws.geojson(nws.gridpoint(minTemperature=odd)))
    forecast, findings = source.get(NOW)
    assert forecast.minima == ()
    assert [finding.count for finding in findings] == [1, 1]


def told_hours(forecast, now):
    """Return air temperatures [°F] as people are told them, from an instant on."""
    assert unbound_minima(forecast.series, forecast.minima) == ()
    told = bind_minima(forecast.series, forecast.minima).window(now, now + timedelta(days=2))
    return np.round(told.air_temperature[0] * 1.8 + 32, 1)


def test_a_night_stays_as_cold_as_stated_until_its_dawn(server, source):
    made = nws.geojson(nws.gridpoint(updateTime="2026-01-23T04:00:00Z"))
    server.script(nws.CELL_PATH, made)
    before_dawn = datetime(2026, 1, 23, 10, 30, tzinfo=UTC)  # the hours from 12 on have 19 °F, and the night 16 °F
    forecast, _findings = source.get(before_dawn)
    told = told_hours(forecast, before_dawn)
    assert told.min() == 16.0
    assert told[1] == 16.0


def test_a_dawn_that_the_layers_do_not_show_any_more_makes_no_frost_by_day(server, source):
    warming = [(f"2026-01-22T{hour}:00:00Z/PT1H", nws.celsius_of(16 + 2 * (hour - 13))) for hour in range(13, 24)]
    night = [("2026-01-23T00:00:00Z/PT14H", nws.celsius_of(24)), ("2026-01-23T14:00:00Z/P1D", nws.celsius_of(36))]
    minima = [("2026-01-22T13:00:00Z/PT3H", nws.celsius_of(10)), ("2026-01-23T00:00:00Z/PT14H", nws.celsius_of(20))]
    grid = nws.gridpoint(
        updateTime="2026-01-22T12:50:00Z",
        temperature=nws.layer("wmoUnit:degC", *warming, *night),
        minTemperature=nws.layer("wmoUnit:degC", *minima),
    )
    server.script(nws.CELL_PATH, nws.geojson(grid))
    now = datetime(2026, 1, 22, 12, 55, tzinfo=UTC)
    forecast, _findings = source.get(now)
    told = told_hours(forecast, now)
    assert list(told[:3]) == [16.0, 18.0, 20.0]
    assert told[11:26].min() == 20.0  # the night to come has lost nothing


def test_a_single_temperature_that_cannot_be_true_is_left_out_and_told(server, source):
    odd = nws.gridpoint()
    odd["properties"]["temperature"]["values"][6]["value"] = 200  # 20:00
    server.script(nws.CELL_PATH, nws.geojson(odd))
    forecast, findings = source.get(NOW)
    assert np.isnan(forecast.series.air_temperature[0, 2])
    assert len(findings) == 1


def test_reports_of_the_three_nearest_stations(server, source, fetcher):
    observations = NwsObservationSource("nws", nws.site(), fetcher, source.points, base_url=server.url)
    reports = observations.get(NOW)
    # ZZQ2 lies 0.1° of longitude (8 km) away, ZZQ1 0.0766° of latitude (8.5 km), ZZQ3 31 km
    assert [report.station.identifier for report in reports] == ["ZZQ2", "ZZQ1", "ZZQ3"]
    assert [report.measured.air_temperature for report in reports] == [2.2, 1.1, 3.3]
    assert [report.distance / 1000.0 for report in reports] == pytest.approx([8.0, 8.5, 30.8], abs=0.1)
    assert {(report.retrieved, report.problem) for report in reports} == {(NOW, "")}
    assert not [path for path in paths(server) if "ZZQ4" in path]


def test_stations_without_a_usable_report_are_skipped(server, source, fetcher):
    server.script("/stations/ZZQ2/observations/latest", nws.geojson(nws.observation("ZZQ2", None, "Z")))
    server.script("/stations/ZZQ1/observations/latest", nws.geojson(nws.observation("ZZQ1", 1.1, "X")))
    observations = NwsObservationSource("nws", nws.site(), fetcher, source.points, base_url=server.url)
    assert [report.station.identifier for report in observations.get(NOW)] == ["ZZQ3"]


def test_if_no_station_has_a_usable_report_each_reason_is_told(server, source, fetcher):
    old = nws.observation("ZZQ1", 1.1, timestamp="2026-01-22T14:53:00+00:00")
    ahead = nws.observation("ZZQ2", 1.1, timestamp="2026-01-22T19:53:00+00:00")
    server.script("/stations/ZZQ1/observations/latest", nws.geojson(old))
    server.script("/stations/ZZQ2/observations/latest", nws.geojson(ahead))
    server.script("/stations/ZZQ3/observations/latest", nws.problem("NotFound", 404))
    observations = NwsObservationSource("nws", nws.site(), fetcher, source.points, base_url=server.url)
    with pytest.raises(SourceUnavailable) as raised:
        observations.get(NOW)
    for text in ("ZZQ1: the last report is of 2026-01-22T14:53:00Z", "ZZQ2: the last", "ZZQ3: ", PHRASES["NotFound"]):
        assert text in str(raised.value)


def test_far_stations_are_not_asked(server, source, fetcher):
    far = {"features": [nws.station("ZZQ9", 46.0, -72.5)]}
    server.script(f"{nws.CELL_PATH}/stations", nws.geojson(far))
    observations = NwsObservationSource("nws", nws.site(), fetcher, source.points, base_url=server.url)
    with pytest.raises(SourceUnavailable, match="no station is within 100 km"):
        observations.get(NOW)


def test_active_alerts_at_the_position(server, fetcher):
    source = NwsAlertSource("nws", nws.site(), fetcher, base_url=server.url)
    alerts = source.get(NOW)
    assert [alert.headline for alert in alerts.alerts] == ["Freeze Warning until 9 AM EST Friday"]
    assert (alerts.retrieved, alerts.problem) == (NOW, "")
    assert server.seen[0].query == {"point": nws.POSITION, "status": "actual"}
    assert server.seen[0].target == f"/alerts/active?point={nws.POSITION}&status=actual"


def test_no_active_alert_is_no_failure(server, fetcher):
    server.script("/alerts/active", nws.geojson(nws.alerts()))
    alerts = NwsAlertSource("nws", nws.site(), fetcher, base_url=server.url).get(NOW)
    assert (alerts.alerts, alerts.problem) == ((), "")


def test_stored_alerts_say_so_and_end_when_their_events_do(server, fetcher):
    source = NwsAlertSource("nws", nws.site(), fetcher, base_url=server.url)
    source.get(NOW)
    server.script("/alerts/active", nws.problem("UnavailableWebService", 503))
    stored = source.get(NOW + timedelta(hours=2))
    assert len(stored.alerts) == 1
    assert stored.retrieved == NOW
    assert PHRASES["UnavailableWebService"] in stored.problem
    assert source.get(datetime(2026, 1, 23, 14, tzinfo=UTC)).alerts == ()


def test_the_services_own_address_is_the_default(fetcher):
    source = NwsSource("nws", nws.site(), fetcher)
    assert source._base_url == "https://api.weather.gov"


@pytest.fixture
def warned(server, source, fetcher):
    return WarnedSource(source, NwsAlertSource("nws", nws.site(), fetcher, base_url=server.url))


def test_a_forecast_carries_what_the_service_warns_of(server, warned):
    forecast, findings = warned.get(NOW)
    assert isinstance(warned, Source)
    assert (warned.name, forecast.source, findings) == ("nws", "nws", ())
    (warning,) = forecast.warnings
    assert (warning.event, warning.severity, warning.certainty) == ("Freeze Warning", "Moderate", "Likely")
    assert warning.onset == datetime(2026, 1, 23, 3, tzinfo=UTC)
    assert warning.ends == datetime(2026, 1, 23, 14, tzinfo=UTC)
    assert paths(server) == [f"/points/{nws.POSITION}", nws.CELL_PATH, "/alerts/active"]
    server.script("/alerts/active", nws.geojson(nws.alerts()))
    assert warned.get(NOW + timedelta(hours=1))[0].warnings == ()


def test_warnings_that_cannot_be_learnt_are_unknown_and_leave_the_forecast_as_it_is(server, warned):
    server.script("/alerts/active", nws.problem("UnavailableWebService", 503))
    forecast, findings = warned.get(NOW)
    assert forecast.warnings is None
    assert forecast.problem == ""
    (finding,) = findings
    assert finding.text.startswith("what the service warns of is unknown: ")
    assert PHRASES["UnavailableWebService"] in finding.text


def test_without_a_forecast_nobody_asks_for_warnings(server, warned):
    server.script(f"/points/{nws.POSITION}", nws.problem("InvalidPoint", 404))
    with pytest.raises(SourceUnavailable):
        warned.get(NOW)
    assert "/alerts/active" not in paths(server)
