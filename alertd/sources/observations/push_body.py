"""Observations that devices send as JSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, NoReturn

from alertd.core import parse_instant
from alertd.weather import PHYSICAL_RANGE, UNITS, Observation

if TYPE_CHECKING:
    from collections.abc import Collection
    from datetime import datetime

#: Most observations of one body. Assumed: eight hours of one value a minute.
MOST_OBSERVATIONS = 500

_KEYS = ("station", "time", "air_temperature", "unit")
_SHOWN_CHARACTERS = 40


class Refused(Exception):
    """A body cannot be taken.

    The text is one line for the person who sets the device up.
    """


def observations_of(body: bytes, received: datetime, stations: Collection[str]) -> tuple[Observation, ...]:
    """Return the observations that a body holds.

    Parameters
    ----------
    body : bytes
        JSON in UTF-8: ``{"station": "barn", "time": "2026-01-23T04:00:00Z", "air_temperature": 15.0, "unit":
        "degF"}``, or a list of such objects. Units are UCUM codes: ``Cel``, ``degF`` or ``K``.
    received : datetime
        Aware.
    stations : collection of str
        Names that are known; if empty, any name will do.

    Returns
    -------
    tuple of Observation
        At least one; all or none are taken.

    Raises
    ------
    Refused
        If anything in it is not as it must be.

    Examples
    --------
    >>> now = parse_instant("2026-01-23T04:01:00Z")
    >>> body = b'{"station": "barn", "time": "2026-01-23T04:00:00Z", "air_temperature": 14, "unit": "degF"}'
    >>> observations_of(body, now, ["barn"])[0].air_temperature
    -10.0
    """
    entries = _document(body)
    several = isinstance(entries, list)
    listed = entries if isinstance(entries, list) else [entries]
    if not listed or len(listed) > MOST_OBSERVATIONS:
        message = f"send 1 to {MOST_OBSERVATIONS} observations at once, not {len(listed)}"
        raise Refused(message)
    return tuple(
        _observation(entry, received, stations, f"observation {place}: " if several else "")
        for place, entry in enumerate(listed, start=1)
    )


def _document(body: bytes) -> object:
    try:
        return json.loads(body.decode("utf-8"), parse_constant=_refuse_constant, object_pairs_hook=_without_repetition)
    except (ValueError, RecursionError) as error:
        message = "the body is no JSON; send an object with " + ", ".join(_KEYS)
        raise Refused(message) from error


def _refuse_constant(constant: str) -> NoReturn:
    raise ValueError(constant)


def _without_repetition(pairs: list[tuple[str, object]]) -> dict[str, object]:
    entry = dict(pairs)
    if len(entry) != len(pairs):
        message = "a key is there twice"
        raise Refused(message)
    return entry


def _observation(entry: object, received: datetime, stations: Collection[str], where: str) -> Observation:
    if not isinstance(entry, dict) or set(entry) != set(_KEYS):
        message = f"{where}send an object with exactly the keys {', '.join(_KEYS)}"
        raise Refused(message)
    station, time, value, unit = (entry[key] for key in _KEYS)
    if not isinstance(station, str) or (stations and station not in stations):
        message = f"{where}the station {_shown(station)} is not known; add it to the configuration, or mend its name"
        raise Refused(message)
    air_temperature = _air_temperature(value, unit, where)
    try:
        if not isinstance(time, str):
            raise ValueError(time)  # noqa: TRY301, TRY004 - the same answer as for a text that is no time
        instant = parse_instant(time)
    except ValueError as error:
        message = f"{where}the time {_shown(time)} cannot be read; write it like 2026-01-23T04:00:00Z"
        raise Refused(message) from error
    try:
        observation = Observation(station, instant, air_temperature, received)
    except ValueError as error:
        message = f"{where}{error}"
        raise Refused(message) from error
    if observation.time_problem:
        message = f"{where}{observation.time_problem}"
        raise Refused(message)
    return observation


def _air_temperature(value: object, unit: object, where: str) -> float:
    units = UNITS["air_temperature"]
    if not isinstance(unit, str) or unit not in units:
        message = f"{where}the unit {_shown(unit)} is not known; use one of {', '.join(units)}"
        raise Refused(message)
    if isinstance(value, bool) or not isinstance(value, int | float):
        message = f"{where}the air_temperature {_shown(value)} is no number"
        raise Refused(message)
    lowest, highest = PHYSICAL_RANGE["air_temperature"]
    # a whole number may be too large for a float
    canonical = units[unit].canonical(float(value)) if abs(value) < 1e6 else highest + 1.0  # noqa: PLR2004
    if not lowest <= canonical <= highest:
        message = f"{where}the air_temperature {_shown(value)} {unit} cannot be true; check the value and its unit"
        raise Refused(message)
    return canonical


def _shown(value: object) -> str:
    """Return a foreign value as it may stand in a message: short, on one line."""
    text = json.dumps(value)
    return text if len(text) <= _SHOWN_CHARACTERS else f"{text[:_SHOWN_CHARACTERS]}..."
