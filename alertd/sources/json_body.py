"""Bodies that should be JSON, and often are not."""

from __future__ import annotations

import json
import math

from alertd.core import SourceMalformed

#: [bytes] How much of a body that is no JSON is looked at to tell what it is instead.
_LOOKED_AT = 200


def read_json(body: bytes) -> object:
    """Return the document in a body, strictly: what JSON does not allow is refused.

    Parameters
    ----------
    body : bytes
        Decompressed, UTF-8.

    Returns
    -------
    object
        Numbers are finite.

    Raises
    ------
    SourceMalformed
        If it is empty, HTML, no UTF-8, cut off, holds NaN or infinite numbers, one name twice in an object, or is
        nested too deeply.

    Examples
    --------
    >>> read_json(b'{"value": 1.5}')
    {'value': 1.5}
    """
    try:
        return json.loads(
            body.decode("utf-8-sig"),
            parse_constant=_refuse_constant,
            parse_float=_finite,
            parse_int=_whole,
            object_pairs_hook=_object,
        )
    except UnicodeDecodeError as error:
        raise SourceMalformed(_not_json(body, "is no UTF-8 text")) from error
    except RecursionError as error:
        raise SourceMalformed(_not_json(body, "is nested too deeply")) from error
    except ValueError as error:
        place = f"after {error.pos} characters" if isinstance(error, json.JSONDecodeError) else str(error)
        raise SourceMalformed(_not_json(body, f"is no valid JSON ({place})")) from error


def _not_json(body: bytes, what: str) -> str:
    """Return what is wrong with a body."""
    start = body[:_LOOKED_AT].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if not start:
        return "the answer is empty; it is asked again later"
    if start.startswith((b"<!doctype html", b"<html")):
        return "the answer is a web page instead of data; check base_url and any proxy in between"
    return f"the answer {what}; it is asked again later"


def _refuse_constant(name: str) -> object:
    message = f"{name} is no number of JSON"
    raise ValueError(message)


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        message = "a number is too large"
        raise ValueError(message)
    return value


def _whole(text: str) -> int:
    """Return a whole number; Python itself refuses those of thousands of digits."""
    value = int(text)
    _finite(text)
    return value


def _object(pairs: list[tuple[str, object]]) -> dict[str, object]:
    document = dict(pairs)
    if len(document) != len(pairs):
        message = "an object has one name twice"
        raise ValueError(message)
    return document
