"""The demo's winter as files, for people who want to look."""

from __future__ import annotations

from typing import TYPE_CHECKING

from alertd.weather import write_forecast_archive_csv, write_weather_csv

from .weather import RUNS_PER_DAY, demo_weather

if TYPE_CHECKING:
    from pathlib import Path

#: What the files are called.
WEATHER_FILE, FORECASTS_FILE = "demo-weather.csv", "demo-forecasts.csv"


def write_files(directory: Path) -> tuple[Path, Path]:
    """Write what the weather did, and one forecast of each day.

    Parameters
    ----------
    directory : Path
        Where; made if it is missing.

    Returns
    -------
    tuple of (Path, Path)
        The record, and the archive of forecasts.

    Raises
    ------
    OSError
        If the files cannot be written.
    """
    weather = demo_weather()
    directory.mkdir(parents=True, exist_ok=True)
    record, archive = directory / WEATHER_FILE, directory / FORECASTS_FILE
    record.write_text(write_weather_csv(weather.winter()), encoding="utf-8", newline="\n")
    runs = range(RUNS_PER_DAY // 2, weather.n_runs, RUNS_PER_DAY)
    forecasts = (weather.forecast_of_run(run) for run in runs)
    archive.write_text(write_forecast_archive_csv(forecasts), encoding="utf-8", newline="\n")
    return record, archive
