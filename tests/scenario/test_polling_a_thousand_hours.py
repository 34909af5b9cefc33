"""A thousand hours of polling services that misbehave at random."""

from __future__ import annotations

import gc
from datetime import datetime, timedelta
from random import Random
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import pytest

from alertd.messages import Reader
from alertd.risk import Rule
from alertd.sources import Fetcher, MetNorwaySource, MosmixSource, NwsSource, OpenMeteoEnsembleSource, OpenMeteoSource
from alertd.store import Store
from alertd.watch import Readership, Watch
from alertd.weather import Forecast
from tests.fakes.forecasts import ENSEMBLE_MODEL, STATION
from tests.fakes.garden import POTS, make_garden
from tests.fakes.services import BAD_WAYS, SITE, START, Fickle

if TYPE_CHECKING:
    from alertd.sources.transport import Reply

pytestmark = pytest.mark.slow

SEED = 20260105

SERVICES = {
    "nws": lambda name, fetcher: NwsSource(name, SITE, fetcher),
    "met_norway": lambda name, fetcher: MetNorwaySource(name, SITE, fetcher),
    "open_meteo": lambda name, fetcher: OpenMeteoSource(name, SITE, fetcher, non_commercial=True),
    "open_meteo_ensemble": lambda name, fetcher: OpenMeteoEnsembleSource(
        name, SITE, fetcher, model=ENSEMBLE_MODEL, non_commercial=True
    ),
    "mosmix": lambda name, fetcher: MosmixSource(name, SITE, fetcher, station=STATION),
}


def check_politeness(asked) -> None:
    """No request comes before the last answer on its path, or its host, allows it."""
    last: dict[str, tuple[datetime, str, Reply | None]] = {}
    held: dict[str, datetime] = {}
    tries: dict[tuple[str, datetime], int] = {}
    for now, url, way, reply in asked:
        host = urlsplit(url).netloc
        assert now >= held.get(host, START), f"{host} asked at {now} although it wanted rest until {held[host]}"
        tries[url, now] = tries.get((url, now), 0) + 1
        assert tries[url, now] <= 2
        if url in last:
            before, way_before, reply_before = last[url]
            if before == now:
                assert way_before in {"500", "lost"}
            else:
                assert now - before >= timedelta(minutes=1)
                if way_before == "good" and reply_before is not None:
                    assert now - before >= timedelta(minutes=50), f"{url} asked at {now}, before its answer expired"
        if way == "429":
            held[host] = now + timedelta(seconds=5400)
        last[url] = (now, way, reply)


def forecasts_held() -> int:
    """Return how many forecasts are in memory."""
    gc.collect()
    return sum(issubclass(type(each), Forecast) for each in gc.get_objects())  # a proxy of what is gone has a type


@pytest.mark.parametrize(
    ("kinds", "hours", "blind_least", "blind_most"),
    [
        (("nws", "met_norway", "open_meteo", "mosmix"), 1000, 8, 80),
        (("open_meteo_ensemble", "mosmix"), 250, 8, 40),  # 51 members take their time
    ],
    ids=["a thousand", "an ensemble"],
)
def test_hours_of_misbehaviour_are_survived_politely_and_never_in_silence(kinds, hours, blind_least, blind_most):
    fickle = Fickle(SEED)
    garden = make_garden(POTS, site=SITE, is_exact=False)
    blind_hours = held = 0
    with Store.open(None, durable=False) as store:
        fetcher = Fetcher(
            "alertd/0 keeper@example.org", store, random=Random(SEED), transport=fickle, sleep=lambda _seconds: None
        )
        sources = [SERVICES[kind](kind, fetcher) for kind in kinds]
        watch = Watch(garden, sources, Readership((Reader("keeper"),), {"keeper": ("paper",)}), store)
        for hour in range(hours):
            fickle.now = START + timedelta(hours=hour)
            if hour % 240 == 120:
                fickle.outage_until = fickle.now + timedelta(hours=20)
            decision = watch.evaluate(fickle.now)
            is_blind = decision.outlook.series is None
            open_alerts = store.load_state(garden.site.season_start(fickle.now)).alerts
            assert is_blind == any(alert.is_open and alert.rule is Rule.BLIND for alert in open_alerts)
            made = fickle.last_made
            if made is not None and fickle.now - made <= timedelta(hours=12):
                assert not is_blind, f"a forecast of {made} was there at {fickle.now}"
            blind_hours += is_blind
            if hour == hours // 5:
                held = forecasts_held()
        assert forecasts_held() <= held + 4 * len(kinds)  # each source may hold its last ones
        assert store.verify_audit() == []
        blind_letters = [item for item in store.outbox_items() if item.letter.subject.startswith("The watch is blind")]
    check_politeness(fickle.asked)
    assert blind_least <= blind_hours <= blind_most
    assert len(blind_letters) >= hours // 250
    assert len({way for _, _, way, _ in fickle.asked}) == len(BAD_WAYS) + 1
