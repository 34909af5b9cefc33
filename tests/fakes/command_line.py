"""Commands run as a person would type them, in the test's own process."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
from click.testing import CliRunner, Result

from alertd.cli import main
from alertd.core import to_datetime64
from alertd.weather import Series, write_forecast_archive_csv

if TYPE_CHECKING:
    from pathlib import Path

CONFIGURATION = """
units = "degF"

[site]
name = "Cold Frame Corner"
latitude = 41.0
longitude = -74.0
elevation_m = 120
time_zone = "America/New_York"
last_freeze = "05-10"

[[groups]]
id = "pots"
name = "the patio pots"
growing = "container"
count = 8
species = "figs"
class = "fig"
protection = "store"
litres = 25

[[groups]]
id = "row"
name = "the bare row"
growing = "in_ground"
count = 5
species = "figs"
class = "fig_very_hardy"
protection = "none"

[[channels]]
name = "paper"
url = "file:letters"

[[recipients]]
name = "keeper"
channels = ["paper"]

[[sources]]
name = "hill file"
kind = "file"
path = "forecast.csv"
credits = "Weather by nobody."
"""


def write_forecast(path: Path, made: datetime, *, lowest: float, days: int = 6) -> None:
    """Write an archive with one forecast: mild days, and from the second night on a given lowest temperature [°C]."""
    hours = np.arange(0, 24 * days)
    times = to_datetime64(made) + hours * np.timedelta64(3600, "s")
    values = np.where(hours < 24, 5.0, np.where(hours % 24 < 12, 3.0, lowest))
    series = Series(times, {"air_temperature": values[None, :].astype(float)})
    path.write_text(write_forecast_archive_csv([(made, series)]), encoding="utf-8")


@dataclass
class CommandLine:
    """A person in a folder."""

    folder: Path

    def __call__(self, *arguments: str, exit_code: int = 0, said: str | None = None) -> Result:
        """Run `alertd` and check how it ended."""
        result = CliRunner().invoke(main, list(arguments), input=said, catch_exceptions=False, prog_name="alertd")
        assert result.exit_code == exit_code, f"{result.stdout}\n{result.stderr}"
        return result

    def json(self, *arguments: str) -> object:
        """Run `alertd ... --json` and return what it prints."""
        return json.loads(self(*arguments, "--json").stdout)

    def evaluate(self, after: timedelta = timedelta(0)) -> None:
        """Look once, as the daemon would."""
        from datetime import UTC  # noqa: PLC0415

        from alertd.config import build_services, load  # noqa: PLC0415
        from alertd.service.cycle import Cycles  # noqa: PLC0415
        from alertd.service.failures import Failures  # noqa: PLC0415
        from alertd.service.look import Look  # noqa: PLC0415
        from alertd.service.record_counts import RecordCounts  # noqa: PLC0415
        from alertd.store import Store  # noqa: PLC0415
        from alertd.watch import Watch, readership  # noqa: PLC0415

        loaded = load(self.folder / "alertd.toml", {})
        readers, site, every = readership(loaded), loaded.garden.site, loaded.polling.every
        with Store.open(loaded.database) as store:
            watch = Watch(loaded.garden, build_services(loaded, store).sources, readers, store)
            cycles = Cycles(store, site, every, RecordCounts(store))
            failures = Failures(store, readers, site)
            Look(watch, every, failures, lambda: datetime.now(tz=UTC) + after, cycles.ended).look()
