"""Feed the parser of weather files with mutated text, guided by coverage, for some seconds.

Usage: ``python tests/bench/fuzz_csv.py SECONDS``, from the root of the checkout, with ``pip install atheris``.
It stops at the first input that raises anything but SourceMalformed, or that quality control lets through out of range.
"""

from __future__ import annotations

import sys
import tempfile
import warnings
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).parents[2]))

with atheris.instrument_imports(include=["alertd.weather"]):
    from alertd.core import SourceMalformed
    from alertd.weather import PHYSICAL_RANGE, check_quality, parse_weather_csv

SEEDS = (
    "time,air_temperature[degF],dew_point_temperature[degF]\n2026-01-22T23:00:00Z,18.5,9.0\n2026-01-23T00:00:00Z,17,8\n",
    "time,air_temperature[Cel],wind_speed[m/s]\n2026-01-22T23:00:00-05:00,-5,\n2026-01-22T22:00:00-05:00,-4,3.5\n",
    (
        "forecast_reference_time,realization,time,air_temperature[K]\n"
        "2026-01-22T00:00:00Z,0,2026-01-22T06:00:00Z,262\n2026-01-22T00:00:00Z,1,2026-01-22T06:00:00Z,263\n"
    ),
)


def one_input(data: bytes) -> None:
    """Parse one input, and look at what comes out of quality control."""
    try:
        table = parse_weather_csv(data.decode("utf-8", errors="replace"), "fuzz.csv")
    except SourceMalformed:
        return
    records = [] if table.record is None else [table.record]
    for series in [*records, *(series for _, series in table.forecasts)]:
        report = check_quality(series)
        for name, values in report.series.variables.items() if report.is_usable else ():
            lowest, highest = PHYSICAL_RANGE[name]
            if (values < lowest).any() or (values > highest).any():
                message = f"{name} is out of range"
                raise AssertionError(message)


def main() -> None:
    """Run for as long as the first argument says."""
    warnings.simplefilter("error")
    with tempfile.TemporaryDirectory() as folder:
        for number, text in enumerate(SEEDS):
            Path(folder, f"seed-{number}").write_text(text, encoding="utf-8")
        limits = [f"-max_total_time={int(sys.argv[1])}", "-max_len=4000", "-timeout=10", "-rss_limit_mb=2048"]
        atheris.Setup([sys.argv[0], folder, f"-artifact_prefix={tempfile.gettempdir()}/csv-", *limits], one_input)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
