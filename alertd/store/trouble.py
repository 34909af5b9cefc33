"""What SQLite's errors mean to a person."""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager
from typing import TYPE_CHECKING

from alertd.core import StoreError, StoreFull

if TYPE_CHECKING:
    from collections.abc import Iterator

_CANNOT_OPEN = "cannot be opened or written; check that its folder exists and that this user may write there"

#: What is wrong and how to mend it, by primary result code (https://sqlite.org/rescode.html, from memory).
_EXPLANATIONS = {
    sqlite3.SQLITE_NOTADB: "is not a database; move the file away or name another one",
    sqlite3.SQLITE_BUSY: "is locked by another process; wait for it to end or stop it, then try again",
    sqlite3.SQLITE_LOCKED: "is locked by another process; wait for it to end or stop it, then try again",
    sqlite3.SQLITE_FULL: "cannot grow, the disk is full; nothing of this change was written; free some space",
    sqlite3.SQLITE_READONLY: _CANNOT_OPEN,
    sqlite3.SQLITE_CANTOPEN: _CANNOT_OPEN,
    sqlite3.SQLITE_PERM: _CANNOT_OPEN,
    sqlite3.SQLITE_CORRUPT: "is damaged; stop alertd, keep the file for inspection and put a copy in its place",
    sqlite3.SQLITE_IOERR: "could not be read or written, the disk failed; check the disk and its space",
}

_PRIMARY_CODE_BITS = 0xFF


def explanation(name: str, error: sqlite3.Error) -> str:
    """Return one line on what is wrong with a database and how to mend it.

    Parameters
    ----------
    name : str
        Path of the database, or another name.
    error : sqlite3.Error
        What SQLite said.

    Returns
    -------
    str
        For a person.
    """
    code = getattr(error, "sqlite_errorcode", None)
    known = None if code is None else _EXPLANATIONS.get(code & _PRIMARY_CODE_BITS)
    if known is not None:
        return f"database {name} {known}"
    return f"database {name} cannot be used: {error}; check the file, or put a copy in its place"


def is_full(error: BaseException) -> bool:
    """Return whether an error means that the disk is full.

    Parameters
    ----------
    error : BaseException
        Any.

    Returns
    -------
    bool
        By SQLite's own word.
    """
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and code & _PRIMARY_CODE_BITS == sqlite3.SQLITE_FULL


@contextmanager
def explained(name: str) -> Iterator[None]:
    """Turn what SQLite says about the file into an error for a person.

    Broken promises of our own code (a constraint, a misuse) pass through unchanged.

    Parameters
    ----------
    name : str
        Path of the database, or another name.

    Yields
    ------
    None
        To the work with the database.

    Raises
    ------
    StoreFull
        If the disk is full.
    StoreError
        If the database cannot be used.
    """
    try:
        yield
    except (sqlite3.ProgrammingError, sqlite3.IntegrityError):
        raise
    except sqlite3.DatabaseError as error:
        kind = StoreFull if is_full(error) else StoreError
        raise kind(explanation(name, error)) from error
