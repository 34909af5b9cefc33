"""Answers like those of Open-Meteo, invented: hourly arrays with units, statuses of models, refusals."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from alertd.site import MonthDay, Site
from alertd.sources.open_meteo import Asked

#: A garden that does not exist, on a hill.
SITE = Site("Hillside", 40.71239, -74.00601, 120.0, ZoneInfo("America/New_York"), "keeper@example.org", MonthDay(5, 10))
ASKED = Asked(SITE.latitude, SITE.longitude, SITE.elevation)

#: 00:00 UTC of the day on which answers are asked for.
START = datetime(2026, 1, 23, tzinfo=UTC)

UNITS = {
    "temperature_2m": "°C",
    "dew_point_2m": "°C",
    "wind_speed_10m": "m/s",
    "cloud_cover": "%",
    "precipitation": "mm",
    "snow_depth": "m",
}

#: Shape of an answer. Source: the service's OpenAPI files of the forecast and ensemble endpoints (3.1.0), their
#: response 200, written out by hand; `null` for missing values and numbers for times as the documentation says.
SCHEMA = {
    "type": "object",
    "required": ["latitude", "longitude", "utc_offset_seconds", "hourly", "hourly_units"],
    "properties": {
        "latitude": {"type": "number"},
        "longitude": {"type": "number"},
        "elevation": {"type": "number"},
        "generationtime_ms": {"type": "number"},
        "utc_offset_seconds": {"type": "integer"},
        "timezone": {"type": "string"},
        "timezone_abbreviation": {"type": "string"},
        "hourly": {
            "type": "object",
            "properties": {"time": {"type": "array", "items": {"type": ["integer", "string"]}}},
            "additionalProperties": {"type": "array", "items": {"type": ["number", "null"]}},
        },
        "hourly_units": {"type": "object", "additionalProperties": {"type": "string"}},
    },
}


def unit_of(key: str) -> str:
    """Return the unit in which the service states an array."""
    return next((unit for variable, unit in UNITS.items() if key.startswith(variable)), "°C")


def document(columns: dict[str, list], *, start: datetime = START, step: int = 3600, **head) -> dict:
    """Return an answer with these arrays, which all have the same length; `head` replaces its other parts."""
    count = max((len(values) for values in columns.values()), default=0)
    first = int(start.timestamp())
    return {
        "latitude": 40.710335,
        "longitude": -73.99308,
        "generationtime_ms": 0.7249116897583008,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "timezone_abbreviation": "GMT",
        "elevation": SITE.elevation,
        "hourly_units": {"time": "unixtime", **{key: unit_of(key) for key in columns}},
        "hourly": {"time": [first + step * index for index in range(count)], **columns},
    } | head


def body(columns: dict[str, list], **options) -> bytes:
    """Return the bytes of an answer; `options` are those of `document`."""
    return json.dumps(document(columns, **options), ensure_ascii=False).encode()


def temperatures(hours: int, *, lowest: float = -12.0, mean: float = -4.0) -> list[float]:
    """Return air temperatures that are lowest at 11:00 UTC of each day."""
    swing = mean - lowest
    return [round(mean - swing * math.cos((hour - 11) * math.tau / 24), 1) for hour in range(hours)]


def forecast_columns(hours: int = 168, *, known: int | None = None, **options) -> dict[str, list]:
    """Return arrays of a forecast; beyond `known` hours its model says nothing."""
    air = temperatures(hours, **options)
    columns = {
        "temperature_2m": air,
        "dew_point_2m": [round(value - 3.5, 1) for value in air],
        "wind_speed_10m": [2.36 + 0.5 * (hour % 5) for hour in range(hours)],
        "cloud_cover": [hour % 7 * 15 for hour in range(hours)],
        "precipitation": [0.1 if hour % 12 == 0 else 0.0 for hour in range(hours)],
        "snow_depth": [0.12] * hours,
        "soil_temperature_0cm": [-1.5] * hours,
        "soil_temperature_6cm": [-0.4] * hours,
        "soil_temperature_18cm": [0.8] * hours,
        "soil_temperature_54cm": [4.1] * hours,
    }
    end = hours if known is None else known
    return {key: values[:end] + [None] * (hours - end) for key, values in columns.items()}


def ensemble_columns(hours: int = 168, members: int = 39, *, suffix: str = "") -> dict[str, list]:
    """Return arrays of a control and of members, each 0.1 °C colder than the one before."""
    air = temperatures(hours)
    keys = ["temperature_2m", *(f"temperature_2m_member{number:02d}" for number in range(1, members + 1))]
    return {f"{key}{suffix}": [round(value - 0.1 * number, 1) for value in air] for number, key in enumerate(keys)}


def status(run: datetime, *, delay: timedelta = timedelta(hours=4), interval: timedelta = timedelta(hours=6)) -> dict:
    """Return the status of a model whose last run was made at an instant and available after a delay."""
    available = int((run + delay).timestamp())
    return {
        "last_run_initialisation_time": int(run.timestamp()),
        "last_run_modification_time": available - 60,
        "last_run_availability_time": available,
        "temporal_resolution_seconds": 3600,
        "update_interval_seconds": int(interval.total_seconds()),
    }


def refusal(reason: str) -> bytes:
    """Return the body of a refusal."""
    return json.dumps({"error": True, "reason": reason}).encode()
