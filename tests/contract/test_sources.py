"""What every source promises, whatever its service, or whoever writes its file, does."""

from __future__ import annotations

from datetime import timedelta
from random import Random

import numpy as np
import pytest

from alertd.core import SourceError
from alertd.messages import Reader
from alertd.risk import Rule
from alertd.sources import (
    Fetcher,
    FileSource,
    MemoryAnswers,
    MetNorwaySource,
    MosmixSource,
    NwsSource,
    OpenMeteoEnsembleSource,
    OpenMeteoSource,
    Source,
)
from alertd.store import Store
from alertd.watch import Readership, Watch
from tests.fakes.forecasts import ENSEMBLE_MODEL, MEMBERS, STATION
from tests.fakes.garden import POTS, make_garden
from tests.fakes.services import BAD_WAYS, BAD_WAYS_OF_FILES, SITE, START, Fickle, FickleFile

SERVICES = {
    "nws": NwsSource,
    "met_norway": MetNorwaySource,
    "open_meteo": lambda name, site, fetcher: OpenMeteoSource(name, site, fetcher, non_commercial=True),
    "open_meteo_ensemble": lambda name, site, fetcher: OpenMeteoEnsembleSource(
        name, site, fetcher, model=ENSEMBLE_MODEL, non_commercial=True
    ),
    "mosmix": lambda name, site, fetcher: MosmixSource(name, site, fetcher, station=STATION),
}

#: Bad ways of each kind.
WAYS = {**dict.fromkeys(SERVICES, tuple(BAD_WAYS)), "file": BAD_WAYS_OF_FILES}

of_every_kind = pytest.mark.parametrize("kind", WAYS)
of_every_service = pytest.mark.parametrize("kind", SERVICES)
of_every_kind_in_every_bad_way = pytest.mark.parametrize(
    ("kind", "way"), [(kind, way) for kind, ways in WAYS.items() for way in sorted(ways)]
)

#: Without "old": such a forecast is one, but a stale one.
of_every_kind_in_every_useless_way = pytest.mark.parametrize(
    ("kind", "way"), [(kind, way) for kind, ways in WAYS.items() for way in sorted(set(ways) - {"old"})]
)
of_every_service_in_every_useless_way = pytest.mark.parametrize(
    ("kind", "way"), [(kind, way) for kind in SERVICES for way in sorted(set(WAYS[kind]) - {"old"})]
)


@pytest.fixture
def service(kind, tmp_path):
    if kind == "file":
        return FickleFile(tmp_path / "weather.csv")
    running = Fickle(seed=1)
    running.only = "good"
    return running


@pytest.fixture
def source(kind, service):
    if kind == "file":
        return FileSource("mine", service.path, "Data: Quince Hollow's own model")
    fetcher = Fetcher(
        "alertd/0 keeper@example.org", MemoryAnswers(), random=Random(1), transport=service, sleep=lambda _s: None
    )
    return SERVICES[kind]("mine", SITE, fetcher)


@pytest.fixture
def watch(source):
    garden = make_garden(POTS, site=SITE, is_exact=False)
    with Store.open(None, durable=False) as store:
        yield Watch(garden, (source,), Readership((Reader("keeper"),), {"keeper": ("paper",)}), store)


def at(service, hours):
    """Let time pass, and return it."""
    service.now = START + timedelta(hours=hours)
    return service.now


@of_every_kind
def test_a_good_answer_is_a_forecast(kind, source, service):
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
    assert series.n_realizations == (MEMBERS if kind == "open_meteo_ensemble" else 1)
    assert -15.0 < np.nanmin(series.air_temperature[0]) < -12.0
    assert np.nanmax(series.air_temperature) < 5.0


@pytest.mark.parametrize("kind", ["open_meteo_ensemble"])
def test_the_coldest_member_of_an_ensemble_has_its_night(source, service):
    series = source.get(at(service, 0))[0].series
    coldest = np.nanmin(series.air_temperature, axis=1)
    assert coldest[0] == pytest.approx(-14.0)
    assert coldest[-1] == pytest.approx(-19.0), "the last member of 51, 5 °C colder than the control"
    assert np.all(np.diff(coldest) < 0.0)


@of_every_service
def test_a_second_look_within_the_hour_asks_nobody(source, service):
    source.get(at(service, 0))
    asked = len(service.asked)
    again, _ = source.get(START + timedelta(minutes=20))
    assert len(service.asked) == asked
    assert again.retrieved == START


@of_every_kind_in_every_useless_way
def test_a_useless_answer_is_one_line_and_never_a_forecast(source, service, way):
    service.only = way
    with pytest.raises(SourceError) as failure:
        source.get(at(service, 0))
    text = str(failure.value)
    assert text
    assert "\n" not in text
    assert "Traceback" not in text


@of_every_service_in_every_useless_way
def test_a_useless_answer_leaves_the_last_good_one_with_its_own_age(source, service, way):
    first, _ = source.get(at(service, 0))
    service.only = way
    later, _ = source.get(at(service, 3))
    assert later.problem
    assert later.forecast_reference_time <= first.forecast_reference_time, "it never looks younger than it is"
    assert later.retrieved == first.retrieved
    is_ahead = np.isin(first.series.times, later.series.times)  # hours that are over may have been left out
    assert is_ahead[-1]
    assert np.array_equal(later.series.air_temperature, first.series.air_temperature[:, is_ahead])


@of_every_kind_in_every_bad_way
def test_the_watch_goes_on_with_the_last_good_answer_says_so_and_tells_nobody(watch, service, way):
    before = watch.evaluate(at(service, 0))
    assert [notice.alert.group for notice in before.notices] == ["pots"]
    service.only = way
    decision = watch.evaluate(at(service, 3))
    assert decision.outlook.series is not None
    (refusal,) = decision.outlook.refused
    assert refusal.is_used
    assert "\n" not in refusal.reason
    (used,) = decision.outlook.used
    assert used.forecast_reference_time == before.outlook.used[0].forecast_reference_time
    assert decision.notices == ()


@of_every_kind_in_every_bad_way
def test_the_watch_is_blind_once_nothing_good_has_come_for_twelve_hours(watch, service, way):
    watch.evaluate(at(service, 0))
    service.only = way
    decision = watch.evaluate(at(service, 13))
    assert decision.outlook.series is None
    assert [notice.alert.rule for notice in decision.notices] == [Rule.BLIND]


@of_every_kind_in_every_useless_way
def test_a_good_answer_after_useless_ones_is_used_again(source, service, way):
    service.only = way
    with pytest.raises(SourceError):
        source.get(at(service, 0))
    service.only = "good"
    forecast, _ = source.get(at(service, 3))
    assert forecast.problem == ""
    assert forecast.retrieved == service.now


@of_every_kind
def test_an_old_forecast_under_a_fresh_answer_shows_its_age(source, service):
    service.only = "old"
    now = at(service, 0)
    forecast, _ = source.get(now)
    assert now - forecast.forecast_reference_time > timedelta(hours=12)


@of_every_service
def test_the_position_is_sent_with_four_decimals_at_most_and_the_contact_is_named(source, service):
    source.get(at(service, 0))
    assert service.asked
    for _, url, _, _ in service.asked:
        for part in url.replace("/", "&").replace(",", "&").split("&"):
            digits = part.rpartition(".")[2] if part.rpartition("=")[2].lstrip("-").replace(".", "").isdigit() else ""
            assert len(digits) <= 4 or "." not in part


@of_every_service
def test_an_older_forecast_does_not_take_the_place_of_a_newer_one_even_after_a_restart(kind, service):
    answers = MemoryAnswers()

    def started():
        fetcher = Fetcher(
            "alertd/0 keeper@example.org", answers, random=Random(1), transport=service, sleep=lambda _s: None
        )
        return SERVICES[kind]("mine", SITE, fetcher)

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
