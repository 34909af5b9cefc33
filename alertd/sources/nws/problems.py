"""What a failing answer of the service means for a person."""

from __future__ import annotations

import re
from http import HTTPStatus
from typing import TYPE_CHECKING, Any

from alertd.core import SourceMalformed

from .reading import read_object

if TYPE_CHECKING:
    from collections.abc import Mapping

#: Phrases by the last part of a problem's type. Source: recorded answers of 2019 to 2023, the OpenAPI 3.9.2 of the
#: service and reports of its users, seen.
PHRASES = {
    "UnexpectedProblem": "the service has an unexpected problem; it often works again soon, and is asked again later",
    "ForecastGridExpired": "the forecast of this grid cell has expired, with no new one; it is asked again later",
    "UnavailableWebService": "a part of the service is down, usually for some minutes; it is asked again later",
    "InvalidPoint": "the service has no forecast for this position; check latitude and longitude of the site: they "
    "must lie in the United States or its waters",
    "NotFound": "the service knows no such address; check base_url",
    "InvalidParameter": "the service refuses a parameter; update alertd",
    "BadRequest": "the service refuses the request; update alertd",
    "Forbidden": "the service refuses us; state a contact address of the site that it accepts",
}

#: The same by status, where the answer does not say more.
_PHRASES_OF_STATUSES = {
    HTTPStatus.BAD_REQUEST: PHRASES["BadRequest"],
    HTTPStatus.FORBIDDEN: PHRASES["Forbidden"],
    HTTPStatus.NOT_FOUND: PHRASES["NotFound"],
}

_ISSUED = re.compile(r"was issued (\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}[+-]\d{2}:\d{2})", flags=re.ASCII)
_NOT_IN_PHRASES = re.compile(r"[^!-~]+", flags=re.ASCII)
_LONGEST_TITLE = 80


def explain(status: int, _headers: Mapping[str, str], body: bytes) -> str:
    """Return what a failing answer means, and how to mend it.

    Parameters
    ----------
    status : int
        Of HTTP.
    body : bytes
        Anything; ``application/problem+json`` (RFC 7807) where the service itself answers, HTML where something
        before it does.

    Returns
    -------
    str
        One line; ``""`` if nothing more is known than the status.

    Examples
    --------
    >>> explain(503, {}, b'{"type": "https://api.weather.gov/problems/UnavailableWebService"}')[:30]
    'a part of the service is down,'
    """
    problem = _problem(body)
    kind = _text(problem, "type")
    name = re.split(r"[/:#]", kind.rstrip("/"))[-1]
    if name == "ForecastGridExpired":
        issued = _ISSUED.search(_text(problem, "detail"))
        return PHRASES[name] + (f" (issued {issued[1]})" if issued else "")
    if name in PHRASES:
        return PHRASES[name]
    if status in _PHRASES_OF_STATUSES:
        return _PHRASES_OF_STATUSES[HTTPStatus(status)]
    title = _NOT_IN_PHRASES.sub(" ", _text(problem, "title")).strip()[:_LONGEST_TITLE]
    return f"the service says: {title}" if title else ""


def _problem(body: bytes) -> dict[str, Any]:
    """Return the members of a problem, none if the body is no such thing."""
    try:
        return read_object(body)
    except SourceMalformed:
        return {}


def _text(problem: dict[str, Any], name: str) -> str:
    """Return the text of a member, ``""`` if there is none."""
    value = problem.get(name)
    return value if isinstance(value, str) else ""
