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
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable

#: Hash before the first row: the SHA-256 of nothing would be a value with a history, zeros have none.
GENESIS = "0" * 64

#: Hexadecimal digits of a hash in the short text of a head: 48 bits, enough where nobody searches for collisions
#: of a text that they cannot choose freely. Assumed.
SHORT_HASH_DIGITS = 12

#: Row faults that are listed one by one; a log that is wrong all over needs no longer list. Assumed.
LISTED_FAULTS = 20

_PREFIX = b"\x00"
_HASH = re.compile(r"[0-9a-f]{64}")
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
    if not _HASH.fullmatch(previous_hash):
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


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong with the log.

    Parameters
    ----------
    sequence : int
        The first row that is affected; 0 where no single row is.
    text : str
        What is wrong, for a person.
    """

    sequence: int
    text: str


def verify(rows: Iterable[AuditRow], recorded_head: Head | None, published: Iterable[Head]) -> list[Fault]:
    """Return everything that is wrong with a log.

    Rows are read once, one after another. At most 20 faults of rows are listed.

    Parameters
    ----------
    rows : iterable of AuditRow
        The whole log from its first row, as it is stored.
    recorded_head : Head or None
        The end of the log as recorded beside it; ``None`` where none is known.
    published : iterable of Head
        Ends of the log at earlier times, kept elsewhere.

    Returns
    -------
    list of Fault
        Ordered by row; empty if the log is whole.
    """
    heads = _Heads(published)
    walk = _Walk()
    heads.look(0, GENESIS)
    for row in rows:
        walk.step(row)
        heads.look(row.sequence, row.hash)
    faults = [*walk.finish(), *heads.faults(walk.last)]
    if recorded_head is not None:
        faults += _recorded_head_faults(recorded_head, walk)
    return sorted(faults, key=lambda fault: fault.sequence)


class _Walk:
    """A walk along the rows.

    ``anchors`` are the hashes that the next row may build upon; none means that the row before is not known.
    """

    def __init__(self) -> None:
        self.last = 0
        self.last_hash = GENESIS
        self._anchors: tuple[str, ...] = (GENESIS,)
        self._faults: list[Fault] = []
        self._count = 0

    def step(self, row: AuditRow) -> None:
        if row.sequence <= self.last:
            self._note(row.sequence, f"row {row.sequence} stands after row {self.last}: out of order or twice")
            return
        if row.sequence > self.last + 1:
            self._note(self.last + 1, _missing_text(self.last + 1, row.sequence - 1))
            self._anchors = ()
        computed = [link(anchor, *row[:4]) for anchor in self._anchors]
        if computed and row.hash not in computed:
            self._note(row.sequence, f"row {row.sequence} does not fit its hash: it was changed, or rows before it")
            self._anchors = tuple(anchor for anchor in (row.hash, *computed) if _HASH.fullmatch(anchor))
        else:
            self._anchors = (row.hash,) if _HASH.fullmatch(row.hash) else ()
        self.last = row.sequence
        self.last_hash = row.hash

    def _note(self, sequence: int, text: str) -> None:
        self._count += 1
        if self._count <= LISTED_FAULTS:
            self._faults.append(Fault(sequence, text))

    def finish(self) -> list[Fault]:
        unlisted = self._count - LISTED_FAULTS
        if unlisted > 0:
            text = f"{unlisted} more rows do not fit; they are not listed"
            return [*self._faults, Fault(self._faults[-1].sequence, text)]
        return self._faults


def _missing_text(first: int, last: int) -> str:
    return f"row {first} is missing" if first == last else f"rows {first} to {last} are missing"


class _Heads:
    """Heads that rows are compared with as they pass."""

    def __init__(self, heads: Iterable[Head]) -> None:
        self._unseen: dict[int, set[str]] = {}
        for head in heads:
            self._unseen.setdefault(head.sequence, set()).add(head.hash)
        self._faults: list[Fault] = []

    def look(self, sequence: int, row_hash: str) -> None:
        if not self._unseen:
            return
        for wanted in sorted(self._unseen.pop(sequence, ())):
            if not row_hash.startswith(wanted):
                text = f"row {sequence}, or rows before it, were written anew: {Head(sequence, wanted)} was published"
                self._faults.append(Fault(sequence, text))

    def faults(self, last: int) -> list[Fault]:
        lost = [Head(sequence, wanted) for sequence, hashes in self._unseen.items() for wanted in hashes]
        return self._faults + [_lost_head_fault(head, last, "published") for head in lost]


def _lost_head_fault(head: Head, last: int, how: str) -> Fault:
    if head.sequence > last:
        return Fault(last + 1, f"the log ends at row {last}, but {head} was {how}: its end was cut off")
    return Fault(head.sequence, f"row {head.sequence} is missing, but {head} was {how}")


def _recorded_head_faults(head: Head, walk: _Walk) -> list[Fault]:
    if head.sequence > walk.last:
        return [_lost_head_fault(head, walk.last, "recorded as its end")]
    if head.sequence < walk.last:
        text = f"the log goes on to row {walk.last}, but {head} was recorded as its end: rows were added"
        return [Fault(head.sequence + 1, text)]
    if not walk.last_hash.startswith(head.hash):
        text = f"the last row, {walk.last}, or rows before it, were written anew: {head} was recorded as the end"
        return [Fault(walk.last, text)]
    return []
