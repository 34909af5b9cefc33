"""An invented garden: its configuration, a forecast file that threatens or does not, sources that misbehave."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import SourceUnavailable
from alertd.sources import FileSource
from alertd.weather import Series, write_forecast_archive_csv

if TYPE_CHECKING:
    from pathlib import Path

_CONFIGURATION = """\
units = "Cel"

[site]
name = "Hollow Lane"
latitude = 41.2
longitude = -75.9
elevation_m = 230
time_zone = "America/New_York"
last_freeze = "05-05"

[[groups]]
id = "pots"
name = "the fig pots"
growing = "container"
count = 6
species = "fig"
class = "fig"
protection = "store"

[[channels]]
name = "way"
credential = "way"

[[recipients]]
name = "keeper"
channels = ["way"]

[[sources]]
name = "weather file"
kind = "file"
path = "forecast.csv"

[polling]
every = "1s"

[delivery]
first_retry = "1s"
max_retry = "2s"

[state]
database = "alertd.sqlite"
"""


@dataclass
class GardenFolder:
    """A folder with a configuration, its one credential and its forecast file."""

    folder: Path
    channel_url: str
    base: datetime = field(default_factory=lambda: datetime.now(UTC).replace(minute=0, second=0, microsecond=0))

    def __post_init__(self) -> None:
        credentials = self.folder / "credentials"
        credentials.mkdir(mode=0o700, parents=True)
        (credentials / "way").write_text(self.channel_url)
        (credentials / "way").chmod(0o600)
        self.configuration.write_text(_CONFIGURATION)

    @property
    def configuration(self) -> Path:
        return self.folder / "alertd.toml"

    @property
    def database(self) -> Path:
        return self.folder / "alertd.sqlite"

    @property
    def forecast(self) -> Path:
        return self.folder / "forecast.csv"

    def forecast_text(self, *, is_severe: bool) -> str:
        """Return a forecast made a moment ago; its cold, if any, comes three days after `base`, whenever it is made."""
        hours = np.arange(-2, 24 * 9)
        air = 11.0 + 3.0 * np.sin(2.0 * np.pi * hours / 24.0)
        if is_severe:
            air -= 40.0 * np.exp(-(((hours - 72.0) / 14.0) ** 2))
        start = np.datetime64(self.base.replace(tzinfo=None), "s")
        series = Series(start + hours * np.timedelta64(3600, "s"), {"air_temperature": np.atleast_2d(air.round(1))})
        return write_forecast_archive_csv([(datetime.now(UTC) - timedelta(seconds=1), series)])

    def write_forecast(self, *, is_severe: bool) -> None:
        """Put a new forecast in place, whole."""
        self.put_forecast(self.forecast_text(is_severe=is_severe))

    def put_forecast(self, text: str) -> None:
        """Put a text in place, whole."""
        part = self.folder / "forecast.part"
        part.write_text(text)
        part.replace(self.forecast)


class FaultySource:
    """A forecast file behind a source that fails, crashes or hangs as it is told."""

    def __init__(self, name: str, path: Path, fault: str = "") -> None:
        self.name = name
        self.fault = fault
        self.release = threading.Event()
        self._file = FileSource(name, path)

    def get(self, now):
        match self.fault:
            case "crash":
                message = "unforeseen, with s3cr3t-canary"
                raise RuntimeError(message)
            case "down":
                message = "the line is cut"
                raise SourceUnavailable(message)
            case "hang":
                self.release.wait()
        return self._file.get(now)
