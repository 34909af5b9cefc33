"""The hourly forecast, which people read: it stands in where the raw layers fail."""

from __future__ import annotations

import math
import re
from typing import Any

from alertd.core import SourceMalformed
from alertd.weather import UNITS

from .geometry import any_position, require_near
from .gridpoint import GridForecast, joined
from .intervals import LONGEST_INTERVAL, HourlyValues
from .reading import (
    as_instant,
    as_list,
    as_number,
    as_object,
    as_text,
    conversion,
    elevation_in_metres,
    objects,
    quantity,
    quoted,
    read_object,
)

_TEMPERATURE_UNITS = {"F": "[degF]", "C": "Cel"}
_WIND_UNITS = {"mph": "[mi_i]/h", "km/h": "km/h", "kt": "[kn_i]", "m/s": "m/s"}
_WIND = re.compile(r"(\d{1,4}(?:\.\d{1,9})?)(?: to (\d{1,4}(?:\.\d{1,9})?))? ([a-z/]+)", flags=re.ASCII)


def parse_hourly(body: bytes, latitude: float, longitude: float) -> GridForecast:
    """Return the forecast in an answer of ``/forecast/hourly``.

    Parameters
    ----------
    body : bytes
        Of an answer with status 200, as ``application/geo+json``, with numbers or objects for temperature and wind.
    latitude, longitude : float
        The position asked [degrees].

    Returns
    -------
    GridForecast
        Air temperature, dew point and wind by hour, without minima. Of a range of wind (``5 to 10 mph``) its middle.

    Raises
    ------
    SourceMalformed
        If the body is no such answer, has no period with a temperature, or is for a place more than half a degree
        away.
    """
    document = read_object(body)
    geometry = document.get("geometry")
    if geometry is not None:
        require_near(any_position(geometry), latitude, longitude)
    properties = as_object(document.get("properties"), "properties")
    reference_time = as_instant(properties.get("updateTime", properties.get("updated")), "updateTime")
    hourly = HourlyValues(reference_time)
    values: dict[str, list[tuple[Any, Any, float]]] = {
        "air_temperature": [],
        "dew_point_temperature": [],
        "wind_speed": [],
    }
    for period in objects(as_list(properties.get("periods"), "periods"), "periods"):
        start, end = as_instant(period.get("startTime"), "startTime"), as_instant(period.get("endTime"), "endTime")
        if not start < end <= start + LONGEST_INTERVAL:
            message = f"a period from {start.isoformat()} does not end after it, but {end.isoformat()}"
            raise SourceMalformed(message)
        read = (_temperature(period), quantity(period.get("dewpoint"), "dew_point_temperature", "dewpoint"))
        for variable, value in zip(values, (*read, _wind_speed(period.get("windSpeed"))), strict=True):
            values[variable].append((start, end, math.nan if value is None else value))
    variables = {
        variable: hourly.of_states(intervals, is_colder_kept=variable == "air_temperature")
        for variable, intervals in values.items()
    }
    elevation = elevation_in_metres(properties.get("elevation"), "elevation")
    return GridForecast(reference_time, elevation, joined(hourly, variables))


def _temperature(period: dict[str, Any]) -> float | None:
    """Return the air temperature [°C] of a period: a number beside its unit, or a quantity."""
    value = period.get("temperature")
    if value is None or isinstance(value, dict):
        return quantity(value, "air_temperature", "temperature")
    letter = as_text(period.get("temperatureUnit"), "temperatureUnit")
    unit = conversion("air_temperature", _TEMPERATURE_UNITS.get(letter, letter), "temperature")
    return unit.canonical(as_number(value, "temperature"))


def _wind_speed(value: object) -> float | None:
    """Return the wind speed [m/s] of a period: text with a unit, or a quantity."""
    if value is None or value == "":
        return None
    if isinstance(value, dict):
        if value.get("value") is None and value.get("minValue") is not None and value.get("maxValue") is not None:
            edges = [as_number(value[name], f"windSpeed.{name}") for name in ("minValue", "maxValue")]
            value = {**value, "value": sum(edges) / len(edges)}
        return quantity(value, "wind_speed", "windSpeed")
    match = _WIND.fullmatch(as_text(value, "windSpeed"))
    if match is None or match[3] not in _WIND_UNITS:
        message = f"windSpeed is {quoted(value)}, in none of the units {', '.join(_WIND_UNITS)}"
        raise SourceMalformed(message)
    lowest = float(match[1])
    highest = float(match[2] or match[1])
    return UNITS["wind_speed"][_WIND_UNITS[match[3]]].canonical((lowest + highest) / 2.0)
