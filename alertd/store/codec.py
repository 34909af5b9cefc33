"""Alerts, conditions and letters as JSON documents, and back.

One table per type names every field with its way there and its way back; a document with a field that no table
knows was written by another program, and is refused.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields
from datetime import datetime
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from alertd.alerts import Alert, AlertState, Announcement, Outcome
from alertd.core import Certainty, MessageType, ResponseType, Severity, Urgency, as_utc, parse_instant
from alertd.messages import Letter
from alertd.plan import Action
from alertd.risk import Rule
from alertd.site import Condition, Cover, Stage

if TYPE_CHECKING:
    from enum import StrEnum

_Record = TypeVar("_Record")


def exact_text(instant: datetime) -> str:
    """Return an instant as RFC 3339 text in UTC that loses nothing.

    Parameters
    ----------
    instant : datetime
        Aware.

    Returns
    -------
    str
        With a fraction only where there is one, like ``2013-01-23T04:00:00Z``.

    Raises
    ------
    ValueError
        If the instant is naive.
    """
    return as_utc(instant).isoformat().replace("+00:00", "Z")


def sortable_text(instant: datetime) -> str:
    """Return an instant as RFC 3339 text in UTC whose order as text is its order in time.

    Parameters
    ----------
    instant : datetime
        Aware.

    Returns
    -------
    str
        Always with microseconds, like ``2013-01-23T04:00:00.000000Z``.

    Raises
    ------
    ValueError
        If the instant is naive.
    """
    return as_utc(instant).isoformat(timespec="microseconds").replace("+00:00", "Z")


class _Coder(NamedTuple):
    encode: Callable[[object], object]
    decode: Callable[[object], object]


def _refuse(value: object, wanted: str) -> ValueError:
    return ValueError(f"{value!r} is not {wanted}")


def _encode_number(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise _refuse(value, "a finite number")
    return float(value)


def _decode_instant(value: object) -> datetime:
    return parse_instant(_check_text(value))


def _encode_instant(value: object) -> str:
    if not isinstance(value, datetime):
        raise _refuse(value, "a time")
    return exact_text(value)


def _check_text(value: object) -> str:
    if not isinstance(value, str):
        raise _refuse(value, "a text")
    return value


def _check_truth(value: object) -> bool:
    if not isinstance(value, bool):
        raise _refuse(value, "true or false")
    return value


def _check_count(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise _refuse(value, "a whole number")
    return value


_TEXT = _Coder(_check_text, _check_text)
_TRUTH = _Coder(_check_truth, _check_truth)
_COUNT = _Coder(_check_count, _check_count)
_NUMBER = _Coder(_encode_number, _encode_number)
_INSTANT = _Coder(_encode_instant, _decode_instant)


def _token(kind: type[StrEnum]) -> _Coder:
    return _Coder(lambda value: kind(_check_text(value)).value, lambda value: kind(_check_text(value)))


def _optional(coder: _Coder) -> _Coder:
    return _Coder(
        lambda value: None if value is None else coder.encode(value),
        lambda value: None if value is None else coder.decode(value),
    )


def _several(coder: _Coder) -> _Coder:
    def items(value: object) -> list[object] | tuple[object, ...]:
        if not isinstance(value, list | tuple):
            raise _refuse(value, "a list")
        return value

    return _Coder(
        lambda value: [coder.encode(item) for item in items(value)],
        lambda value: tuple(coder.decode(item) for item in items(value)),
    )


def _record(kind: type[_Record], coders: Mapping[str, _Coder]) -> _Coder:
    make: Callable[..., _Record] = kind
    optional = {
        entry.name
        for entry in fields(kind)  # type: ignore[arg-type]
        if entry.default is not MISSING or entry.default_factory is not MISSING
    }

    def decode(document: object) -> _Record:
        if not isinstance(document, Mapping):
            raise _refuse(document, f"a {kind.__name__} document")
        unknown = sorted(set(document) - set(coders))
        absent = sorted(set(coders) - set(document) - optional)
        if unknown or absent:
            message = f"{kind.__name__} document: unknown fields {unknown}, missing fields {absent}"
            raise ValueError(message)
        return make(**{name: coders[name].decode(value) for name, value in document.items()})

    return _Coder(lambda value: {name: coder.encode(getattr(value, name)) for name, coder in coders.items()}, decode)


_ANNOUNCEMENT = _record(
    Announcement,
    {
        "sent": _INSTANT,
        "message_type": _token(MessageType),
        "response_type": _token(ResponseType),
        "severity": _token(Severity),
        "urgency": _token(Urgency),
        "certainty": _token(Certainty),
        "onset": _optional(_INSTANT),
        "end": _optional(_INSTANT),
        "start_by": _optional(_INSTANT),
        "minimum": _optional(_NUMBER),
        "minimum_low": _optional(_NUMBER),
        "minimum_high": _optional(_NUMBER),
        "probability": _optional(_NUMBER),
    },
)
_ALERT = _record(
    Alert,
    {
        "alert_id": _TEXT,
        "group": _TEXT,
        "action": _token(Action),
        "rule": _token(Rule),
        "state": _token(AlertState),
        "opened": _ANNOUNCEMENT,
        "announced": _ANNOUNCEMENT,
        "end": _optional(_INSTANT),
        "revision": _COUNT,
        "worst_severity": _token(Severity),
        "reminded": _TRUTH,
        "called": _TRUTH,
        "ended": _optional(_INSTANT),
        "outcome": _optional(_token(Outcome)),
        "history": _several(_ANNOUNCEMENT),
    },
)
_CONDITION = _record(
    Condition,
    {
        "cover": _token(Cover),
        "stage": _token(Stage),
        "cover_since": _optional(_INSTANT),
        "stage_since": _optional(_INSTANT),
    },
)
_LETTER = _record(
    Letter,
    {
        "reference": _TEXT,
        "recipient": _TEXT,
        "composed": _INSTANT,
        "subject": _TEXT,
        "text": _TEXT,
        "html": _TEXT,
        "short": _TEXT,
        "threads": _several(_TEXT),
        "response_type": _TEXT,
    },
)


def alert_document(alert: Alert) -> dict[str, object]:
    """Return an alert as a JSON document.

    Parameters
    ----------
    alert : Alert
        Any.

    Returns
    -------
    dict
        JSON values; times in RFC 3339 with ``Z``, enumerations by value.

    Raises
    ------
    ValueError
        If a field holds what its type does not allow, like a time without an offset.
    """
    return _ALERT.encode(alert)  # type: ignore[return-value]


def alert_from(document: object) -> Alert:
    """Return the alert that a document describes.

    Parameters
    ----------
    document : object
        As `alert_document` makes it; a field with a default may be missing.

    Returns
    -------
    Alert
        Equal to the one that was written.

    Raises
    ------
    ValueError
        If a field is unknown, missing or of the wrong kind.
    """
    return _ALERT.decode(document)  # type: ignore[return-value]


def condition_document(condition: Condition) -> dict[str, object]:
    """Return a condition as a JSON document.

    Parameters
    ----------
    condition : Condition
        Any.

    Returns
    -------
    dict
        JSON values.

    Raises
    ------
    ValueError
        If a field holds what its type does not allow.
    """
    return _CONDITION.encode(condition)  # type: ignore[return-value]


def condition_from(document: object) -> Condition:
    """Return the condition that a document describes.

    Parameters
    ----------
    document : object
        As `condition_document` makes it.

    Returns
    -------
    Condition
        Equal to the one that was written.

    Raises
    ------
    ValueError
        If a field is unknown or of the wrong kind.
    """
    return _CONDITION.decode(document)  # type: ignore[return-value]


def letter_document(letter: Letter) -> dict[str, object]:
    """Return a letter as a JSON document.

    Parameters
    ----------
    letter : Letter
        Any.

    Returns
    -------
    dict
        JSON values.

    Raises
    ------
    ValueError
        If a field holds what its type does not allow.
    """
    return _LETTER.encode(letter)  # type: ignore[return-value]


def letter_from(document: object) -> Letter:
    """Return the letter that a document describes.

    Parameters
    ----------
    document : object
        As `letter_document` makes it.

    Returns
    -------
    Letter
        Equal to the one that was written.

    Raises
    ------
    ValueError
        If a field is unknown, missing or of the wrong kind.
    """
    return _LETTER.decode(document)  # type: ignore[return-value]
