"""What every source of a public service promises, whatever the service does."""

from __future__ import annotations

from datetime import timedelta
from random import Random

import numpy as np
import pytest

from alertd.core import SourceError
from alertd.sources import (
    Fetcher,
    MemoryAnswers,
    MetNorwaySource,
    NwsSource,
    OpenMeteoSource,
    Source,
)
from tests.fakes.services import BAD_WAYS, SITE, START, Fickle

SOURCES = {
    "nws": NwsSource,
    "met_norway": MetNorwaySource,
    "open_meteo": lambda name, site, fetcher: OpenMeteoSource(name, site, fetcher, non_commercial=True),
}

#: Ways of answering that give nothing to trust; an old forecast is one, but a stale one.
USELESS = sorted(set(BAD_WAYS) - {"old"})


@pytest.fixture(params=sorted(SOURCES))
def kind(request):
    return request.param


@pytest.fixture
def service():
    running = Fickle(seed=1)
    running.only = "good"
    return running


@pytest.fixture
def source(kind, service):
    fetcher = Fetcher(
        "alertd/0 keeper@example.org", MemoryAnswers(), random=Random(1), transport=service, sleep=lambda _s: None
    )
    return SOURCES[kind]("mine", SITE, fetcher)


def at(service, hours):
    """Let time pass, and return it."""
    service.now = START + timedelta(hours=hours)
    return service.now


def test_a_good_answer_is_a_forecast(source, service):
    now = at(service, 0)
    forecast, _ = source.get(now)
    assert isinstance(source, Source)
    assert forecast.source == "mine"
    assert forecast.retrieved == now
    assert now - timedelta(hours=6) <= forecast.forecast_reference_time <= now
    assert forecast.credits
    assert forecast.problem == ""
    series = forecast.series
    assert np.all(np.diff(series.times) > np.timedelta64(0, "s"))
    assert series.air_temperature.shape == (series.n_realizations, series.n_times)
    assert -15.0 < np.nanmin(series.air_temperature) < -12.0
    assert np.nanmax(series.air_temperature) < 5.0


def test_a_second_look_within_the_hour_asks_nobody(source, service):
    source.get(at(service, 0))
    asked = len(service.asked)
    again, _ = source.get(START + timedelta(minutes=20))
    assert len(service.asked) == asked
    assert again.retrieved == START


@pytest.mark.parametrize("way", USELESS)
def test_a_useless_answer_is_one_line_and_never_a_forecast(source, service, way):
    service.only = way
    with pytest.raises(SourceError) as failure:
        source.get(at(service, 0))
    text = str(failure.value)
    assert text
    assert "\n" not in text
    assert "Traceback" not in text


@pytest.mark.parametrize("way", USELESS)
def test_a_useless_answer_leaves_the_last_good_one_with_its_own_age(source, service, way):
    first, _ = source.get(at(service, 0))
    service.only = way
    later, _ = source.get(at(service, 3))
    assert later.problem
    assert later.forecast_reference_time <= first.forecast_reference_time, "it never looks younger than it is"
    assert later.retrieved == first.retrieved


def test_an_old_forecast_under_a_fresh_answer_shows_its_age(source, service):
    service.only = "old"
    now = at(service, 0)
    forecast, _ = source.get(now)
    assert now - forecast.forecast_reference_time > timedelta(hours=12)


def test_the_position_is_sent_with_four_decimals_at_most_and_the_contact_is_named(source, service):
    source.get(at(service, 0))
    for _, url, _, _ in service.asked:
        for part in url.replace("/", "&").replace(",", "&").split("&"):
            digits = part.rpartition(".")[2] if part.rpartition("=")[2].lstrip("-").replace(".", "").isdigit() else ""
            assert len(digits) <= 4 or "." not in part


def test_an_older_forecast_does_not_take_the_place_of_a_newer_one_even_after_a_restart(kind, service):
    answers = MemoryAnswers()

    def started():
        fetcher = Fetcher(
            "alertd/0 keeper@example.org", answers, random=Random(1), transport=service, sleep=lambda _s: None
        )
        return SOURCES[kind]("mine", SITE, fetcher)

    running = started()
    first, _ = running.get(at(service, 0))
    service.only = "old"
    for source in (running, running, started()):
        later, _ = source.get(at(service, 2))
        assert "answers with an older forecast than before, made 20" in later.problem
        assert later.retrieved == first.retrieved
        assert later.forecast_reference_time <= first.forecast_reference_time, "it never looks younger than it is"
        assert first.forecast_reference_time - later.forecast_reference_time <= timedelta(hours=6)
        assert later.series.times[-1] == first.series.times[-1]
    service.only = "good"
    newer, _ = started().get(at(service, 6))
    assert (newer.problem, newer.retrieved) == ("", service.now)
