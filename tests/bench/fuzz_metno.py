"""Feed the parser of MET Norway's answers with mutated bytes, guided by coverage, for some seconds.

Usage: ``python tests/bench/fuzz_metno.py SECONDS``, from the root of the checkout, with ``pip install atheris``.
It stops at the first answer that raises anything but SourceMalformed, or that becomes a forecast out of range.
"""

from __future__ import annotations

import sys
import tempfile
import warnings
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).parents[2]))

with atheris.instrument_imports(include=["alertd.sources"]):
    from alertd.core import SourceMalformed
    from alertd.sources.metno import parse_locationforecast
from alertd.weather import PHYSICAL_RANGE
from tests.fakes.metno import body, location_forecast, step_times

PLACE = (47.0123, -91.4567, 190.0)


def one_answer(data: bytes) -> None:
    """Parse one answer, and look at what comes out."""
    try:
        forecast = parse_locationforecast(data, *PLACE)
    except SourceMalformed:
        return
    for name, values in forecast.series.variables.items():
        lowest, highest = PHYSICAL_RANGE[name]
        if (values < lowest).any() or (values > highest).any():
            message = f"{name} is out of range"
            raise AssertionError(message)


def main() -> None:
    """Run for as long as the first argument says."""
    warnings.simplefilter("error")
    with tempfile.TemporaryDirectory() as folder:
        seeds = {
            "whole": body(location_forecast(times=step_times(hourly=8, six_hourly=3))),
            "plain": body(location_forecast(times=step_times(hourly=2, six_hourly=0), spread=None, altitude=None)),
            "error": body(location_forecast(error="no data at the given location")),
        }
        for name, content in seeds.items():
            Path(folder, name).write_bytes(content)
        limits = [f"-max_total_time={int(sys.argv[1])}", "-max_len=20000", "-timeout=10", "-rss_limit_mb=2048"]
        atheris.Setup([sys.argv[0], folder, f"-artifact_prefix={tempfile.gettempdir()}/metno-", *limits], one_answer)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
