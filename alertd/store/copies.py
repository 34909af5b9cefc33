"""Copies of a database: made while others write, and looked over before they take its place."""

from __future__ import annotations

import os
import sqlite3
import time
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from alertd.core import AuditError, StoreError

from .migration import is_new, schema_version
from .store import Store
from .trouble import explained

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from alertd.audit import Head

#: Longest wait for a process that holds the whole database. Assumed.
_LONGEST_WAIT = timedelta(seconds=15)

_OWNER_ONLY = 0o600

#: Files that belong to a database, by what is appended to its name.
BESIDE = ("", "-wal", "-shm", ".lock", ".ballast")


@dataclass(frozen=True, slots=True)
class Copied:
    """A database that was looked over.

    Parameters
    ----------
    head : Head
        End of its audit log.
    version : int
        Of its tables.
    waiting : int
        Letters that are not settled.
    """

    head: Head
    version: int
    waiting: int


def back_up(database: Path, target: Path, *, overwrite: bool = False) -> Copied:
    """Copy a database as it is at one moment; others may write to it meanwhile.

    The copy is one file that needs no other beside it. It is written under another name, looked over, brought to the
    disk and only then given its name.

    Parameters
    ----------
    database : Path
        One of ours, of this version or an older one; it is not changed.
    target : Path
        The copy; readable and writable by its owner only.
    overwrite : bool
        Whether a file that is there is replaced.

    Returns
    -------
    Copied
        What the copy holds.

    Raises
    ------
    StoreError
        If the database cannot be read or is damaged, or the copy cannot be written; then there is no copy.
    AuditError
        If the audit log does not verify. The copy is there all the same.
    """
    _refuse_own_files(database, target)
    _refuse_existing(target, overwrite=overwrite)
    with part_beside(target) as part:
        copy_pages(database, part, str(target))
        with closing(_connected(part, str(target))) as connection, explained(str(target)):
            connection.execute("PRAGMA journal_mode = DELETE")
        faults: AuditError | None = None
        try:
            copied = look_over(part, str(database))
        except AuditError as error:
            faults = error
        _refuse_existing(target, overwrite=overwrite)
        put_in_place(part, target)
    if faults is not None:
        raise faults
    return copied


def look_over(path: Path, name: str) -> Copied:
    """Check that a database is ours, not of a newer alertd, not damaged, and that its audit log verifies.

    Parameters
    ----------
    path : Path
        A database that nobody uses; it is not changed.
    name : str
        For error texts.

    Returns
    -------
    Copied
        What it holds.

    Raises
    ------
    StoreError
        If it cannot be used.
    StoreTooNew
        If a newer alertd wrote it.
    AuditError
        If the audit log does not verify.
    """
    with closing(_connected(path, name)) as connection, explained(name):
        if is_new(connection, name):
            message = f"database {name} is empty; name a copy that alertd export backup has written"
            raise StoreError(message)
        found = [str(text) for (text,) in connection.execute("PRAGMA integrity_check(1)")]
        if found != ["ok"]:
            message = f"database {name} is damaged ({_one_line(found[0])}); take another copy"
            raise StoreError(message)
        store = Store(connection, name)
        faults = store.verify_audit()
        if faults:
            first = next((fault for fault in faults if fault.sequence), faults[0]).text
            more = "" if len(faults) == 1 else f", and {len(faults) - 1} more"
            message = f"database {name}: the audit log does not verify: {first}{more}"
            raise AuditError(message)
        waiting = connection.execute("SELECT count(*) FROM outbox WHERE state IN ('waiting', 'claimed')").fetchone()[0]
        return Copied(store.head(), schema_version(connection), int(waiting))


def copy_pages(source: Path, target: Path, name: str) -> None:
    """Copy a database into an empty file, as it is at one moment.

    Parameters
    ----------
    source : Path
        A database; others may write to it.
    target : Path
        Exists.
    name : str
        Of the target, for error texts.

    Raises
    ------
    StoreError
        If one of both cannot be used.
    """
    with closing(_connected(source, str(source))) as old, explained(str(source)):
        is_new(old, str(source))
        with closing(_connected(target, name)) as new:
            try:
                old.backup(new, progress=_patience(str(source)))
            except sqlite3.OperationalError as error:
                if error.sqlite_errorcode == sqlite3.SQLITE_FULL:
                    message = f"{name} cannot be written, the disk is full; free some space"
                    raise StoreError(message) from error
                raise


@contextmanager
def part_beside(target: Path) -> Iterator[Path]:
    """Make an empty file beside another, for its owner only, and remove what is left of it in the end.

    Parameters
    ----------
    target : Path
        What the file shall become.

    Yields
    ------
    Path
        The file.

    Raises
    ------
    StoreError
        If it cannot be made.
    """
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        with suppress(FileNotFoundError):
            part.unlink()
        os.close(os.open(part, os.O_CREAT | os.O_EXCL | os.O_RDWR, _OWNER_ONLY))
    except OSError as error:
        message = f"{target} cannot be written: {error.strerror}; check its folder and that this user may write there"
        raise StoreError(message) from error
    try:
        yield part
    finally:
        for suffix in ("", "-wal", "-shm", "-journal", ".ballast"):
            with suppress(OSError):
                part.with_name(part.name + suffix).unlink()


def put_in_place(part: Path, target: Path) -> None:
    """Bring a file to the disk and give it its name, at one stroke.

    Parameters
    ----------
    part : Path
        In the same folder.
    target : Path
        Is replaced if it is there.

    Raises
    ------
    StoreError
        If it cannot be.
    """
    try:
        _to_disk(part)
        part.replace(target)
        _to_disk(target.parent)
    except OSError as error:
        message = f"{target} cannot be written: {error.strerror}; check its folder and that this user may write there"
        raise StoreError(message) from error


def _patience(name: str) -> Callable[[int, int, int], None]:
    """Return what ends a copy that waits for a lock; by itself it would wait for ever."""
    deadline = time.monotonic() + _LONGEST_WAIT.total_seconds()

    def look(status: int, _remaining: int, _total: int) -> None:
        if status in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED} and time.monotonic() > deadline:
            message = f"database {name} is locked by another process; wait for it to end or stop it, then try again"
            raise StoreError(message)

    return look


def _to_disk(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _refuse_own_files(database: Path, target: Path) -> None:
    here = target.parent.resolve() / target.name
    own = database.resolve()
    if here in {own.with_name(own.name + suffix) for suffix in BESIDE} or target.resolve() == own:
        message = f"{target} belongs to the database itself; name another file for the copy"
        raise StoreError(message)


def _refuse_existing(target: Path, *, overwrite: bool) -> None:
    if target.is_dir():
        message = f"{target} is a folder; name a file in it"
        raise StoreError(message)
    if target.exists() and not overwrite:
        message = f"{target} exists already; name another file, or say --force"
        raise StoreError(message)


def _connected(path: Path, name: str) -> sqlite3.Connection:
    """Return a connection to a file that exists."""
    with explained(name):
        return sqlite3.connect(f"file:{quote(str(Path(path).absolute()))}?mode=rw", uri=True, isolation_level=None)


def _one_line(text: str) -> str:
    return " ".join(text.split())
