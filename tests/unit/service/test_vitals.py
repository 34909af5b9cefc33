from __future__ import annotations

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[3]))

from alertd.config import load
from alertd.core import StoreError
from alertd.service.vitals import NOTE, Standing, Vitals, status_line
from alertd.store import Store
from alertd.watch import Watch, readership
from tests.fakes.garden_folder import FaultySource, GardenFolder

HALF_PAST_SIX = datetime(2026, 1, 22, 17, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        ((6, Standing(1), 0, HALF_PAST_SIX), "Watching 6 groups, next look 18:30, 1 alert open"),
        ((1, Standing(), 0, None), "Watching 1 group, looking now, 0 alerts open"),
        ((6, Standing(2, is_blind=True), 0, HALF_PAST_SIX), "Watching 6 groups, blind, next look 18:30, 2 alerts open"),
        (
            (6, Standing(), 3, HALF_PAST_SIX),
            "Watching 6 groups, 3 evaluations failed in a row, next look 18:30, 0 alerts open",
        ),
    ],
)
def test_how_things_stand_is_one_line_in_local_time(site, arguments, line):
    assert status_line(*arguments, site) == line
    refused = status_line(*arguments, site, refused="site.latitude: is missing; add it")
    assert refused == f"{line}; a changed configuration is refused: site.latitude: is missing; add it"


def test_a_beat_writes_and_counts_what_is_open(tmp_path, store, clock):
    garden = GardenFolder(tmp_path, f"file:{tmp_path / 'letters'}")
    garden.write_forecast(is_severe=True)
    clock.now = garden.base + timedelta(hours=1)
    loaded = load(garden.configuration, {})
    source = FaultySource("weather file", garden.forecast)
    vitals = Vitals(store, loaded.garden.site, clock)
    vitals.beat()
    assert vitals.standing == Standing(0)
    assert store.get_note(NOTE) == clock.now.strftime("%Y-%m-%dT%H:%M:%SZ")
    Watch(loaded.garden, (source,), readership(loaded), store).evaluate(clock.now)
    vitals.beat()
    assert vitals.standing == Standing(1)
    source.fault = "down"
    Watch(loaded.garden, (source,), readership(loaded), store).evaluate(clock.advance(minutes=5))
    vitals.beat()
    assert vitals.standing == Standing(2, is_blind=True)


def test_a_beat_that_cannot_write_is_none(tmp_path, site, clock):
    path = tmp_path / "x.sqlite"
    with Store.open(path, busy_timeout=timedelta(seconds=0.05)) as store, Store.open(path) as other:
        vitals = Vitals(store, site, clock)
        vitals.written._clock = lambda: vitals.written._done + 100.0
        with other._writing(), pytest.raises(StoreError, match="locked"):
            vitals.beat()
        assert vitals.written.ago() == timedelta(seconds=100)
        assert store.get_note(NOTE) is None
