"""Forecasts from a local server that answers like Open-Meteo, well and badly."""

import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from random import Random

import numpy as np
import pytest

from alertd.core import SourceMalformed, SourceUnavailable, to_datetime64
from alertd.sources import PastSource, Source
from alertd.sources.answer import MemoryAnswers
from alertd.sources.fetch import Fetcher
from alertd.sources.open_meteo import (
    OpenMeteoArchive,
    OpenMeteoEnsembleSource,
    OpenMeteoPreviousRuns,
    OpenMeteoSource,
)
from tests.fakes.http_servers import Behaviour, HttpServer, json_answer
from tests.fakes.open_meteo import (
    SITE,
    START,
    body,
    document,
    ensemble_columns,
    forecast_columns,
    refusal,
    status,
)

NOW = START + timedelta(hours=13)
RUN = START + timedelta(hours=6)
FORECAST = "/v1/forecast"
ENSEMBLE = "/v1/ensemble"
STATUS = "/data/dwd_icon/static/meta.json"
ENSEMBLE_STATUS = "/data/dwd_icon_eps/static/meta.json"
KEY = "canary-7f3a51"


@pytest.fixture
def server():
    with HttpServer() as running:
        running.script(FORECAST, json_answer(document(forecast_columns(known=150))))
        running.script(ENSEMBLE, json_answer(document(ensemble_columns())))
        running.script(STATUS, json_answer(status(RUN)))
        running.script(ENSEMBLE_STATUS, json_answer(status(RUN)))
        yield running


@pytest.fixture
def fetcher():
    return Fetcher("alertd/0.3 keeper@example.org", MemoryAnswers(), random=Random(1), sleep=lambda _seconds: None)


@pytest.fixture
def source(server, fetcher):
    return OpenMeteoSource("model", SITE, fetcher, base_url=server.url)


def test_a_forecast_comes_with_run_credits_and_soil(server, source):
    forecast, findings = source.get(NOW)
    assert isinstance(source, Source)
    assert (forecast.source, forecast.problem, forecast.weight) == ("model", "", 1.0)
    assert forecast.forecast_reference_time == RUN
    assert forecast.retrieved == NOW
    assert forecast.series.n_times == 150
    assert float(np.nanmin(forecast.series.air_temperature)) == -12.0
    assert findings == ()
    for words in ("Weather data by Open-Meteo.com (https://open-meteo.com/)", "CC BY 4.0", "modified", "Wetterdienst"):
        assert words in forecast.credits
    assert forecast.soil.model == "icon_seamless"
    assert forecast.soil.values.shape == (4, 1, 150)
    asked = server.requests(FORECAST)[0]
    assert asked.query["timezone"] == "GMT"
    assert asked.query["models"] == "icon_seamless"
    assert asked.headers["User-Agent"] == "alertd/0.3 keeper@example.org"


def test_the_service_is_asked_once_an_hour(server, source):
    for minutes in (0, 10, 30, 59):
        source.get(NOW + timedelta(minutes=minutes))
    assert len(server.requests(FORECAST)) == 1
    source.get(NOW + timedelta(minutes=62))
    assert len(server.requests(FORECAST)) == 2


def test_an_ensemble_gives_all_its_realizations(server, fetcher):
    forecast, findings = OpenMeteoEnsembleSource("ensemble", SITE, fetcher, base_url=server.url).get(NOW)
    assert forecast.series.air_temperature.shape == (40, 168)
    assert forecast.forecast_reference_time == RUN
    assert findings == ()
    assert server.requests(ENSEMBLE)[0].query["models"] == "icon_seamless"


def test_realizations_that_are_missing_are_told(server, fetcher):
    server.script(ENSEMBLE, json_answer(document(ensemble_columns(48, members=3))))
    forecast, findings = OpenMeteoEnsembleSource("ensemble", SITE, fetcher, base_url=server.url).get(NOW)
    assert forecast.series.n_realizations == 4
    assert [finding.text for finding in findings] == ["4 of the 40 realizations of icon_seamless have values"]


def test_an_answer_from_before_the_last_run_is_of_the_run_before(server, source):
    server.script(STATUS, json_answer(status(RUN, delay=timedelta(hours=6, minutes=55))))
    assert source.get(NOW)[0].forecast_reference_time == RUN - timedelta(hours=6)


def test_a_status_of_its_own_address_is_asked_there(server, fetcher):
    with HttpServer() as other:
        other.script(STATUS, json_answer(status(RUN)))
        source = OpenMeteoSource("model", SITE, fetcher, base_url=server.url, status_url=other.url)
        assert source.get(NOW)[0].forecast_reference_time == RUN
    assert server.requests(STATUS) == []


@pytest.mark.parametrize(
    "answer",
    [
        Behaviour(status=404),
        Behaviour(status=500, body=refusal("Something went wrong.")),
        Behaviour(body=b"{}"),
        json_answer(status(NOW + timedelta(days=2))),
    ],
)
def test_without_a_status_the_age_is_that_of_the_answer_and_a_person_is_told(server, source, answer):
    server.script(STATUS, answer)
    forecast, findings = source.get(NOW)
    assert forecast.forecast_reference_time == NOW
    assert forecast.problem == ""
    assert len(findings) == 1
    assert findings[0].text.endswith("its age is that of the answer")


def test_a_status_that_was_told_long_ago_no_longer_counts(server, source):
    source.get(NOW)
    server.script(STATUS, Behaviour(status=503))
    later = NOW + timedelta(hours=5)
    forecast, findings = source.get(later)
    assert forecast.forecast_reference_time == RUN
    later = NOW + timedelta(hours=8)
    forecast, findings = source.get(later)
    assert forecast.forecast_reference_time == later
    assert "last told at 2026-01-23T13:00:00Z" in findings[0].text


def test_a_status_that_needs_not_be_asked_yet_counts_even_for_a_model_that_is_run_often(server, source):
    often = status(NOW - timedelta(hours=1), delay=timedelta(minutes=5), interval=timedelta(minutes=15))
    server.script(STATUS, json_answer(often))
    for minutes in (0, 35, 62):
        forecast, findings = source.get(NOW + timedelta(minutes=minutes))
        assert findings == ()
    assert len(server.requests(STATUS)) == 2
    assert forecast.retrieved == NOW + timedelta(minutes=62)
    assert forecast.forecast_reference_time == NOW - timedelta(hours=1)


def test_a_model_without_a_status_says_so(server, fetcher):
    source = OpenMeteoSource("model", SITE, fetcher, base_url=server.url, model="best_match")
    forecast, findings = source.get(NOW)
    assert forecast.forecast_reference_time == NOW
    assert "does not say when best_match was run" in findings[0].text
    assert forecast.soil is None


def test_an_answer_that_some_proxy_has_kept_for_days_is_as_old_as_its_first_day(server, source):
    later = NOW + timedelta(days=3)
    server.script(STATUS, json_answer(status(RUN + timedelta(days=3))))
    assert source.get(later)[0].forecast_reference_time == START + timedelta(days=1)


def source_over(server, answers):
    """Return a source that was just started, over stored answers."""
    fetcher = Fetcher("alertd/0.3 keeper@example.org", answers, random=Random(1), sleep=lambda _seconds: None)
    return OpenMeteoSource("model", SITE, fetcher, base_url=server.url)


def test_an_answer_of_an_earlier_day_does_not_take_the_place_of_a_newer_one_even_after_a_restart(server):
    earlier = document(forecast_columns(known=150), start=START - timedelta(days=2))
    server.script(FORECAST, json_answer(document(forecast_columns(known=150))), json_answer(earlier))
    answers = MemoryAnswers()
    running = source_over(server, answers)
    first, _findings = running.get(NOW)
    for source in (running, source_over(server, answers)):
        forecast, _findings = source.get(NOW + timedelta(hours=2))
        assert (forecast.forecast_reference_time, forecast.retrieved) == (RUN, NOW)
        assert np.array_equal(forecast.series.times, first.series.times)
        assert "answers with an older forecast than before, made 2026-01-21T00:00:00Z" in forecast.problem
    assert len(server.requests(FORECAST)) == 2


def test_a_status_that_goes_back_to_an_earlier_run_does_not_count_however_long_it_goes_on(server):
    server.script(STATUS, json_answer(status(RUN)), json_answer(status(RUN - timedelta(days=1))))
    answers = MemoryAnswers()
    running = source_over(server, answers)
    assert running.get(NOW)[0].forecast_reference_time == RUN
    for hours in (2, 4, 6, 8, 10):
        for source in (running, source_over(server, answers)):
            forecast, findings = source.get(NOW + timedelta(hours=hours))
            assert forecast.forecast_reference_time == RUN, "no younger either"
            assert "older forecast than before, made 2026-01-22T06:00:00Z" in findings[0].text
            assert findings[0].text.endswith("icon_seamless counts as last run at 2026-01-23T06:00:00Z")


def test_a_status_of_the_future_does_not_hold_a_true_one_off(server, source):
    server.script(STATUS, json_answer(status(NOW + timedelta(days=2))), json_answer(status(RUN)))
    source.get(NOW)
    forecast, findings = source.get(NOW + timedelta(hours=1))
    assert (forecast.forecast_reference_time, findings) == (RUN, ())


@pytest.mark.parametrize(
    ("answer", "reason"),
    [
        (b'{"latitude":nan,"longitude":nan}', "no valid JSON"),
        (body(forecast_columns())[:900] + b"Unexpected error while streaming data: x", "broke off"),
        (body(forecast_columns())[:-300], "no valid JSON"),
        (body({"temperature_2m": [None] * 168}), "nothing but missing values"),
        (body(forecast_columns(), latitude=52.5, longitude=13.4), "not about the asked"),
        (body(forecast_columns(), utc_offset_seconds=-18000), "not in UTC"),
        (body({"temperature_2m": [271.0] * 168}), "air_temperature: 100%"),
        (json.dumps([document(forecast_columns())] * 2).encode(), "about 2 locations"),
    ],
)
def test_a_useless_answer_with_a_good_status_is_refused_and_the_last_good_one_kept(server, source, answer, reason):
    good, _ = source.get(NOW)
    server.script(FORECAST, Behaviour(body=answer))
    later = NOW + timedelta(hours=2)
    kept, _ = source.get(later)
    assert reason in kept.problem
    assert kept.retrieved == NOW
    assert kept.forecast_reference_time == good.forecast_reference_time
    assert kept.series.air_temperature.tolist() == good.series.air_temperature.tolist()


def test_a_useless_first_answer_is_malformed_and_asked_again_later(server, source):
    server.script(FORECAST, Behaviour(body=b"{"), json_answer(document(forecast_columns())))
    with pytest.raises(SourceMalformed, match="no valid JSON"):
        source.get(NOW)
    assert source.get(NOW + timedelta(hours=1))[0].problem == ""


@pytest.mark.parametrize(
    ("code", "reason", "phrase"),
    [
        (429, "Minutely API request limit exceeded. Please try again in one minute.", "requests per minute"),
        (429, "Hourly API request limit exceeded. Please try again in the next hour.", "requests per hour"),
        (429, "Daily API request limit exceeded. Please try again tomorrow.", "requests per day"),
        (429, "Too many concurrent requests", "at the same time"),
        (503, "The service is overloaded", "overloaded"),
        (500, "Something went wrong.", "it failed"),
        (400, "No data is available for this location", "choose another model"),
    ],
)
def test_a_refusal_is_told_by_its_reason_and_not_repeated_at_once(server, source, code, reason, phrase):
    server.script(FORECAST, Behaviour(status=code, body=refusal(reason)))
    for seconds in (0, 20):
        with pytest.raises(SourceUnavailable, match=phrase) as failure:
            source.get(NOW + timedelta(seconds=seconds))
        assert "127.0.0.1" in str(failure.value)
    assert len(server.requests(FORECAST)) == (2 if code == 500 else 1)  # a server error is tried twice in one look


@pytest.mark.parametrize(
    ("reason", "held", "over"),
    [
        ("Minutely API request limit exceeded. Please try again in one minute.", 0.9, 2),
        ("Hourly API request limit exceeded. Please try again in the next hour.", 59, 61),
        ("Daily API request limit exceeded. Please try again tomorrow.", 11 * 60 - 1, 11 * 60 + 1),
        ("Too many concurrent requests", 0.9, 2),
    ],
)
def test_a_limit_that_is_reached_holds_the_service_until_its_end(server, source, reason, held, over):
    source.get(NOW - timedelta(hours=2))
    good = json_answer(document(forecast_columns()))
    server.script(FORECAST, Behaviour(status=429, body=refusal(reason)), good)
    for minutes in (0, held):
        forecast, _ = source.get(NOW + timedelta(minutes=minutes))
        assert reason.rstrip(".") in forecast.problem
        assert len(server.requests(FORECAST)) == 2
    forecast, _ = source.get(NOW + timedelta(minutes=over))
    assert forecast.problem == ""
    assert len(server.requests(FORECAST)) == 3


def test_the_free_address_is_not_asked_without_the_declaration(fetcher):
    with pytest.raises(SourceUnavailable, match="non-commercial use only"):
        OpenMeteoSource("model", SITE, fetcher).get(NOW)
    with pytest.raises(SourceUnavailable, match="non-commercial use only"):
        OpenMeteoArchive("past", SITE, fetcher).record(date(2026, 1, 1), date(2026, 1, 2), NOW)
    with pytest.raises(SourceUnavailable, match="non-commercial use only"):
        OpenMeteoPreviousRuns("old", SITE, fetcher).forecasts(date(2026, 1, 1), date(2026, 1, 2), NOW)


def test_a_key_reaches_the_service_and_no_message(server, fetcher):
    source = OpenMeteoSource("model", SITE, fetcher, base_url=server.url, api_key=KEY)
    server.script(FORECAST, Behaviour(status=401, body=refusal(f"The key {KEY} is unknown")))
    with pytest.raises(SourceUnavailable, match="check api_key") as failure:
        source.get(NOW)
    assert server.requests(FORECAST)[0].query["apikey"] == KEY
    assert KEY not in str(failure.value)
    server.script(FORECAST, json_answer(document(forecast_columns())))
    server.script(STATUS, Behaviour(status=403, body=refusal(f"no {KEY}")))
    forecast, findings = source.get(NOW + timedelta(hours=3))
    assert server.requests(STATUS)[-1].query["apikey"] == KEY
    assert KEY not in repr((forecast, findings, source))


def test_options_that_do_not_exist_are_refused(fetcher):
    for days in (0, 17):
        with pytest.raises(ValueError, match="days must be from 1 to 16"):
            OpenMeteoSource("model", SITE, fetcher, days=days)
    with pytest.raises(ValueError, match="days must be from 1 to 35"):
        OpenMeteoEnsembleSource("ensemble", SITE, fetcher, days=36)
    with pytest.raises(ValueError, match="no offset"):
        OpenMeteoSource("model", SITE, fetcher, non_commercial=True).get(datetime(2026, 1, 23))  # noqa: DTZ001


def test_credits_and_weight_may_be_given(server, fetcher):
    source = OpenMeteoSource("model", SITE, fetcher, base_url=server.url, credits="Our own server", weight=2.0)
    forecast, _ = source.get(NOW)
    assert (forecast.credits, forecast.weight) == ("Our own server", 2.0)


def test_a_corrected_site_does_not_get_the_stored_answer_of_the_old_one(server, fetcher, source):
    source.get(NOW)
    moved = replace(SITE, elevation=300.0)
    with pytest.raises(SourceMalformed, match="elevation of 120 m, not for the asked 300 m"):
        OpenMeteoSource("model", moved, fetcher, base_url=server.url).get(NOW + timedelta(minutes=5))


def test_another_model_does_not_get_the_stored_answer_which_does_not_say_of_which_model_it_is(server, fetcher, source):
    source.get(NOW)
    other = OpenMeteoSource("model", SITE, fetcher, base_url=server.url, model="gfs_seamless")
    other.get(NOW + timedelta(minutes=5))
    assert [seen.query["models"] for seen in server.requests(FORECAST)] == ["icon_seamless", "gfs_seamless"]


def test_past_weather_is_a_record_of_a_span(server, fetcher):
    start = datetime(2025, 12, 1, tzinfo=UTC)
    server.script("/v1/archive", json_answer(document(forecast_columns(72, known=60), start=start)))
    archive = OpenMeteoArchive("past", SITE, fetcher, base_url=server.url)
    record, findings = archive.record(date(2025, 12, 1), date(2025, 12, 3), NOW)
    assert record.air_temperature.shape == (1, 60)
    assert str(record.times[0]) == "2025-12-01T00:00:00"
    assert findings == ()
    assert "ECMWF" in archive.credits
    asked = server.requests("/v1/archive")[0].query
    assert (asked["start_date"], asked["end_date"]) == ("2025-12-01", "2025-12-03")


def test_past_weather_that_cannot_be_true_is_refused(server, fetcher):
    server.script("/v1/archive", json_answer(document({"temperature_2m": [300.0] * 24})))
    with pytest.raises(SourceMalformed, match="air_temperature: 100%"):
        OpenMeteoArchive("past", SITE, fetcher, base_url=server.url).record(START.date(), START.date(), NOW)


def test_old_forecasts_come_by_lead_time(server, fetcher):
    air = forecast_columns(48)["temperature_2m"]
    columns = {
        "temperature_2m_previous_day1": [value + 0.5 for value in air],
        "temperature_2m_previous_day2": [*air[:20], 99.0, *air[21:]],
        "temperature_2m_previous_day3": [None] * 48,
    }
    server.script(FORECAST, json_answer(document(columns)))
    runs = OpenMeteoPreviousRuns("old", SITE, fetcher, base_url=server.url)
    forecasts, findings = runs.forecasts(START.date(), START.date() + timedelta(days=1), NOW, (1, 2, 3))
    assert [lead_days for lead_days, _ in forecasts] == [1, 2]
    assert forecasts[0][1].air_temperature[0, 11] == -11.5
    assert np.isnan(forecasts[1][1].air_temperature[0, 20])
    assert "outside -90 to 60" in findings[0].text
    assert "Wetterdienst" in runs.credits
    keys = server.requests(FORECAST)[0].query["hourly"].split(",")
    assert keys == [f"temperature_2m_previous_day{days}" for days in (1, 2, 3)]


def test_the_days_before_are_asked_of_the_same_model_in_a_request_of_their_own(server, source):
    first = NOW.date() - timedelta(days=10)
    begin = START - timedelta(days=10)
    before = document(forecast_columns(hours=264), start=begin)
    server.script(
        FORECAST, lambda seen: json_answer(before if "start_date" in seen.query else document(forecast_columns()))
    )
    series = source.days_before(first, NOW)
    assert isinstance(source, PastSource)
    assert series.n_times == 264
    assert series.times[0] == to_datetime64(begin)
    (asked,) = server.requests(FORECAST)
    assert (asked.query["start_date"], asked.query["end_date"]) == (first.isoformat(), NOW.date().isoformat())
    assert asked.query["models"] == "icon_seamless"
    forecast, _ = source.get(NOW)
    assert forecast.series.times[0] == to_datetime64(START), "the answers are kept apart"
    source.days_before(first, NOW + timedelta(hours=1))
    assert len(server.requests(FORECAST)) == 2, "the days before do not change within a day"


def test_the_days_before_of_an_ensemble_happened_once(server, fetcher):
    server.script(FORECAST, json_answer(document(forecast_columns(hours=264), start=START - timedelta(days=10))))
    source = OpenMeteoEnsembleSource("many", SITE, fetcher, base_url=server.url, model="icon_seamless")
    series = source.days_before(NOW.date() - timedelta(days=10), NOW)
    assert series.n_realizations == 1


def test_an_answer_without_air_temperatures_tells_nothing_of_the_days_before(server, source):
    columns = forecast_columns(hours=264)
    columns["temperature_2m"] = [None] * 264
    server.script(FORECAST, json_answer(document(columns, start=START - timedelta(days=10))))
    with pytest.raises(SourceMalformed):
        source.days_before(NOW.date() - timedelta(days=10), NOW)
