"""The same cold nights, lowest -14 °C at 03 UTC, as each service would state them for one invented garden.

`hour` is the full hour from which a forecast runs, `made` the instant at which it was made. Without `is_known`, an
answer has its form, but not one value.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from tests.fakes.garden import make_site
from tests.fakes.metno import cold_night, location_forecast, step_times
from tests.fakes.mosmix import kmz
from tests.fakes.nws import alert, gridpoint, hourly, layer, period
from tests.fakes.open_meteo import document, ensemble_columns, forecast_columns

LATITUDE, LONGITUDE, ELEVATION = 44.1234, -72.5, 300.0
SITE = make_site(latitude=LATITUDE, longitude=LONGITUDE, elevation=ELEVATION)

#: Of the ensemble: the one that is asked for, and how many members it has, each 0.1 °C colder than the one before.
ENSEMBLE_MODEL, MEMBERS = "ecmwf_ifs025", 51

#: Id of the station that stands in the garden.
STATION = "X9001"

_PLACE = {"latitude": LATITUDE, "longitude": LONGITUDE}
_UTC_DAY = {"hour": 0, "minute": 0, "second": 0, "microsecond": 0}
_ZERO_CELSIUS = 273.15


def hours_from(hour: datetime, count: int) -> list[datetime]:
    """Return hourly times."""
    return [hour + timedelta(hours=number) for number in range(count)]


def nws_grid(hour: datetime, made: datetime, *, is_known: bool = True, count: int = 72) -> dict:
    """Return the raw layers of the US National Weather Service's grid cell."""
    times = hours_from(hour, count)
    air = layer(
        "wmoUnit:degC", *((f"{each.isoformat()}/PT1H", cold_night(each) if is_known else None) for each in times)
    )
    left_out = {"minTemperature": ..., "maxTemperature": ..., "dewpoint": ...}
    return gridpoint(updateTime=made.isoformat(), temperature=air, **left_out)


def nws_hourly(hour: datetime, made: datetime, *, is_known: bool = True, count: int = 72) -> dict:
    """Return its hourly forecast, in whole °F."""
    periods = [
        period(
            "22T13",
            round(cold_night(each) * 1.8 + 32) if is_known else None,
            startTime=each.isoformat(),
            endTime=(each + timedelta(hours=1)).isoformat(),
        )
        for each in hours_from(hour, count)
    ]
    return hourly(*periods, updateTime=made.isoformat(), generatedAt=made.isoformat())


def met_norway(hour: datetime, made: datetime, *, is_known: bool = True, six_hourly: int = 4) -> dict:
    """Return MET Norway's answer."""
    times = step_times(hour, 60, six_hourly) if is_known else []
    return location_forecast(**_PLACE, altitude=ELEVATION, updated=made, times=times)


def open_meteo(hour: datetime, *, is_known: bool = True, count: int = 96) -> dict:
    """Return Open-Meteo's answer for one model; it begins with the day."""
    start = hour.replace(**_UTC_DAY)
    air = [round(cold_night(each), 1) for each in hours_from(start, count)]
    columns = forecast_columns(count) | {"temperature_2m": air, "dew_point_2m": [each - 3.0 for each in air]}
    return _open_meteo(columns, start, is_known=is_known)


def open_meteo_ensemble(hour: datetime, *, is_known: bool = True, count: int = 96) -> dict:
    """Return Open-Meteo's answer for an ensemble; its control is as cold as all other forecasts here."""
    start = hour.replace(**_UTC_DAY)
    air = [cold_night(each) for each in hours_from(start, count)]
    names = ensemble_columns(0, MEMBERS - 1)
    columns = {name: [round(each - 0.1 * number, 1) for each in air] for number, name in enumerate(names)}
    return _open_meteo(columns, start, is_known=is_known)


def mosmix(
    hour: datetime, made: datetime, *, is_known: bool = True, number: str | None = None, count: int = 96
) -> bytes:
    """Return the German weather service's file of one station; `number` stands in place of one temperature."""
    times = hours_from(hour + timedelta(hours=1), count)
    air: list[float | None] = [round(cold_night(each) + _ZERO_CELSIUS, 2) for each in times]
    minima = [_minimum(each) if each.hour in {6, 18} else None for each in times]
    rows = {
        "TTT": air,
        "Td": [each - 2.0 for each in air],
        "TN": minima,
        "E_TTT": [1.5] * count,
        "Neff": [30.0] * count,
    }
    if not is_known:
        rows = {name: [None] * count for name in rows}
    if number is not None:
        rows["TTT"] = [*air[:-1], float(number)]
    coordinates = f"{LONGITUDE:.2f},{LATITUDE:.2f},{ELEVATION:.1f}"
    return kmz(station=STATION, coordinates=coordinates, issued=made, times=times, values=rows)


def weather_file(hour: datetime, *, is_known: bool = True, count: int = 96) -> str:
    """Return a weather file without reference times."""
    cells = [(each, f"{cold_night(each):.2f}" if is_known else "") for each in hours_from(hour, count)]
    lines = [f"{each:%Y-%m-%dT%H:%M:%SZ},{cell}" for each, cell in cells]
    return "\n".join(["time,air_temperature[Cel]", *lines, ""])


def _open_meteo(columns: dict[str, list], start: datetime, *, is_known: bool) -> dict:
    if not is_known:
        columns = {name: [None] * len(values) for name, values in columns.items()}
    return document(columns, start=start, **_PLACE, elevation=ELEVATION)


def _minimum(time: datetime) -> float:
    """Return the minimum [K] of the twelve hours before a time, a little below that of the hours."""
    return round(min(cold_night(time - timedelta(hours=number)) for number in range(13)) - 0.5 + _ZERO_CELSIUS, 2)


def freeze_warning(hour: datetime) -> dict:
    """Return what the US service warns of: a freeze from six hours after an hour on, for twelve."""
    onset = hour + timedelta(hours=6)
    times = {"sent": hour, "onset": onset, "expires": onset, "ends": onset + timedelta(hours=12)}
    return alert(**{name: time.isoformat() for name, time in times.items()}, parameters={})
