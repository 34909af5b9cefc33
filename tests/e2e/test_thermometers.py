"""Devices and public stations, as the daemon collects them."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import requests

from alertd.config import ObservationSpec, build_services, load
from alertd.service.thermometers import Thermometers
from alertd.sources import PushSettings
from alertd.store import Store
from tests.fakes.http_servers import HttpServer
from tests.fakes.nws import NOW, serve_all

TOKEN = "canary-token-of-thermometers"

CONFIGURATION = """
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

[[sources]]
name = "grid"
kind = "nws"
base_url = "{url}"

[observations]
nearest_stations = true
"""


def test_a_device_hands_over_what_it_measured() -> None:
    now = datetime.now(tz=UTC).replace(microsecond=0)
    with Store.open(None) as store:
        push = PushSettings("127.0.0.1", 0, TOKEN)
        thermometers = Thermometers(ObservationSpec(push=push), None, store, lambda: datetime.now(tz=UTC))
        thermometers.start()
        try:
            answer = requests.post(
                f"http://127.0.0.1:{thermometers.port}/observations",
                data=json.dumps({"station": "barn", "time": now.isoformat(), "air_temperature": -7.5, "unit": "Cel"}),
                headers={"Authorization": f"Bearer {TOKEN}", "Content-Type": "application/json"},
                timeout=10,
            )
        finally:
            thermometers.stop()
        assert answer.status_code == 200
        (kept,) = store.recent_observations(datetime.now(tz=UTC))
        assert (kept.station, kept.air_temperature, kept.time) == ("barn", -7.5, now)


def test_public_stations_near_the_site_are_kept(tmp_path) -> None:
    path = tmp_path / "alertd.toml"
    with HttpServer() as server, Store.open(None) as store:
        serve_all(server)
        path.write_text(CONFIGURATION.format(url=server.url), encoding="utf-8")
        loaded = load(path, {})
        services = build_services(loaded, store)
        Thermometers(loaded.observations, services.stations, store, lambda: NOW).collect()
        kept = store.recent_observations(NOW)
        assert {each.station: each.air_temperature for each in kept} == {"ZZQ1": 1.1, "ZZQ2": 2.2, "ZZQ3": 3.3}
