"""Invented answers of MET Norway's Locationforecast 2.0, in the form of the real ones."""

from __future__ import annotations

import json
import math
import re
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from alertd.core import instant_text
from tests.fakes.http_servers import Behaviour

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.fakes.http_servers import Seen

UPDATED = datetime(2026, 1, 22, 6, 12, 31, tzinfo=UTC)
START = datetime(2026, 1, 22, 8, tzinfo=UTC)

UNITS = {
    "air_pressure_at_sea_level": "hPa",
    "air_temperature": "celsius",
    "air_temperature_max": "celsius",
    "air_temperature_min": "celsius",
    "air_temperature_percentile_10": "celsius",
    "air_temperature_percentile_90": "celsius",
    "cloud_area_fraction": "%",
    "dew_point_temperature": "celsius",
    "precipitation_amount": "mm",
    "relative_humidity": "%",
    "wind_from_direction": "degrees",
    "wind_speed": "m/s",
}


def cold_night(time: datetime) -> float:
    """Return a temperature [°C] that is lowest, -14 °C, at 03 UTC, between the six-hourly instants."""
    return -6.0 + 8.0 * math.sin(2.0 * math.pi * (time.hour + time.minute / 60.0 - 9.0) / 24.0)


def step_times(start: datetime = START, hourly: int = 60, six_hourly: int = 26) -> list[datetime]:
    """Return times of steps: hourly ones, then six-hourly ones from the next 00, 06, 12 or 18 UTC on."""
    times = [start + timedelta(hours=number) for number in range(hourly)]
    first = start + timedelta(hours=hourly)
    first += timedelta(hours=-first.hour % 6)
    while times and times[-1] + timedelta(hours=1) < first:
        times.append(times[-1] + timedelta(hours=1))
    return times + [first + timedelta(hours=6 * number) for number in range(six_hourly)]


def location_forecast(
    *,
    latitude: float = 47.0123,
    longitude: float = -91.4567,
    altitude: float | None = 190,
    updated: datetime = UPDATED,
    times: list[datetime] | None = None,
    temperature: Callable[[datetime], float] = cold_night,
    spread: float | None = 2.5632,
    error: str | None = None,
) -> dict:
    """Return an answer as a document; `spread` [°C] lies between the percentiles, which may be absent."""
    times = step_times() if times is None else times
    meta = {"updated_at": instant_text(updated), "units": dict(UNITS)}
    if error is not None:
        meta = {"updated_at": instant_text(updated), "error": error, "units": {}}
        times = []
    coordinates = [longitude, latitude] if altitude is None else [longitude, latitude, altitude]
    return {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": coordinates},
        "properties": {
            "meta": meta,
            "timeseries": [_step(times, place, temperature, spread) for place in range(len(times))],
        },
    }


def body(document: dict) -> bytes:
    """Return a document as it is sent."""
    return json.dumps(document, separators=(",", ":")).encode()


def polite_only(behaviour: Behaviour) -> Callable[[Seen], Behaviour]:
    """Return a function that refuses who hides, or asks with more than four decimals, as the real service does."""

    def answer(seen: Seen) -> Behaviour:
        has_contact = "@" in seen.headers.get("User-Agent", "")
        has_few_decimals = all(re.fullmatch(r"-?\d+(\.\d{1,4})?", seen.query[name]) for name in ("lat", "lon"))
        has_whole_altitude = re.fullmatch(r"-?\d+", seen.query["altitude"])
        return behaviour if has_contact and has_few_decimals and has_whole_altitude else Behaviour(403, b"Forbidden")

    return answer


def _step(times: list[datetime], place: int, temperature: Callable[[datetime], float], spread: float | None) -> dict:
    time = times[place]
    air = round(temperature(time), 1)
    details = {
        "air_pressure_at_sea_level": 1021.4,
        "air_temperature": air,
        "cloud_area_fraction": 12.5,
        "dew_point_temperature": round(air - 3.0, 1),
        "relative_humidity": 78.1,
        "wind_from_direction": 301.0,
        "wind_speed": 2.3,
    }
    if spread is not None:
        details["air_temperature_percentile_10"] = round(air - spread / 2.0, 4)
        details["air_temperature_percentile_90"] = round(air + spread / 2.0, 4)
    data: dict = {"instant": {"details": details}}
    if place + 1 < len(times):
        data |= _periods(times, place, temperature)
    return {"time": instant_text(time), "data": data}


def _periods(times: list[datetime], place: int, temperature: Callable[[datetime], float]) -> dict:
    """Return what follows a step: the five hourly steps before the six-hourly part have no next six hours."""
    time, hour = times[place], timedelta(hours=1)
    is_hourly = times[place + 1] - time == hour
    sixth = time + 6 * hour
    periods: dict = {}
    if place + 2 < len(times):
        periods["next_12_hours"] = {
            "summary": {"symbol_code": "fair_day", "symbol_confidence": "certain"},
            "details": {},
        }
    if is_hourly:
        periods["next_1_hours"] = {"summary": {"symbol_code": "lightsnow"}, "details": {"precipitation_amount": 0.1}}
    if not is_hourly or sixth in times:
        lows = [round(temperature(time + number * hour), 1) for number in range(1, 7)]
        details = {"air_temperature_max": max(lows), "air_temperature_min": min(lows), "precipitation_amount": 0.6}
        periods["next_6_hours"] = {"summary": {"symbol_code": "lightsnow"}, "details": details}
    return periods
