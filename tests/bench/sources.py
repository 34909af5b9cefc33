"""Four public services, parsed, checked and merged: python tests/bench/sources.py.

The answers are invented; the ensemble has 51 members over 240 hours. Nothing is asserted.
"""

from __future__ import annotations

import json
import resource
import statistics
import time
from datetime import timedelta
from random import Random
from urllib.parse import urlsplit

from requests.structures import CaseInsensitiveDict

from alertd.alerts import outlook
from alertd.sources import Fetcher, MemoryAnswers, MetNorwaySource, NwsSource, OpenMeteoEnsembleSource, OpenMeteoSource
from alertd.sources.transport import Reply
from alertd.weather import dress
from tests.fakes.garden import POTS, make_garden
from tests.fakes.metno import cold_night, location_forecast, step_times
from tests.fakes.nws import CELL_PATH, gridpoint, layer, points
from tests.fakes.open_meteo import document, ensemble_columns, forecast_columns, status
from tests.fakes.services import ELEVATION, LATITUDE, LONGITUDE, SITE, START

REPEATS = 15
HOURS = 240
HOUR = START.replace(minute=0)


class Served:
    """Serves the same good answers, rendered once."""

    def __init__(self) -> None:
        place = {"latitude": LATITUDE, "longitude": LONGITUDE}
        hours = [HOUR + timedelta(hours=number) for number in range(HOURS)]
        values = [(f"{each.isoformat()}/PT1H", cold_night(each)) for each in hours]
        parts = {"minTemperature": ..., "maxTemperature": ...}
        made = (START - timedelta(minutes=40)).isoformat()
        answers = {
            "points": points(),
            "grid": gridpoint(updateTime=made, temperature=layer("wmoUnit:degC", *values), **parts),
            "met": location_forecast(
                **place, altitude=ELEVATION, updated=START - timedelta(minutes=40), times=step_times(HOUR, 60, 30)
            ),
            "status": status(HOUR - timedelta(hours=5)),
            "forecast": document(forecast_columns(HOURS), start=HOUR, **place, elevation=ELEVATION),
            "ensemble": document(ensemble_columns(HOURS, 50), start=HOUR, **place, elevation=ELEVATION),
        }
        self.bodies = {name: json.dumps(answer).encode() for name, answer in answers.items()}

    def get(self, url, headers, seconds):
        """Answer."""
        assert headers
        assert seconds
        path = urlsplit(url).path
        name = "forecast"
        if "api.met.no" in url:
            name = "met"
        elif path.startswith("/points/"):
            name = "points"
        elif path == CELL_PATH:
            name = "grid"
        elif path.startswith("/data/"):
            name = "status"
        elif "ensemble" in url:
            name = "ensemble"
        return Reply(200, CaseInsensitiveDict({"Content-Type": "application/json"}), self.bodies[name])


def main() -> None:
    """Measure and print."""
    served, garden = Served(), make_garden(POTS, site=SITE, is_exact=False)
    kinds = {
        "nws": NwsSource,
        "met_norway": MetNorwaySource,
        "open_meteo": lambda name, site, fetcher: OpenMeteoSource(name, site, fetcher, non_commercial=True, days=10),
        "open_meteo_ensemble": lambda name, site, fetcher: OpenMeteoEnsembleSource(
            name, site, fetcher, non_commercial=True, days=10, model="ecmwf_ifs025"
        ),
    }
    durations: dict[str, list[float]] = {name: [] for name in (*kinds, "bind, dress, merge", "all")}
    forecasts = []
    for _ in range(REPEATS):
        fetcher = Fetcher(
            "alertd/0 keeper@example.org", MemoryAnswers(), random=Random(1), transport=served, sleep=lambda _s: None
        )
        begun, forecasts = time.perf_counter(), []
        for name, make in kinds.items():
            begin = time.perf_counter()
            forecasts.append(make(name, SITE, fetcher).get(START)[0])
            durations[name].append(time.perf_counter() - begin)
        begin = time.perf_counter()
        view = outlook(START, garden, forecasts, (), timedelta(hours=HOURS))
        durations["bind, dress, merge"].append(time.perf_counter() - begin)
        durations["all"].append(time.perf_counter() - begun)
        assert view.series is not None
    single = forecasts[0].series
    begin = time.perf_counter()
    for _ in range(REPEATS):
        dress(single, START)
    unit = (time.perf_counter() - begin) / REPEATS
    print(f"unit: dress one forecast, {unit * 1e3:.3f} ms")
    for name, each in durations.items():
        print(f"{statistics.median(each) * 1e3:9.2f} ms {statistics.median(each) / unit:8.1f} x  {name}")
    print(f"realizations merged: {view.series.n_realizations}, hours {view.series.n_times}")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")


if __name__ == "__main__":
    main()
