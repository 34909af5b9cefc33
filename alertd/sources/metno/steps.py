"""The steps of a MET Norway Locationforecast 2.0, as they stand in its JSON."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NoReturn

import numpy as np

from alertd.core import SourceMalformed, parse_instant
from alertd.sources.json_body import read_json

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

#: Steps further than this from the time of the update are no forecast. The longest one seen reaches ten days.
LONGEST_HORIZON = timedelta(days=30)

#: Years of which a forecast can speak. Assumed.
_YEARS = range(1970, 2200)

#: What is read: section, name and required unit of each value. *Seen* in recorded answers and MET's own lists.
FIELDS = {
    "air_temperature": ("instant", "air_temperature", "celsius"),
    "dew_point_temperature": ("instant", "dew_point_temperature", "celsius"),
    "wind_speed": ("instant", "wind_speed", "m/s"),
    "cloud_area_fraction": ("instant", "cloud_area_fraction", "%"),
    "percentile_10": ("instant", "air_temperature_percentile_10", "celsius"),
    "percentile_90": ("instant", "air_temperature_percentile_90", "celsius"),
    "precipitation_1_hour": ("next_1_hours", "precipitation_amount", "mm"),
    "precipitation_6_hours": ("next_6_hours", "precipitation_amount", "mm"),
    "minimum_6_hours": ("next_6_hours", "air_temperature_min", "celsius"),
}

_LONGEST_QUOTE = 60


@dataclass(frozen=True, slots=True)
class Steps:
    """What an answer says, before anything is judged.

    Parameters
    ----------
    updated : datetime
        Aware UTC: when the forecast was updated, by its own word.
    latitude, longitude : float
        [degrees north, degrees east] of the place that the answer speaks of.
    altitude : float or None
        [m] of that place; ``None`` if the answer does not say.
    times : tuple of datetime
        Aware UTC, at least one, strictly increasing in whole seconds.
    values : mapping of str to numpy.ndarray
        By the names of `FIELDS`, each shape (n_times,), NaN where a step has no such value.
    """

    updated: datetime
    latitude: float
    longitude: float
    altitude: float | None
    times: tuple[datetime, ...]
    values: Mapping[str, NDArray[np.float64]]


def refuse(what: str, mend: str = "the next answer may be whole, else the service has changed its format") -> NoReturn:
    """Raise that the answer cannot be trusted.

    Parameters
    ----------
    what, mend : str
        What is wrong, and what a person can do about it.

    Raises
    ------
    SourceMalformed
        Always.
    """
    message = f"{what}; {mend}"
    raise SourceMalformed(message)


def read_steps(body: bytes) -> Steps:
    """Return the steps of an answer.

    Parameters
    ----------
    body : bytes
        The answer: a GeoJSON feature.

    Returns
    -------
    Steps
        All steps, also those without any value.

    Raises
    ------
    SourceMalformed
        If the body is no such JSON, holds no step, states an error or a unit that is not the one expected, or
        its times do not increase or lie out of all reason.
    """
    feature = _mapping(read_json(body), "the answer")
    properties = _mapping(feature.get("properties"), "properties")
    meta = _mapping(properties.get("meta"), "properties.meta")
    if "error" in meta:
        refuse(f"it answers {_quoted(meta['error'])}", "check latitude and longitude of the site")
    updated = _instant(meta.get("updated_at"), "properties.meta.updated_at")
    longitude, latitude, altitude = _position(_mapping(feature.get("geometry"), "geometry").get("coordinates"))
    entries = properties.get("timeseries")
    if not isinstance(entries, list) or not entries:
        refuse("the answer holds no step of a forecast")
    units = _mapping(meta.get("units"), "properties.meta.units")
    times = tuple(_instant(_mapping(entry, "a step").get("time"), "the time of a step") for entry in entries)
    _check_times(times, updated)
    values = {name: _column(entries, units, *field) for name, field in FIELDS.items()}
    return Steps(updated, latitude, longitude, altitude, times, values)


def _mapping(value: object, where: str) -> Mapping[str, Any]:
    """Return a JSON object."""
    if not isinstance(value, dict):
        refuse(f"{where} is {_quoted(value)} and no JSON object")
    return value


def _number(value: object, where: str) -> float:
    """Return a number; none of the document is infinite."""
    if not isinstance(value, int | float) or isinstance(value, bool):
        refuse(f"{where} is {_quoted(value)} and no number")
    return float(value)


def _instant(value: object, where: str) -> datetime:
    """Return an instant in whole seconds."""
    try:
        instant = parse_instant(value if isinstance(value, str) else "")
    except ValueError:
        refuse(f"{where} is {_quoted(value)} and no time")
    if instant.year not in _YEARS:
        refuse(f"{where} is {_quoted(value)}, and no forecast speaks of that year")
    return instant.replace(microsecond=0)


def _position(coordinates: object) -> tuple[float, float, float | None]:
    """Return longitude, latitude [degrees] and altitude [m]."""
    if not isinstance(coordinates, list) or len(coordinates) not in (2, 3):
        refuse(f"geometry.coordinates is {_quoted(coordinates)} and no position")
    longitude, latitude, *altitude = (_number(value, "geometry.coordinates") for value in coordinates)
    if abs(longitude) > 180.0 or abs(latitude) > 90.0:  # noqa: PLR2004 - the sphere
        refuse(f"geometry.coordinates is {_quoted(coordinates)} and no position on Earth")
    return longitude, latitude, altitude[0] if altitude else None


def _check_times(times: tuple[datetime, ...], updated: datetime) -> None:
    """Refuse times that do not increase, or that lie too far from the update."""
    for earlier, later in pairwise(times):
        if later <= earlier:
            refuse(f"the step for {later.isoformat()} follows that for {earlier.isoformat()}")
    for time in (times[0], times[-1]):
        if abs(time - updated) > LONGEST_HORIZON:
            refuse(f"there is a step for {time.isoformat()} in a forecast updated at {updated.isoformat()}")


def _column(
    entries: list[Mapping[str, Any]], units: Mapping[str, Any], section: str, name: str, unit: str
) -> NDArray[np.float64]:
    """Return one value of each step, NaN where it is absent; refuse it in another unit than the one expected."""
    values = np.full(len(entries), np.nan)
    for place, entry in enumerate(entries):
        value = _within(_within(_within(entry, "data"), section), "details").get(name)
        if value is not None:
            values[place] = _number(value, f"{section} {name}")
    if not np.isnan(values).all() and units.get(name) != unit:
        refuse(f"{name} is in {_quoted(units.get(name))}, not in {unit}")
    return values


def _within(container: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    """Return a JSON object inside another one, empty if it is absent."""
    inner = container.get(key)
    return {} if inner is None else _mapping(inner, key)


def _quoted(value: object) -> str:
    """Return the beginning of a value for a message of one line."""
    text = repr(value if isinstance(value, str | int | float | None) else type(value).__name__)
    return text if len(text) <= _LONGEST_QUOTE else f"{text[:_LONGEST_QUOTE]}…"
