"""When a service may be asked again. Pure arithmetic on headers and instants."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from typing import TYPE_CHECKING

from .quota import OPEN_METEO_FREE, Quota

if TYPE_CHECKING:
    from collections.abc import Mapping

    from alertd.core import Answer

#: How far a service's clock, or an instant that was noted before, may be ahead. Assumed: clocks differ by seconds.
CLOCK_TOLERANCE = timedelta(minutes=5)

#: Longest number of seconds in a header that is read; more digits are no number that anybody means.
_SECONDS = re.compile(r"[0-9]{1,9}")

_MAX_AGE = re.compile(r"(?:^|[,\s])max-age\s*=\s*\"?([0-9]{1,9})\"?(?=[,\s]|$)", flags=re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class FetchSettings:
    """How services are asked. All values assumed, unless a source is named.

    Parameters
    ----------
    deadline : timedelta
        For one request with its redirects and its second try, from look-up of the name to the last byte.
    longest_wait : timedelta
        For another request to the same host to end.
    max_bytes : int
        [bytes] Longest body, decompressed.
    proxies_from_environment : bool
        Whether ``HTTPS_PROXY`` and its like are used.
    shortest_pause : timedelta
        Between two answers to one request, whatever the service allows.
    spread : timedelta
        Each answer stays good for a random time of up to this longer, so that clients do not ask all at once.
    first_backoff, longest_backoff : timedelta
        Pause after the first failure, doubling with each, and its bound.
    backoff_jitter : float
        Fraction by which a backoff is drawn shorter or longer.
    longest_retry_after : timedelta
        Bound of what a service may ask for with ``Retry-After``.
    forbidden_pause : timedelta
        After 403: services ban those who keep asking (terms of MET Norway, seen).
    longest_expiry : timedelta
        An answer that claims to be good for longer than this counts as one that claims nothing.
    quotas : tuple of Quota
        Domains that count calls.
    """

    deadline: timedelta = timedelta(seconds=20)
    longest_wait: timedelta = timedelta(seconds=60)
    max_bytes: int = 16 * 1024 * 1024
    proxies_from_environment: bool = False
    shortest_pause: timedelta = timedelta(minutes=1)
    spread: timedelta = timedelta(seconds=60)
    first_backoff: timedelta = timedelta(minutes=1)
    longest_backoff: timedelta = timedelta(minutes=60)
    backoff_jitter: float = 0.2
    longest_retry_after: timedelta = timedelta(hours=6)
    forbidden_pause: timedelta = timedelta(hours=6)
    longest_expiry: timedelta = timedelta(hours=24)
    quotas: tuple[Quota, ...] = (OPEN_METEO_FREE,)


def http_date(text: str | None) -> datetime | None:
    """Return the instant that an HTTP date names.

    Parameters
    ----------
    text : str or None
        Any.

    Returns
    -------
    datetime or None
        Aware, UTC; ``None`` if it names none.

    References
    ----------
    RFC 9110 (2022), section 5.6.7, from memory: three forms, all of them UTC.

    Examples
    --------
    >>> http_date("Sun, 06 Nov 1994 08:49:37 GMT").isoformat()
    '1994-11-06T08:49:37+00:00'
    """
    if text is None:
        return None
    try:
        instant = parsedate_to_datetime(text)
        return instant.replace(tzinfo=UTC) if instant.tzinfo is None else instant.astimezone(UTC)
    except (ValueError, TypeError, OverflowError, IndexError):
        return None


def expiry(headers: Mapping[str, str], now: datetime) -> datetime | None:
    """Return until when a service asks not to be asked again.

    ``max-age`` counts before ``Expires``. If the service's clock and ours differ by more than `CLOCK_TOLERANCE`, the
    time between its ``Date`` and its ``Expires`` is added to ours.

    Parameters
    ----------
    headers : mapping of str to str
        Names as in RFC 9110, or in any case if the mapping does not tell them apart.
    now : datetime
        Aware, UTC.

    Returns
    -------
    datetime or None
        After `now`; ``None`` if the headers say nothing, or nothing that can be understood.

    References
    ----------
    RFC 9111 (2022), sections 4.2 and 5.2, from memory.
    """
    age = _seconds(headers.get("Age")) or timedelta(0)
    listed = _MAX_AGE.search(headers.get("Cache-Control", ""))
    if listed is not None:
        until = now + timedelta(seconds=int(listed[1])) - age
        return until if until > now else None
    expires = http_date(headers.get("Expires"))
    if expires is None:
        return None
    date = http_date(headers.get("Date"))
    if date is not None and min(abs(now - date), abs(now - date - age)) > CLOCK_TOLERANCE:
        try:
            expires = now + (expires - date)
        except OverflowError:
            return None
    return expires if expires > now else None


def retry_after(text: str | None, now: datetime, longest: timedelta) -> timedelta | None:
    """Return how long a service asks to be left alone.

    Parameters
    ----------
    text : str or None
        ``Retry-After``: seconds or an HTTP date.
    now : datetime
        Aware, UTC.
    longest : timedelta
        Bound of the result.

    Returns
    -------
    timedelta or None
        From 0 to `longest`; ``None`` if the text says nothing that can be understood.
    """
    if text is None:
        return None
    pause = _seconds(text)
    if pause is None:
        until = http_date(text)
        if until is None:
            return None
        pause = until - now
    return min(max(pause, timedelta(0)), longest)


def backoff(failures: int, settings: FetchSettings, fraction: float) -> timedelta:
    """Return the pause after a failure.

    Parameters
    ----------
    failures : int
        In a row, this one included; at least 1.
    settings : FetchSettings
        Shortest and longest pause, and the jitter.
    fraction : float
        Drawn evenly from 0 to 1.

    Returns
    -------
    timedelta
        Doubles with each failure up to the longest, then times 1 - jitter to 1 + jitter.
    """
    doubled: int = 1 << min(failures - 1, 32)
    pause = min(settings.first_backoff * doubled, settings.longest_backoff)
    return pause * (1.0 + settings.backoff_jitter * (2.0 * fraction - 1.0))


def fresh_until(
    answer: Answer, pause: timedelta, settings: FetchSettings, shortest_pause: timedelta = timedelta(0)
) -> datetime:
    """Return until when a stored answer is used without asking.

    Parameters
    ----------
    answer : Answer
        As stored.
    pause : timedelta
        Of the request: counts if the service said nothing believable.
    settings : FetchSettings
        Bounds.
    shortest_pause : timedelta
        Of the request: counts even if the service says something shorter.

    Returns
    -------
    datetime
        Aware, UTC.
    """
    expires = believable_expiry(answer, settings)
    if expires is None:
        expires = answer.retrieved + pause
    return max(expires, answer.retrieved + max(settings.shortest_pause, shortest_pause))


def believable_expiry(answer: Answer, settings: FetchSettings) -> datetime | None:
    """Return until when a service asks not to be asked again, ``None`` if it said nothing believable."""
    expires = answer.expires
    if expires is None or not answer.retrieved < expires <= answer.retrieved + settings.longest_expiry:
        return None
    return expires


def is_noted_in_future(noted: datetime, now: datetime) -> bool:
    """Return whether the clock was set back since something was noted, so that its times mean nothing any more."""
    return noted > now + CLOCK_TOLERANCE


def _seconds(text: str | None) -> timedelta | None:
    """Return a whole number of seconds."""
    if text is None or _SECONDS.fullmatch(text.strip()) is None:
        return None
    return timedelta(seconds=int(text))
