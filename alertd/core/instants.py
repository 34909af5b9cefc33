"""Instants: aware UTC inside, RFC 3339 at the edges."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import numpy as np

_RFC3339 = re.compile(r"(\d{4}-\d{2}-\d{2})[Tt ](\d{2}:\d{2}:\d{2})(\.\d+)?([Zz]|[+-]\d{2}:\d{2})", flags=re.ASCII)


def parse_instant(text: str) -> datetime:
    """Return the instant that an RFC 3339 text names.

    Parameters
    ----------
    text : str
        Like ``2013-01-23T04:00:00Z`` or ``2013-01-22T23:00:00-05:00``. The offset is required.

    Returns
    -------
    datetime
        Aware, UTC.

    Raises
    ------
    ValueError
        If the text is no RFC 3339 date-time with an offset.

    References
    ----------
    RFC 3339 (2002), section 5.6, from memory.

    Examples
    --------
    >>> parse_instant("2013-01-22T23:00:00-05:00").isoformat()
    '2013-01-23T04:00:00+00:00'
    """
    match = _RFC3339.fullmatch(text.strip())
    if match is None:
        message = f"{text!r} is not an RFC 3339 time with an offset, like 2026-01-23T04:00:00Z"
        raise ValueError(message)
    date, clock, fraction, offset = match.groups()
    fraction = (fraction or ".0")[:7]
    offset = "+00:00" if offset in "Zz" else offset
    try:
        return datetime.fromisoformat(f"{date}T{clock}{fraction.ljust(7, '0')}{offset}").astimezone(UTC)
    except (ValueError, OverflowError) as error:
        message = f"{text!r} is not a time that exists"
        raise ValueError(message) from error


def instant_text(instant: datetime) -> str:
    """Return an instant as RFC 3339 text in UTC, in whole seconds.

    Parameters
    ----------
    instant : datetime
        Aware.

    Returns
    -------
    str
        Like ``2013-01-23T04:00:00Z``.

    Raises
    ------
    ValueError
        If the instant is naive.

    Examples
    --------
    >>> instant_text(parse_instant("2013-01-22T23:00:00-05:00"))
    '2013-01-23T04:00:00Z'
    """
    return as_utc(instant).strftime("%Y-%m-%dT%H:%M:%SZ")


def as_utc(instant: datetime) -> datetime:
    """Return an aware instant in UTC.

    Parameters
    ----------
    instant : datetime
        Aware, in any zone.

    Returns
    -------
    datetime
        The same instant in UTC.

    Raises
    ------
    ValueError
        If the instant is naive: a time without an offset is not an instant.
    """
    if instant.tzinfo is None:
        message = f"{instant.isoformat()} has no offset from UTC"
        raise ValueError(message)
    return instant.astimezone(UTC)


def to_datetime64(instant: datetime) -> np.datetime64:
    """Return an aware instant as ``datetime64[s]`` in UTC.

    Parameters
    ----------
    instant : datetime
        Aware.

    Returns
    -------
    numpy.datetime64
        Unit ``s``; fractions of a second are cut.
    """
    return np.datetime64(as_utc(instant).replace(tzinfo=None), "s")


def from_datetime64(instant: np.datetime64) -> datetime:
    """Return a ``datetime64`` in UTC as an aware datetime.

    Parameters
    ----------
    instant : numpy.datetime64
        UTC.

    Returns
    -------
    datetime
        Aware, UTC, whole seconds.
    """
    seconds = int(instant.astype("datetime64[s]").astype("int64"))
    return datetime.fromtimestamp(seconds, tz=UTC)
