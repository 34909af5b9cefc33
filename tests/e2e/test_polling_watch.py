"""Local servers for all public services, polled, merged and judged; each killed in turn, and all at once."""

from __future__ import annotations

import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta

import pytest

from alertd.config import build_services, load
from alertd.risk import Rule
from alertd.store import Store
from alertd.watch import Watch, readership
from tests.fakes.http_servers import HttpServer, json_answer
from tests.fakes.metno import cold_night, location_forecast, step_times
from tests.fakes.nws import CELL_PATH, POSITION, geojson, gridpoint, layer, points
from tests.fakes.open_meteo import document, forecast_columns, status

pytestmark = pytest.mark.slow

NOW = datetime(2026, 1, 20, 13, 5, tzinfo=UTC)
LATITUDE, LONGITUDE, ELEVATION = 44.1234, -72.5, 300.0

CONFIGURATION = """
units = "degF"

[site]
name = "Quince Hollow"
latitude = 44.1234
longitude = -72.5
elevation_m = 300
time_zone = "America/New_York"
contact = "keeper@example.org"
last_freeze = "05-20"

[[groups]]
id = "pots"
name = "the patio pots"
growing = "container"
count = 8
species = "figs"
class = "fig"
protection = "store"

[[channels]]
name = "paper"
url = "file:letters"

[[recipients]]
name = "keeper"
channels = ["paper"]

[[sources]]
name = "grid"
kind = "nws"
base_url = "{nws}"

[[sources]]
name = "north"
kind = "met_norway"
base_url = "{met_norway}/2.0"

[[sources]]
name = "meteo"
kind = "open_meteo"
non_commercial = true
base_url = "{open_meteo}"
"""


class Services:
    """Three services that always have a fresh forecast of the same cold nights, until they are killed."""

    def __init__(self) -> None:
        self.servers = {name: HttpServer().__enter__() for name in ("nws", "met_norway", "open_meteo")}

    def kill(self, *names: str) -> None:
        """End some services."""
        for name in names:
            self.servers.pop(name).__exit__(None, None, None)

    def forecast(self, now: datetime) -> None:
        """Let every service that lives forecast from now on."""
        hour = now.replace(minute=0)
        hours = [hour + timedelta(hours=number) for number in range(150)]
        if "nws" in self.servers:
            server = self.servers["nws"]
            air = layer("wmoUnit:degC", *((f"{each.isoformat()}/PT1H", cold_night(each)) for each in hours))
            parts = {"temperature": air, "minTemperature": ..., "maxTemperature": ..., "dewpoint": ...}
            grid = gridpoint(updateTime=(now - timedelta(minutes=20)).isoformat(), **parts)
            server.script(f"/points/{POSITION}", geojson(points()))
            server.script(CELL_PATH, geojson(grid))
        if "met_norway" in self.servers:
            answer = location_forecast(
                latitude=LATITUDE,
                longitude=LONGITUDE,
                altitude=ELEVATION,
                updated=now - timedelta(minutes=40),
                times=step_times(hour),
            )
            self.servers["met_norway"].script("/2.0/complete", json_answer(answer))
        if "open_meteo" in self.servers:
            start = hour.replace(hour=0)
            air = [round(cold_night(start + timedelta(hours=number)), 1) for number in range(168)]
            columns = forecast_columns() | {"temperature_2m": air, "dew_point_2m": [each - 3.0 for each in air]}
            place = {"latitude": LATITUDE, "longitude": LONGITUDE, "elevation": ELEVATION}
            self.servers["open_meteo"].script("/v1/forecast", json_answer(document(columns, start=start, **place)))
            run = status(hour - timedelta(hours=5))
            self.servers["open_meteo"].script("/data/dwd_icon/static/meta.json", json_answer(run))


@pytest.fixture
def services():
    running = Services()
    yield running
    running.kill(*tuple(running.servers))


@pytest.fixture
def watch(services, tmp_path):
    path = tmp_path / "alertd.toml"
    addresses = {name: server.url for name, server in services.servers.items()}
    path.write_text(CONFIGURATION.format(**addresses), encoding="utf-8")
    loaded = load(path, {})
    with Store.open(None) as store:
        yield Watch(loaded.garden, build_services(loaded, store).sources, readership(loaded), store)


def letters(watch: Watch) -> list[str]:
    return [item.letter.text for item in watch.store.outbox_items()]


def test_all_services_are_polled_merged_and_judged_and_credited(services, watch):
    services.forecast(NOW)
    decision = watch.evaluate(NOW)
    assert [forecast.source for forecast in decision.outlook.used] == ["grid", "north", "meteo"]
    assert decision.outlook.refused == ()
    (notice,) = decision.notices
    assert notice.alert.group == "pots"
    assert notice.alert.rule is Rule.CONTAINER_ROOTS
    assert -16.0 < notice.alert.announced.minimum < -12.0
    (text,) = letters(watch)
    plain = " ".join(text.split())
    for credit in ("US National Weather Service", "MET Norway", "Open-Meteo.com"):
        assert credit in plain


@pytest.mark.parametrize(("killed", "name"), [("nws", "grid"), ("met_norway", "north"), ("open_meteo", "meteo")])
def test_one_service_killed_changes_nothing_but_a_note(services, watch, killed, name):
    services.forecast(NOW)
    watch.evaluate(NOW)
    services.kill(killed)
    later = NOW + timedelta(hours=3)
    services.forecast(later)
    decision = watch.evaluate(later)
    assert decision.outlook.series is not None
    assert [refusal.source for refusal in decision.outlook.refused] == [name]
    assert decision.outlook.refused[0].is_used, "its last good answer stands until it is stale"
    assert not [notice for notice in decision.notices if notice.alert.rule is Rule.BLIND]
    stale = NOW + timedelta(hours=15)
    services.forecast(stale)
    decision = watch.evaluate(stale)
    assert len(decision.outlook.used) == 2
    assert not decision.outlook.refused[0].is_used
    assert not [notice for notice in decision.notices if notice.alert.rule is Rule.BLIND]


def test_all_services_killed_is_told_once_as_blindness(services, watch):
    services.forecast(NOW)
    watch.evaluate(NOW)
    services.kill("nws", "met_norway", "open_meteo")
    told = []
    for hours in range(3, 25, 3):
        decision = watch.evaluate(NOW + timedelta(hours=hours))
        told += [(hours, notice.kind.value) for notice in decision.notices if notice.alert.rule is Rule.BLIND]
    assert told == [(12, "opened")]
    assert watch.store.verify_audit() == []


def test_the_installed_daemon_polls_merges_and_alerts(services, tmp_path):
    services.forecast(datetime.now(tz=UTC))
    path = tmp_path / "alertd.toml"
    addresses = {name: server.url for name, server in services.servers.items()}
    path.write_text(CONFIGURATION.format(**addresses), encoding="utf-8")
    command = [sys.executable, "-m", "alertd", "run", "--config", str(path)]
    with (tmp_path / "log").open("wb") as log:
        process = subprocess.Popen(command, stdout=log, stderr=log)
    try:
        end = time.monotonic() + 40.0
        while not (found := list((tmp_path / "letters").glob("*.txt"))) and time.monotonic() < end:
            time.sleep(0.2)
    finally:
        process.terminate()
        assert process.wait(timeout=15) == 0
    text = " ".join(found[0].read_text(encoding="utf-8").split())
    assert "the patio pots into store" in text
    for name in ("grid, made", "north, made", "meteo, made"):
        assert name in text
