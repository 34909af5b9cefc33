"""The raw layers of a grid cell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from alertd.core import SourceMalformed
from alertd.weather import PeriodMinimum, Series

from .geometry import any_position, is_near, require_near
from .intervals import HourlyValues, parse_interval
from .points import GridCell, read_cell
from .reading import (
    as_instant,
    as_list,
    as_number,
    as_object,
    conversion,
    elevation_in_metres,
    objects,
    read_object,
)

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.weather import Conversion

    from .intervals import Values

#: Layers whose value holds at each hour of its interval, by CF standard name. ``snowfallAmount`` is new snow of an
#: interval and no depth, so that the service gives no ``surface_snow_thickness``.
STATE_LAYERS = {
    "air_temperature": "temperature",
    "dew_point_temperature": "dewpoint",
    "cloud_area_fraction": "skyCover",
    "wind_speed": "windSpeed",
}

#: The layer whose value is the sum over its interval.
AMOUNT_LAYER = "quantitativePrecipitation"

#: The layer of nights' lowest temperatures. In recorded answers it was up to 2.2 °C colder than the hourly layer
#: of the same hours (seen), so both are used.
MINIMUM_LAYER = "minTemperature"

_Interval = tuple["datetime", "datetime", float]


@dataclass(frozen=True, slots=True)
class GridForecast:
    """A forecast for a grid cell.

    Parameters
    ----------
    forecast_reference_time : datetime
        Aware UTC: when its office last changed it, by its own word.
    elevation : float or None
        Of the cell [m], ``None`` if it does not say.
    series : Series
        Hourly, one realization, from some hours before the reference time on.
    minima : tuple of PeriodMinimum
        The nights' lowest temperatures, as stated.
    cell : GridCell or None
        By its own word.
    """

    forecast_reference_time: datetime
    elevation: float | None
    series: Series
    minima: tuple[PeriodMinimum, ...] = ()
    cell: GridCell | None = None


def parse_gridpoint(body: bytes, latitude: float, longitude: float) -> GridForecast:
    """Return the forecast in the raw layers of a grid cell.

    A layer is a list of intervals with one value each; equal neighbouring hours are one interval. The value of a
    state (temperature, dew point, cloud, wind) holds at every whole hour from the start to before the end. Of
    precipitation, only intervals of one hour become an amount, at their end. Layers are joined by time, on the
    hours of the temperature layer; where one has ended or is null, it is missing.

    Parameters
    ----------
    body : bytes
        Of an answer with status 200, as ``application/geo+json``.
    latitude, longitude : float
        The position asked [degrees].

    Returns
    -------
    GridForecast
        In canonical units; a layer that is absent or empty is left out.

    Raises
    ------
    SourceMalformed
        If the body is no such answer, a layer has an unknown unit or a value that is no number, the cell lies more
        than half a degree from the position, or there is no temperature.
    """
    document = read_object(body)
    if document.get("geometry") is not None:
        require_near(any_position(document["geometry"]), latitude, longitude)
    properties = as_object(document.get("properties"), "properties")
    reference_time = as_instant(properties.get("updateTime"), "updateTime")
    hourly = HourlyValues(reference_time)
    variables = {}
    for variable, layer in STATE_LAYERS.items():
        intervals = _layer(properties, layer, variable, reference_time)
        variables[variable] = hourly.of_states(intervals, is_colder_kept=variable == "air_temperature")
    amounts = _layer(properties, AMOUNT_LAYER, "precipitation_amount", reference_time)
    variables["precipitation_amount"] = hourly.of_hourly_amounts(amounts)
    return GridForecast(
        reference_time,
        elevation_in_metres(properties.get("elevation"), "elevation"),
        joined(hourly, variables),
        tuple(
            PeriodMinimum(start, end, value)
            for start, end, value in _layer(properties, MINIMUM_LAYER, "air_temperature", reference_time)
            if np.isfinite(value)
        ),
        read_cell(properties),
    )


def is_of_another_place(body: bytes, cell: GridCell, latitude: float, longitude: float) -> bool:
    """Return whether an answer says that it is for another cell or place than the one asked.

    Parameters
    ----------
    body : bytes
        Of an answer with status 200, perhaps no good one.
    cell : GridCell
        That was asked.
    latitude, longitude : float
        The position asked [degrees].

    Returns
    -------
    bool
        False if it does not say, or cannot be read.
    """
    try:
        document = read_object(body)
        named = read_cell(as_object(document.get("properties"), "properties"))
        position = None if document.get("geometry") is None else any_position(document["geometry"])
    except SourceMalformed:
        return False
    return named not in {None, cell} or (position is not None and not is_near(position, latitude, longitude))


def joined(hourly: HourlyValues, variables: dict[str, Values]) -> Series:
    """Return variables as a series on the hours between the first and the last air temperature.

    Parameters
    ----------
    hourly : HourlyValues
        Whose hours the values have.
    variables : dict of str to numpy.ndarray
        By CF standard name, each shape (n_hours,).

    Returns
    -------
    Series
        One realization, without variables that are missing throughout.

    Raises
    ------
    SourceMalformed
        If there is no air temperature.
    """
    present = np.flatnonzero(~np.isnan(variables["air_temperature"]))
    if not present.size:
        message = "there is no air temperature in the forecast"
        raise SourceMalformed(message)
    part = slice(int(present[0]), int(present[-1]) + 1)
    kept = {name: values[np.newaxis, part] for name, values in variables.items() if not np.isnan(values[part]).all()}
    return Series(hourly.hours[part], kept)


def _layer(properties: dict[str, Any], name: str, variable: str, reference_time: datetime) -> list[_Interval]:
    """Return start, end and canonical value (NaN where null) of the intervals of a layer."""
    if properties.get(name) is None:
        return []
    layer = as_object(properties[name], name)
    entries = objects(as_list(layer.get("values"), f"{name}.values"), name)
    if not entries:
        return []  # empty layers come without a unit
    unit = conversion(variable, layer.get("uom"), name)
    return [_interval(entry, unit, reference_time, name) for entry in entries]


def _interval(entry: dict[str, Any], unit: Conversion, reference_time: datetime, name: str) -> _Interval:
    """Return start, end and canonical value (NaN where null) of one entry of a layer."""
    start, end = parse_interval(entry.get("validTime"), reference_time, f"{name}.validTime")
    value = entry.get("value")
    return start, end, np.nan if value is None else unit.canonical(as_number(value, f"{name}.value"))
