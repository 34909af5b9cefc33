"""What the service says when it refuses, in words that help."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from alertd.core import SourceMalformed, as_utc
from alertd.sources.json_body import read_json

from .document import shown

if TYPE_CHECKING:
    from collections.abc import Mapping

TOO_MANY_REQUESTS = 429


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit on how often the service may be asked.

    Parameters
    ----------
    reason : str
        For a person: which limit, and when it is over.
    window : timedelta
        The counter starts anew with every UTC window of this length.
    """

    reason: str
    window: timedelta


_MINUTE, _HOUR, _DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)

#: Limits by how the service's reason begins. Source: the service's own texts and quota, seen. A request that
#: is still running is over within a minute (assumed).
LIMITS = {
    "minutely api request limit exceeded": Limit(
        "its limit of requests per minute is reached; it may be asked again from the next minute on", _MINUTE
    ),
    "hourly api request limit exceeded": Limit(
        "its limit of requests per hour is reached; it may be asked again from the next full hour on", _HOUR
    ),
    "daily api request limit exceeded": Limit(
        "its limit of requests per day is reached; it may be asked again from 00:00 UTC on, and polling.every "
        "should be longer",
        _DAY,
    ),
    "too many concurrent requests": Limit(
        "too many requests from this network address are running at the same time; it may be asked again in a minute",
        _MINUTE,
    ),
}

#: Of a 429 that names no known limit.
_UNKNOWN_LIMIT = Limit("it was asked too often; it may be asked again from the next full hour on", _HOUR)


def reason_of(body: bytes) -> str:
    """Return the reason that the body of a refusal gives.

    Parameters
    ----------
    body : bytes
        Of an answer with a failing status.

    Returns
    -------
    str
        One short line, ``""`` if there is none.

    Examples
    --------
    >>> reason_of(b'{"error": true, "reason": "Invalid timezone"}')
    'Invalid timezone'
    """
    try:
        document = read_json(body)
    except SourceMalformed:
        return ""
    reason = document.get("reason") if isinstance(document, dict) else None
    return shown(reason).rstrip(".") if isinstance(reason, str) else ""


def limit_of(status: int, body: bytes) -> Limit | None:
    """Return the limit that an answer says is reached.

    Parameters
    ----------
    status : int
        HTTP status.
    body : bytes
        The answer's body.

    Returns
    -------
    Limit or None
        None if the answer is about something else.
    """
    if status != TOO_MANY_REQUESTS:
        return None
    reason = reason_of(body).lower()
    return next((limit for start, limit in LIMITS.items() if reason.startswith(start)), _UNKNOWN_LIMIT)


def blocked_until(status: int, body: bytes, now: datetime) -> datetime | None:
    """Return until when the service must not be asked again.

    Parameters
    ----------
    status : int
        HTTP status.
    body : bytes
        The answer's body.
    now : datetime
        Aware.

    Returns
    -------
    datetime or None
        Aware UTC, the start of the next UTC minute, hour or day; None if no limit is reached.

    Examples
    --------
    >>> from datetime import UTC, datetime
    >>> body = b'{"error": true, "reason": "Daily API request limit exceeded. Please try again tomorrow."}'
    >>> blocked_until(429, body, datetime(2026, 12, 31, 20, 15, tzinfo=UTC)).isoformat()
    '2027-01-01T00:00:00+00:00'
    """
    limit = limit_of(status, body)
    if limit is None:
        return None
    midnight = as_utc(now).replace(hour=0, minute=0, second=0, microsecond=0)
    return midnight + ((as_utc(now) - midnight) // limit.window + 1) * limit.window


def explain(status: int, _headers: Mapping[str, str], body: bytes) -> str:
    """Return what a refusal means and how to mend it.

    Parameters
    ----------
    status : int
        HTTP status.
    _headers : mapping
        The service puts nothing there.
    body : bytes
        The answer's body.

    Returns
    -------
    str
        One phrase, ``""`` if the body says nothing.

    Examples
    --------
    >>> explain(400, {}, b'{"error": true, "reason": "No data is available for this location"}')
    'it has no data for this place (its words: No data is available for this location); choose another model'
    """
    reason = reason_of(body)
    limit = limit_of(status, body)
    words = f" (its words: {reason})" if reason else ""
    if limit is not None:
        what, separator, mend = limit.reason.partition("; ")
        return f"{what}{words}{separator}{mend}"
    if status in {401, 403}:
        return f"it refuses access{words}; check api_key and base_url"
    if not reason:
        return ""
    for start, what, mend in _REASONS:
        if reason.lower().startswith(start):
            return f"{what}{words}; {mend}"
    if status >= 500:  # noqa: PLR2004
        return f"it failed{words}; it is asked again later"
    return f"it refuses the request{words}; check model and days"


#: What a reason begins with, what that means, and how to mend it. Source: the service's own texts, seen.
_REASONS = (
    ("no data is available for this location", "it has no data for this place", "choose another model"),
    ("the service is overloaded", "it is overloaded", "it is asked again later"),
    ("something went wrong", "it failed", "it is asked again later"),
    ("latitude must be in range", "it refuses the position", "check the site's latitude"),
    ("longitude must be in range", "it refuses the position", "check the site's longitude"),
    ("forecast days is invalid", "it does not forecast so many days", "ask for fewer days"),
    ("your api call requests too much data", "the request is too large", "ask for fewer days"),
    ("the requested model run is not available", "it does not have this run", "it is asked again later"),
)
