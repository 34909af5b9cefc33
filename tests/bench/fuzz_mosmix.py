"""Feed the parser of MOSMIX files with mutated bytes, guided by coverage, for some seconds.

Usage: ``python tests/bench/fuzz_mosmix.py SECONDS``, from the root of the checkout, with ``pip install atheris``.
Each input is taken as a KMZ file and as the KML file in one. It stops at the first one that raises anything but
SourceMalformed, or that becomes a forecast out of range.
"""

from __future__ import annotations

import sys
import tempfile
import warnings
import zipfile
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).parents[2]))

with atheris.instrument_imports(include=["alertd.sources", "zipfile"]):
    from alertd.core import SourceMalformed
    from alertd.sources.mosmix import parse_station_forecast
from alertd.weather import PHYSICAL_RANGE
from tests.fakes.mosmix import STATION, hours, kml, kmz, rows, zipped


def one_input(data: bytes) -> None:
    """Parse one input both ways."""
    one_file(data)
    one_file(zipped({"a.kml": data}, zipfile.ZIP_STORED))


def one_file(data: bytes) -> None:
    """Parse one file, and look at what comes out."""
    try:
        forecast = parse_station_forecast(data, STATION)
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
    document = kml(times=hours(13), values=rows(13))
    with tempfile.TemporaryDirectory() as folder:
        seeds = {
            "document": document,
            "utf-8": kml(times=hours(2), values=rows(2), encoding="UTF-8"),
            "file": kmz(document),
            "stored": zipped({"a.kml": document}, zipfile.ZIP_STORED),
        }
        for name, content in seeds.items():
            Path(folder, name).write_bytes(content)
        limits = [f"-max_total_time={int(sys.argv[1])}", "-max_len=20000", "-timeout=10", "-rss_limit_mb=2048"]
        atheris.Setup([sys.argv[0], folder, f"-artifact_prefix={tempfile.gettempdir()}/mosmix-", *limits], one_input)
        atheris.Fuzz()


if __name__ == "__main__":
    main()
