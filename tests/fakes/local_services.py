"""A local server for each public service, and a weather file: all forecast the same cold nights until they end."""

from __future__ import annotations

import os
import socket
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Self

from tests.fakes import forecasts
from tests.fakes.http_servers import Behaviour, HttpServer, json_answer
from tests.fakes.nws import CELL_PATH, POSITION, alerts, geojson, points
from tests.fakes.open_meteo import status

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

SERVICES = ("nws", "met_norway", "open_meteo", "open_meteo_ensemble", "mosmix")

#: All kinds of sources by kind, as the configuration below names them.
NAMES = {
    "nws": "grid",
    "met_norway": "north",
    "open_meteo": "meteo",
    "open_meteo_ensemble": "members",
    "mosmix": "station",
    "file": "neighbour",
}

#: Parts of what each source is credited with.
CREDITS = (
    "US National Weather Service",
    "MET Norway",
    "Model: icon_seamless",
    "Model: ecmwf_ifs025",
    "Datenbasis: Deutscher Wetterdienst",
    "Data: the neighbour's own model",
)

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

[[sources]]
name = "members"
kind = "open_meteo_ensemble"
model = "ecmwf_ifs025"
non_commercial = true
base_url = "{open_meteo_ensemble}"

[[sources]]
name = "station"
kind = "mosmix"
station = "X9001"
base_url = "{mosmix}"

[[sources]]
name = "neighbour"
kind = "file"
path = "forecast.csv"
credits = "Data: the neighbour's own model"

[observations]
file = "thermometer.csv"
station = "by-the-pots"

[polling]
{polling}
"""


@dataclass
class _Clock:
    """What time it is for the servers, and how old a forecast is when it is asked for."""

    now: Callable[[], datetime]
    age: timedelta

    @property
    def hour(self) -> datetime:
        return self.now().replace(minute=0, second=0, microsecond=0)

    @property
    def made(self) -> datetime:
        return (self.now() - self.age).replace(microsecond=0)


class LocalServices:
    """All of them, running; `age` is that of each forecast when it is asked for."""

    def __init__(self, folder: Path, now: Callable[[], datetime], age: timedelta = timedelta(minutes=40)) -> None:
        self._clock = _Clock(now, age)
        self._file = folder / "forecast.csv"
        self._servers: dict[str, HttpServer] = {}
        self._places: dict[str, socket.socket] = {}
        for kind in SERVICES:
            self._start(kind, 0)
        self.urls = {kind: server.url for kind, server in self._servers.items()}
        self.put_file()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_failure: object) -> None:
        for server in self._servers.values():
            server.__exit__(None, None, None)
        for place in self._places.values():
            place.close()

    def configure(self, path: Path, polling: str = 'every = "1h"') -> None:
        """Write a configuration that asks them all."""
        path.write_text(CONFIGURATION.format(**self.urls, polling=polling), encoding="utf-8")

    def put_file(self) -> None:
        """Put the file in place, whole, with a forecast that is as old as those of the services."""
        part = self._file.with_suffix(".part")
        part.write_text(forecasts.weather_file(self._clock.hour - timedelta(hours=2), count=170), encoding="utf-8")
        seconds = self._clock.made.timestamp()
        os.utime(part, (seconds, seconds))
        part.replace(self._file)

    def kill(self, *kinds: str) -> None:
        """End some; nobody else gets their ports."""
        for kind in kinds:
            if kind == "file":
                self._file.unlink()
                continue
            server = self._servers.pop(kind)
            server.__exit__(None, None, None)
            place = socket.socket()  # bound, but it does not listen: whoever connects is refused
            place.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            place.bind(("127.0.0.1", server.port))
            self._places[kind] = place

    def revive(self) -> None:
        """Let all come back, at the addresses that they had."""
        for kind, place in self._places.items():
            self._start(kind, place.getsockname()[1])
            place.close()
        self._places.clear()
        self.put_file()

    def requests(self, kind: str) -> int:
        """Return how many requests a service that lives has had."""
        return len(self._servers[kind].seen)

    def _start(self, kind: str, port: int) -> None:
        server = self._servers[kind] = HttpServer(port=port).__enter__()
        clock = self._clock
        for path, answer in _ANSWERS[kind].items():
            server.script(path, lambda _seen, answer=answer: answer(clock))


def present() -> datetime:
    """Return the time."""
    return datetime.now(UTC)


def _run(clock: _Clock) -> Behaviour:
    """Answer that the model was run when the forecast was made, which must be long enough ago to have spread."""
    return json_answer(status(clock.made, delay=timedelta(0), interval=timedelta(hours=1)))


def _kmz(clock: _Clock) -> Behaviour:
    body = forecasts.mosmix(clock.hour, clock.made, count=170)
    return Behaviour(body=body, headers={"Content-Type": "application/vnd.google-earth.kmz"})


_ANSWERS: dict[str, dict[str, Callable[[_Clock], Behaviour]]] = {
    "nws": {
        f"/points/{POSITION}": lambda _clock: geojson(points()),
        CELL_PATH: lambda clock: geojson(forecasts.nws_grid(clock.hour, clock.made, count=170)),
        "/alerts/active": lambda clock: geojson(alerts(forecasts.freeze_warning(clock.hour))),
    },
    "met_norway": {
        "/2.0/complete": lambda clock: json_answer(forecasts.met_norway(clock.hour, clock.made, six_hourly=26)),
    },
    "open_meteo": {
        "/v1/forecast": lambda clock: json_answer(forecasts.open_meteo(clock.hour, count=168)),
        "/data/dwd_icon/static/meta.json": _run,
    },
    "open_meteo_ensemble": {
        "/v1/ensemble": lambda clock: json_answer(forecasts.open_meteo_ensemble(clock.hour, count=168)),
        "/data/ecmwf_ifs025_ensemble/static/meta.json": _run,
    },
    "mosmix": {f"/{forecasts.STATION}/kml/MOSMIX_L_LATEST_{forecasts.STATION}.kmz": _kmz},
}
