"""Arrays of an answer: whose they are, and their values in canonical units."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from .document import is_number, refuse, shown
from .models import KNOWN_NAMES
from .variables import CF_NAMES, UNIT_TEXTS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from alertd.weather import Conversion

#: What a key says: variable, lead time, member and model. Source: answers to requests for several models,
#: ensembles and previous runs, seen.
_KEY = re.compile(
    r"(?P<variable>.+?)(_previous_day(?P<lead_days>\d))?(_member(?P<member>\d\d))?"
    rf"(_(?P<model>{'|'.join(sorted(KNOWN_NAMES, key=len, reverse=True))}))?",
    flags=re.ASCII,
)

_MARKS = ("_member", "_previous_day")
_LOCAL_TIME = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}", flags=re.ASCII)

#: Times outside of these years are no times of weather. Assumed; the reanalysis begins in 1940.
EARLIEST, LATEST = datetime(1900, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Key:
    """What the name of an array says.

    Parameters
    ----------
    variable : str
        The service's name.
    lead_days : int
        How many days before its valid time each value was forecast; 0 is the latest forecast.
    realization : int
        0 is the control.
    model : str
        As the answer names it; ``""`` if it names none.
    """

    variable: str
    lead_days: int = 0
    realization: int = 0
    model: str = ""


def key_of(text: str) -> Key:
    """Return what the name of an array says.

    Parameters
    ----------
    text : str
        Like ``temperature_2m_member07_ecmwf_ifs025_ensemble``.

    Returns
    -------
    Key
        A name that says nothing known is a variable of that name.

    Examples
    --------
    >>> key_of("temperature_2m_member07_ecmwf_ifs025_ensemble")
    Key(variable='temperature_2m', lead_days=0, realization=7, model='ecmwf_ifs025_ensemble')
    >>> key_of("soil_temperature_0_to_7cm_previous_day2").lead_days
    2
    """
    match = _KEY.fullmatch(text)
    if match is None:
        return Key(text)
    lead_days, realization = (int(match[part] or 0) for part in ("lead_days", "member"))
    return Key(match["variable"], lead_days, realization, match["model"] or "")


def times_of(hourly: Mapping[str, object], units: Mapping[str, object]) -> NDArray[np.datetime64]:
    """Return the time axis of an answer in UTC.

    Parameters
    ----------
    hourly, units : mapping
        Arrays and their units by name.

    Returns
    -------
    numpy.ndarray
        shape (n_times,), ``datetime64[s]``, strictly increasing; never empty.

    Raises
    ------
    SourceMalformed
        If there is none, it is neither in seconds since 1970 nor in ISO 8601 without an offset, or does not increase.
    """
    values = hourly.get("time")
    if not isinstance(values, list) or not values:
        refuse("the answer has no times")
    unit = units.get("time")
    if unit == "unixtime":
        seconds = [_whole_seconds(value) for value in values]
    elif unit == "iso8601":
        seconds = [_seconds_of_text(value) for value in values]
    else:
        refuse(f"the answer's times are in {shown(unit)}, not in unixtime")
    first, last = int(EARLIEST.timestamp()), int(LATEST.timestamp())
    if not all(first <= value <= last for value in seconds):
        refuse(f"the answer has times outside of the years {EARLIEST.year} to {LATEST.year}")
    times = np.array(seconds, dtype="datetime64[s]")
    if np.any(np.diff(times) <= np.timedelta64(0, "s")):
        refuse("the answer's times do not increase")
    return times


def columns_of(
    hourly: Mapping[str, object], units: Mapping[str, object], n_times: int, soil: frozenset[str] = frozenset()
) -> dict[Key, NDArray[np.float64]]:
    """Return the arrays of known variables in canonical units.

    Parameters
    ----------
    hourly, units : mapping
        Arrays and their units by name.
    n_times : int
        How long each must be.
    soil : frozenset of str
        Names of soil temperatures that are wanted.

    Returns
    -------
    dict of Key to numpy.ndarray
        shape (n_times,) each, NaN where a value is missing.

    Raises
    ------
    SourceMalformed
        If an array of a wanted variable has another length, an unknown unit, something that is no number, or a
        name that cannot be told apart from another's.
    """
    columns: dict[Key, NDArray[np.float64]] = {}
    for name, values in hourly.items():
        key = key_of(name)
        standard_name = "soil_temperature" if key.variable in soil else CF_NAMES.get(key.variable)
        if standard_name is None:
            _refuse_unknown_suffix(name, soil)
            continue
        if key in columns:
            refuse(f"the answer has {shown(name)} twice")
        columns[key] = _values(name, values, _conversion(standard_name, name, units.get(name)), n_times)
    return columns


def _refuse_unknown_suffix(name: str, soil: frozenset[str]) -> None:
    """Refuse an array of a wanted variable whose name says a member or lead time, and then something unknown."""
    for variable in (*CF_NAMES, *soil):
        if name.startswith(tuple(f"{variable}{mark}" for mark in _MARKS)):
            refuse(f"the answer has {shown(name)}, of a model that is not known here")


def _conversion(standard_name: str, name: str, unit: object) -> Conversion:
    """Return how values of an array become canonical."""
    known = UNIT_TEXTS[standard_name]
    if not isinstance(unit, str) or unit not in known:
        refuse(f"{shown(name)} is in {shown(unit)}, and none of {', '.join(known)}")
    return known[unit]


def _values(name: str, values: object, conversion: Conversion, n_times: int) -> NDArray[np.float64]:
    """Return an array of the answer as numbers in the canonical unit."""
    if not isinstance(values, list):
        refuse(f"{shown(name)} is no array")
    if len(values) != n_times:
        refuse(f"{shown(name)} has {len(values)} values for {n_times} times")
    for value in values:
        if value is not None and not is_number(value):
            refuse(f"{shown(name)} holds {shown(value)}, no number")
    numbers = [np.nan if value is None else conversion.canonical(float(value)) for value in values]
    return np.array(numbers, dtype=np.float64)


def _whole_seconds(value: object) -> int:
    """Return a time in seconds since 1970."""
    if not isinstance(value, int) or isinstance(value, bool):
        refuse(f"the answer has a time {shown(value)}, no whole number of seconds since 1970")
    return value


def _seconds_of_text(value: object) -> int:
    """Return a time in ISO 8601 without offset, which is UTC here, in seconds since 1970."""
    text = value if isinstance(value, str) and _LOCAL_TIME.fullmatch(value) is not None else ""
    try:
        return int(datetime.fromisoformat(f"{text}:00+00:00").timestamp())
    except (ValueError, OverflowError):
        refuse(f"the answer has a time {shown(value)}, none like 2026-01-23T04:00")
