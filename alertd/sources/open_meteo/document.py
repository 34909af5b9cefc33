"""From the bytes of an answer to a document that is about the asked place."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NoReturn, TypeGuard

from alertd.core import SourceMalformed
from alertd.sources.json_body import read_json

if TYPE_CHECKING:
    from collections.abc import Mapping

#: With these words the service breaks off an answer that began well. Source: its documentation of errors, seen.
BROKEN_OFF = b"Unexpected error while streaming data"

#: [m] How far the elevation in the answer may lie from the asked one. Assumed: rounding.
ELEVATION_TOLERANCE = 1.0

#: Numbers beyond this are neither weather nor times in seconds since 1970. Assumed.
LARGEST_NUMBER = 1e11

_SHOWN_CHARACTERS = 100
_AGAIN = "it is asked again later"


@dataclass(frozen=True, slots=True)
class Asked:
    """The place that was asked for.

    Parameters
    ----------
    latitude, longitude : float
        [degrees north, degrees east].
    elevation : float or None
        [m] that temperatures are brought to; None if the service chooses.
    reach : float
        [degrees] How far the middle of the grid cell may lie from the place; of longitude, as far on the ground.
    """

    latitude: float
    longitude: float
    elevation: float | None = None
    reach: float = 0.5


def document_of(body: bytes) -> dict[str, object]:
    """Return the JSON object that an answer holds.

    Parameters
    ----------
    body : bytes
        The answer's body.

    Returns
    -------
    dict
        The object; of an array with one location, that one.

    Raises
    ------
    SourceMalformed
        If the body is no JSON, was broken off, holds an error, or is not about exactly one location.
    """
    if BROKEN_OFF in body:
        refuse(f"the service broke off in the middle of its answer ({BROKEN_OFF.decode()})")
    document = read_json(body)
    if isinstance(document, list):
        if len(document) != 1:
            refuse(f"the answer is about {len(document)} locations, not one")
        document = document[0]
    if not isinstance(document, dict):
        refuse("the answer is no JSON object")
    if document.get("error"):
        refuse(f"the answer is an error, with the status of a good one: {shown(document.get('reason'))}")
    return document


def check_place(document: Mapping[str, object], asked: Asked) -> str:
    """Refuse an answer that is about another place or in local time.

    Parameters
    ----------
    document : mapping
        The answer.
    asked : Asked
        The place that was asked for.

    Returns
    -------
    str
        What a person should know of the place, ``""`` if nothing.

    Raises
    ------
    SourceMalformed
        If position, elevation or the offset from UTC is missing, no number, or not the asked one.
    """
    latitude, longitude = (_number(document, key) for key in ("latitude", "longitude"))
    east = (longitude - asked.longitude + 180.0) % 360.0 - 180.0
    on_the_ground = east * math.cos(math.radians(asked.latitude))
    if not (abs(latitude - asked.latitude) <= asked.reach and abs(on_the_ground) <= asked.reach):
        refuse(
            f"the answer is about {latitude:.2f} north {longitude:.2f} east, "
            f"not about the asked {asked.latitude:.2f} north {asked.longitude:.2f} east"
        )
    offset = document.get("utc_offset_seconds")
    if isinstance(offset, bool) or offset != 0:
        refuse(f"the answer's utc_offset_seconds is {shown(offset)}, not 0: its times are not in UTC")
    if asked.elevation is None:
        return ""
    if document.get("elevation") is None:
        return (
            f"the service does not say that temperatures are for {asked.elevation:g} m; they may be for another height"
        )
    elevation = _number(document, "elevation")
    if abs(elevation - asked.elevation) > ELEVATION_TOLERANCE:
        refuse(f"the answer is for an elevation of {elevation:g} m, not for the asked {asked.elevation:g} m")
    return ""


def shown(value: object) -> str:
    r"""Return something foreign as it may stand in a message: short and on one line.

    Parameters
    ----------
    value : object
        Of a JSON document.

    Returns
    -------
    str
        Printable.

    Examples
    --------
    >>> shown("Invalid\n timezone")
    'Invalid timezone'
    """
    text = value if isinstance(value, str) else _kind_or_value(value)
    line = " ".join(text.encode("utf-8", "replace").decode().split())
    printable = "".join(character if character.isprintable() else "?" for character in line)
    return printable if len(printable) <= _SHOWN_CHARACTERS else f"{printable[:_SHOWN_CHARACTERS]}..."


def _kind_or_value(value: object) -> str:
    """Return a number as it is written, and the kind of anything longer."""
    if value is None:
        return "missing"
    return repr(value) if isinstance(value, bool | int | float) else f"a {type(value).__name__}"


def is_number(value: object) -> TypeGuard[float]:
    """Return whether a JSON value is a number of a believable size."""
    return isinstance(value, int | float) and not isinstance(value, bool) and -LARGEST_NUMBER <= value <= LARGEST_NUMBER


def _number(document: Mapping[str, object], key: str) -> float:
    """Return a number of the answer's head."""
    value = document.get(key)
    if not is_number(value):
        refuse(f"the answer's {key} is {shown(value)}, no number")
    return float(value)


def refuse(what: str) -> NoReturn:
    """Raise the error that says what is wrong with an answer.

    Parameters
    ----------
    what : str
        For a person, without a full stop.

    Raises
    ------
    SourceMalformed
        Always.
    """
    message = f"{what}; {_AGAIN}"
    raise SourceMalformed(message)
