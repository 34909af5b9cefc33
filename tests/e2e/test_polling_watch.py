"""Local servers for all public services and a file, polled, merged and judged; each killed in turn, and all at once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import partial

import pytest

from alertd.config import build_services, load
from alertd.risk import Rule
from alertd.service.thermometers import Thermometers
from alertd.sources import Fetcher
from alertd.store import Store
from alertd.watch import Watch, readership
from tests.fakes.local_services import CREDITS, NAMES, LocalServices

pytestmark = pytest.mark.slow

NOW = datetime(2026, 1, 20, 13, 5, tzinfo=UTC)


class Clock:
    """Time that passes as it is told."""

    def __init__(self) -> None:
        self.now = NOW

    def at(self, hours: float) -> datetime:
        """Let it be so many hours later than at the beginning."""
        self.now = NOW + timedelta(hours=hours)
        return self.now


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def services(tmp_path, clock):
    with LocalServices(tmp_path, lambda: clock.now) as running:
        yield running


@pytest.fixture
def loaded(services, tmp_path):
    services.configure(tmp_path / "alertd.toml")
    (tmp_path / "thermometer.csv").write_text(
        f"time,air_temperature[degF]\n{NOW - timedelta(minutes=5):%Y-%m-%dT%H:%M:%SZ},20.5\n", encoding="utf-8"
    )
    return load(tmp_path / "alertd.toml", {})


@pytest.fixture
def watch(loaded, monkeypatch):
    # The pause of some seconds before a second try is not what is tried here.
    monkeypatch.setattr("alertd.config.sources.Fetcher", partial(Fetcher, sleep=lambda _seconds: None))
    with Store.open(None) as store:
        yield Watch(loaded.garden, build_services(loaded, store).sources, readership(loaded), store)


def letters(watch):
    return [" ".join(item.letter.text.split()) for item in watch.store.outbox_items()]


def of_blindness(decision):
    return [notice.kind.value for notice in decision.notices if notice.alert.rule is Rule.BLIND]


def test_all_sources_are_polled_merged_and_judged_and_credited_in_one_letter(watch, loaded, clock):
    thermometers = Thermometers(loaded.observations, None, watch.store, lambda: clock.now)
    thermometers.collect()
    decision = watch.evaluate(clock.at(0))
    assert [forecast.source for forecast in decision.outlook.used] == list(NAMES.values())
    assert decision.outlook.refused == ()
    made = NOW - timedelta(minutes=40)
    assert {forecast.forecast_reference_time for forecast in decision.outlook.used} == {made}
    (notice,) = decision.notices
    assert notice.alert.group == "pots"
    assert notice.alert.rule is Rule.ROOT_ZONE, "which speaks first; the letter tells what the air says beside"
    assert -18.0 < notice.alert.announced.minimum < -12.0
    (text,) = letters(watch)
    for credit in CREDITS:
        assert credit in text
    for name in NAMES.values():
        assert f"{name}, made" in text
    assert "Public warning: Freeze Warning from" in text
    assert "by grid." in text
    (seen,) = watch.store.recent_observations(NOW)
    assert seen.station == "by-the-pots"
    assert seen.air_temperature == pytest.approx((20.5 - 32.0) / 1.8)


@pytest.mark.parametrize("kind", NAMES)
def test_one_source_killed_changes_nothing_but_a_note(services, watch, clock, kind):
    before = watch.evaluate(clock.at(0))
    services.kill(kind)
    if kind != "file":
        clock.at(3)
        services.put_file()
    decision = watch.evaluate(clock.at(3))
    assert len(decision.outlook.used) == len(NAMES)
    (refusal,) = decision.outlook.refused
    assert refusal.source == NAMES[kind]
    assert refusal.is_used, "its last good answer stands until it is stale"
    assert decision.notices == ()
    assert len(letters(watch)) == 1
    clock.at(15)
    if kind != "file":
        services.put_file()
    decision = watch.evaluate(clock.at(15))
    assert [forecast.source for forecast in decision.outlook.used] == [
        name for name in NAMES.values() if name != NAMES[kind]
    ]
    refused = decision.outlook.refused  # a file that is gone gives two reasons: that it is, and that its values are old
    assert {refusal.source for refusal in refused} == {NAMES[kind]}
    assert not any(refusal.is_used for refusal in refused)
    assert of_blindness(decision) == []
    opened = before.notices[0].alert.alert_id
    assert {notice.alert.alert_id for notice in decision.notices} <= {opened}, "it may be time for a reminder"


def test_all_sources_killed_is_told_once_as_blindness_and_its_end_once_when_they_come_back(services, watch, clock):
    watch.evaluate(clock.at(0))
    services.kill(*NAMES)
    told = []
    for hours in range(3, 25, 3):
        told += [(hours, kind) for kind in of_blindness(watch.evaluate(clock.at(hours)))]
    assert told == [(12, "opened")]
    clock.at(27)
    services.revive()
    for hours in range(27, 37, 3):
        clock.at(hours)
        services.put_file()
        decision = watch.evaluate(clock.now)
        told += [(hours, kind) for kind in of_blindness(decision)]
        assert [forecast.source for forecast in decision.outlook.used] == list(NAMES.values())
    assert told == [(12, "opened"), (27, "cancelled")]
    subjects = [item.letter.subject for item in watch.store.outbox_items()]
    assert len([subject for subject in subjects if subject.startswith("The watch is blind")]) == 1
    assert len([subject for subject in subjects if subject.startswith("The watch sees again")]) == 1
    assert watch.store.verify_audit() == []
