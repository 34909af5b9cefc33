"""Reading JSON that nobody vouches for: every surprise is one `SourceMalformed` with the place where it stands."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from alertd.core import SourceMalformed, parse_instant
from alertd.sources.json_body import read_json
from alertd.weather import UNITS

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from alertd.weather import Conversion

#: UCUM codes for the last parts of codes of the WMO register (``wmoUnit:``, older ``unit:``) and of the service's
#: own ``nwsUnit:``. Source: recorded answers of 2019 to 2024 and the register, seen; ``kt``, ``K`` and ``m_s-1``
#: from memory. What is not here must be a UCUM code itself.
_UCUM_CODES = {
    "degC": "Cel",
    "degF": "[degF]",
    "K": "K",
    "km_h-1": "km/h",
    "m_s-1": "m/s",
    "kt": "[kn_i]",
    "percent": "%",
    "mm": "mm",
    "kg_m-2": "kg/m2",
}

#: Years in which a time can lie. Assumed; they keep arithmetic on times inside the calendar.
EARLIEST_YEAR = 1990
LATEST_YEAR = 2200

#: [m] Lowest and highest elevation that can be true: below the Dead Sea's shore, above Mount Everest. Assumed.
LOWEST_ELEVATION = -500.0
HIGHEST_ELEVATION = 9000.0

_LENGTH_UNIT = "m"
_LONGEST_QUOTATION = 60
_HOURS_ONLY_OFFSET = re.compile(r"([+-]\d{2})$", flags=re.ASCII)
_OFFSET_WITHOUT_COLON = re.compile(r"([+-]\d{2})(\d{2})$", flags=re.ASCII)


def read_object(body: bytes) -> dict[str, Any]:
    """Return the JSON object that a body holds.

    Parameters
    ----------
    body : bytes
        Anything.

    Returns
    -------
    dict
        With finite numbers only.

    Raises
    ------
    SourceMalformed
        If the body is no strict JSON or no object.
    """
    return as_object(read_json(body), "the answer")


def quoted(value: object) -> str:
    """Return a value as short text on one line, for messages."""
    if isinstance(value, dict):
        return "an object"
    if isinstance(value, list):
        return "a list"
    text = "null" if value is None else repr(value[:_LONGEST_QUOTATION] if isinstance(value, str) else value)
    return text if len(text) <= _LONGEST_QUOTATION else text[: _LONGEST_QUOTATION - 1] + "…"


def as_object(value: object, where: str) -> dict[str, Any]:
    """Return a value that must be an object; `SourceMalformed` naming where if it is none."""
    if not isinstance(value, dict):
        message = f"{where} is {quoted(value)} and not an object"
        raise SourceMalformed(message)
    return value


def as_list(value: object, where: str) -> list[Any]:
    """Return a value that must be a list; `SourceMalformed` naming where if it is none."""
    if not isinstance(value, list):
        message = f"{where} is {quoted(value)} and not a list"
        raise SourceMalformed(message)
    return value


def as_text(value: object, where: str) -> str:
    """Return a value that must be text which can be stored; `SourceMalformed` naming where if it is not."""
    if not isinstance(value, str):
        message = f"{where} is {quoted(value)} and not text"
        raise SourceMalformed(message)
    try:
        value.encode()
    except UnicodeEncodeError as error:
        message = f"{where} is {quoted(value)}, which is no valid text"
        raise SourceMalformed(message) from error
    return value


def optional_text(value: object, where: str) -> str:
    """Return a value that may be text, and ``""`` for null; `SourceMalformed` naming where for anything else."""
    return "" if value is None else as_text(value, where)


def as_number(value: object, where: str) -> float:
    """Return a value that must be a number; `SourceMalformed` naming where if it is none."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        message = f"{where} is {quoted(value)} and not a number"
        raise SourceMalformed(message)
    return float(value)


def as_whole_number(value: object, where: str) -> int:
    """Return a value that must be a whole number, or text of one; `SourceMalformed` naming where if it is not."""
    if isinstance(value, str) and re.fullmatch(r"-?\d{1,9}", value, flags=re.ASCII):
        return int(value)
    number = as_number(value, where)
    if not number.is_integer():
        message = f"{where} is {quoted(value)} and not a whole number"
        raise SourceMalformed(message)
    return int(number)


def as_instant(value: object, where: str) -> datetime:
    """Return a value that must be a time with an offset; `SourceMalformed` naming where if it is not.

    The service's own schema allows offsets without a colon (``+0000``) and of hours only (``+00``).
    """
    text = as_text(value, where)
    whole = _OFFSET_WITHOUT_COLON.sub(r"\1:\2", text) if len(text) > len("2024-01-11T11") else text
    if whole == text and "T" in text and text.rfind(":") < max(text.rfind("+"), text.rfind("-")):
        whole = _HOURS_ONLY_OFFSET.sub(r"\1:00", text)
    try:
        instant = parse_instant(whole)
    except ValueError as error:
        message = f"{where} is {quoted(text)} and not a time with an offset"
        raise SourceMalformed(message) from error
    if not EARLIEST_YEAR <= instant.year <= LATEST_YEAR:
        message = f"{where} is {quoted(text)}, which is no time of this service"
        raise SourceMalformed(message)
    return instant


def optional_instant(value: object, where: str) -> datetime | None:
    """Return a value that may be a time, and ``None`` for null; `SourceMalformed` naming where for anything else."""
    return None if value is None else as_instant(value, where)


def conversion(variable: str, unit_code: object, where: str) -> Conversion:
    """Return how values with a unit code become canonical.

    Parameters
    ----------
    variable : str
        CF standard name.
    unit_code : object
        Like ``wmoUnit:degC``, ``unit:degC`` or ``Cel``; only the part after the last colon counts.
    where : str
        Name of the layer or value, for messages.

    Returns
    -------
    Conversion
        To the canonical unit.

    Raises
    ------
    SourceMalformed
        If the code is no text or the unit is unknown for the variable; the text names layer and unit.
    """
    code = as_text(unit_code, f"the unit of {where}").rsplit(":", maxsplit=1)[-1]
    found = UNITS[variable].get(_UCUM_CODES.get(code, code))
    if found is None:
        message = f"{where} has the unknown unit {quoted(unit_code)}"
        raise SourceMalformed(message)
    return found


def quantity(value: object, variable: str, where: str) -> float | None:
    """Return the number of a quantity object in the canonical unit of a variable.

    Parameters
    ----------
    value : object
        ``{"unitCode": ..., "value": number or null}``, or null.
    variable : str
        CF standard name.
    where : str
        Name of the value, for messages.

    Returns
    -------
    float or None
        [canonical unit of the variable]; ``None`` if it is missing.

    Raises
    ------
    SourceMalformed
        If it is no quantity or its unit is unknown.
    """
    if value is None:
        return None
    members = as_object(value, where)
    if members.get("value") is None:
        return None
    return conversion(variable, members.get("unitCode"), where).canonical(as_number(members["value"], where))


def elevation_in_metres(value: object, where: str) -> float | None:
    """Return an elevation [m], or ``None`` if it is missing; `SourceMalformed` if it has another unit."""
    if value is None:
        return None
    members = as_object(value, where)
    if members.get("value") is None:
        return None
    code = as_text(members.get("unitCode"), f"the unit of {where}").rsplit(":", maxsplit=1)[-1]
    if code != _LENGTH_UNIT:
        message = f"{where} has the unknown unit {quoted(members['unitCode'])}"
        raise SourceMalformed(message)
    metres = as_number(members["value"], where)
    if not LOWEST_ELEVATION <= metres <= HIGHEST_ELEVATION:
        message = f"{where} is {quoted(members['value'])} m, which is no elevation on Earth"
        raise SourceMalformed(message)
    return metres


def objects(values: Iterable[object], where: str) -> list[dict[str, Any]]:
    """Return values that must all be objects; `SourceMalformed` naming the first that is none."""
    return [as_object(value, f"{where}[{number}]") for number, value in enumerate(values)]
