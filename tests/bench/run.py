"""Figures of one run, as ratios: python tests/bench/run.py.

Nothing is asserted: machines differ, and what counts is how the parts compare on one machine.
"""

from __future__ import annotations

import resource
import statistics
import tempfile
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from alertd.alerts import State, decide
from alertd.core import to_datetime64
from alertd.hindcast import HindcastSettings, RecordSource, run_hindcast
from alertd.messages import Reader
from alertd.store import Store
from alertd.watch import Readership, Watch
from alertd.weather import Forecast, Series, check_quality, dress
from tests.fakes.garden import FIGS, POTS, make_garden

if TYPE_CHECKING:
    from collections.abc import Callable

START = datetime(2026, 1, 1, tzinfo=UTC)
REPEATS = 200


def season(hours: int) -> Series:
    """Return an invented cold season, hourly."""
    hour = np.arange(hours)
    wave = 6.0 * np.sin(2 * np.pi * (hour - 9) / 24) + 8.0 * np.sin(2 * np.pi * hour / (24 * 11)) - 2.0
    return Series(to_datetime64(START) + hour * np.timedelta64(3600, "s"), {"air_temperature": wave[None, :]})


def median_time(work: Callable[[], object]) -> float:
    """Return the median duration of a piece of work [s]."""
    work()
    durations = []
    for _ in range(REPEATS):
        begin = time.perf_counter()
        work()
        durations.append(time.perf_counter() - begin)
    return statistics.median(durations)


def main() -> None:
    """Measure and print."""
    record = season(24 * 60)
    forecast = Forecast("bench", START, START, record.window(START, START + timedelta(hours=168)))
    few = make_garden(POTS, FIGS, is_exact=False)
    many = replace(few, groups=tuple(replace(POTS, group_id=f"pots-{number}") for number in range(20)))
    dressed = dress(forecast.series, START)
    unit = median_time(lambda: dress(forecast.series, START))
    figures = {
        "dress one forecast to 51 realizations (the unit)": unit,
        "check quality of the 51 realizations": median_time(lambda: check_quality(dressed)),
        "decide for 2 groups": median_time(lambda: decide(START, few, [forecast], [], State({}, ()))),
        "decide for 20 groups": median_time(lambda: decide(START, many, [forecast], [], State({}, ()))),
    }
    readership = Readership((Reader("keeper"),), {"keeper": ("paper",)})
    for name, folder_durable in (("in memory", None), ("on disk, durable", True)):
        with tempfile.TemporaryDirectory() as folder:
            path = None if folder_durable is None else Path(folder) / "bench.sqlite"
            with Store.open(path) as store:
                watch = Watch(few, [RecordSource("bench", record, timedelta(hours=168))], readership, store)
                moments = iter(START + timedelta(minutes=minute) for minute in range(10 * REPEATS))
                figures[f"evaluate and commit {name}"] = median_time(lambda w=watch, m=moments: w.evaluate(next(m)))
    begin = time.perf_counter()
    played = run_hindcast(few, readership, record, HindcastSettings())
    figures[f"hindcast, per evaluation of {played.evaluations}"] = (time.perf_counter() - begin) / played.evaluations
    for name, duration in figures.items():
        print(f"{duration * 1e3:9.3f} ms {duration / unit:8.1f} x  {name}")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")


if __name__ == "__main__":
    main()
