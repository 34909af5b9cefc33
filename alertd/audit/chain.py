"""The chain: every fact carries a hash over itself and over the fact before it.

::

    hash 0 = GENESIS
    hash n = SHA-256(0x00 || hash n-1 || canonical JSON of [n, happened, kind, body])

Whoever holds the hash of row n (a head) can tell whether rows 1 to n are still what they were. A chain alone
cannot show that its end was cut off or that all of it was written anew; heads kept elsewhere, like those in
letters, can.

References
----------
Crosby and Wallach, Efficient Data Structures for Tamper-Evident Logging, USENIX Security 2009 (abstract seen).
The leading zero byte is the leaf prefix of RFC 6962 (2013), section 2.1 (from memory).
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from typing import NamedTuple

#: Hash before the first row: the SHA-256 of nothing would be a value with a history, zeros have none.
GENESIS = "0" * 64

#: Hexadecimal digits of a hash in the short text of a head: 48 bits, enough where nobody searches for collisions
#: of a text that they cannot choose freely. Assumed.
SHORT_HASH_DIGITS = 12

_PREFIX = b"\x00"
#: What a hash looks like.
HASH = re.compile(r"[0-9a-f]{64}")
_HEAD = re.compile(r"(0|[1-9][0-9]{0,17}):([0-9a-f]{12,64})", flags=re.ASCII)
_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))


def canonical_json(value: object) -> str:
    """Return the one JSON text of a value.

    Keys are sorted by code point, nothing is padded, characters stand for themselves, numbers are written as
    Python writes them.

    Parameters
    ----------
    value : object
        ``None``, booleans, integers, finite floats, texts, sequences (lists, tuples) and mappings with text keys.

    Returns
    -------
    str
        JSON, encodable as UTF-8.

    Raises
    ------
    ValueError
        If something in `value` is no JSON value (a time, a set, an array), a float is not finite, a key is no
        text, a text holds a lone surrogate, or `value` contains itself.

    Examples
    --------
    >>> canonical_json({"b": [1, 2.5], "a": "Frühling"})
    '{"a":"Frühling","b":[1,2.5]}'
    """
    try:
        text = _ENCODER.encode(_plain(value))
    except RecursionError as error:
        message = "the value is nested too deeply for JSON, or contains itself"
        raise ValueError(message) from error
    text.encode()
    return text


def _plain(value: object) -> object:
    if value is None or isinstance(value, str | int):
        return value
    if isinstance(value, float):
        if not math.isfinite(value):
            message = f"{value} is not finite; leave it out or write null"
            raise ValueError(message)
        return value
    if isinstance(value, Mapping):
        return {_key(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    message = f"{value!r} ({type(value).__name__}) is no JSON value; give times as RFC 3339 text"
    raise ValueError(message)


def _key(key: object) -> str:
    if not isinstance(key, str):
        message = f"key {key!r} ({type(key).__name__}) is no text"
        raise ValueError(message)  # noqa: TRY004 - one kind of error for every value that is no JSON
    return key


def link(previous_hash: str, sequence: int, happened_text: str, kind: str, body_json: str) -> str:
    """Return the hash of a row.

    Parameters
    ----------
    previous_hash : str
        Hash of the row before, or `GENESIS`; 64 hexadecimal digits.
    sequence : int
        Number of the row, from 1.
    happened_text : str
        RFC 3339.
    kind : str
        Kind of the fact.
    body_json : str
        Canonical JSON, hashed as it stands: a changed space is a change.

    Returns
    -------
    str
        64 hexadecimal digits.

    Raises
    ------
    ValueError
        If `previous_hash` is no hash.
    """
    if not HASH.fullmatch(previous_hash):
        message = f"{previous_hash!r} is not 64 hexadecimal digits"
        raise ValueError(message)
    front = _ENCODER.encode([sequence, happened_text, kind])
    # Bytes that were no UTF-8 come in as lone surrogates and are hashed as the bytes that they were.
    content = f"{front[:-1]},{body_json}]".encode("utf-8", "surrogateescape")
    return sha256(_PREFIX + bytes.fromhex(previous_hash) + content).hexdigest()


class AuditRow(NamedTuple):
    """One row of the log.

    Parameters
    ----------
    sequence : int
        From 1, without gaps.
    happened : str
        RFC 3339, UTC.
    kind : str
        Kind of the fact.
    body : str
        Canonical JSON.
    hash : str
        64 hexadecimal digits.
    """

    sequence: int
    happened: str
    kind: str
    body: str
    hash: str


@dataclass(frozen=True, slots=True)
class Head:
    """The end of a chain at some time.

    Parameters
    ----------
    sequence : int
        Number of the last row; 0 before the first.
    hash : str
        Its hash, or the first 12 or more of the 64 digits.

    Examples
    --------
    >>> str(Head(3, "ab12cd34ef56" + "0" * 52))
    '3:ab12cd34ef56'
    >>> Head.parse("3:ab12cd34ef56")
    Head(sequence=3, hash='ab12cd34ef56')
    """

    sequence: int
    hash: str

    def __str__(self) -> str:
        """Return the short text, like ``1234:ab12cd34ef56``."""
        return f"{self.sequence}:{self.hash[:SHORT_HASH_DIGITS]}"

    @property
    def full_text(self) -> str:
        """The text with all digits of the hash."""
        return f"{self.sequence}:{self.hash}"

    @classmethod
    def parse(cls, text: str) -> Head:
        """Return the head that a text names.

        Parameters
        ----------
        text : str
            Like ``1234:ab12cd34ef56``, with 12 to 64 digits of the hash.

        Returns
        -------
        Head
            With as many digits as were given.

        Raises
        ------
        ValueError
            If `text` is no head.
        """
        match = _HEAD.fullmatch(text.strip())
        if match is None:
            message = f"{text!r} is no head of the audit log, like 1234:ab12cd34ef56"
            raise ValueError(message)
        return cls(int(match[1]), match[2])
