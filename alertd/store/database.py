"""The file, its connection, its transactions.

One connection, one lock: SQLite lets one writer in at a time anyway, our transactions last a fraction of a
millisecond, and a database in memory exists for its one connection only. So every thread may use a store, and none
ever sees another's half-done transaction.
"""

from __future__ import annotations

import os
import sqlite3
import threading
import time
from contextlib import contextmanager, suppress
from datetime import timedelta
from typing import TYPE_CHECKING, Self

from alertd.core import StoreError

from .ballast import Ballast
from .migration import is_new, migrate
from .trouble import explained, is_full

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path
    from types import TracebackType

#: Longest wait for another process's transaction. Assumed; ours last milliseconds.
BUSY_TIMEOUT = timedelta(seconds=5)

#: [bytes] The write-ahead log is cut back to this after a checkpoint. Assumed.
WAL_SIZE_LIMIT = 16 * 1024 * 1024

#: [KiB] Pages of the database that are kept in memory. Assumed: an evaluation and a look at the outbox read far less.
#: SQLite's own limit, 2,000 KiB, is reached after weeks, and until then looks as if the daemon grew.
_CACHE_KIB = 256

#: [s] Pause between attempts to switch to write-ahead logging, which SQLite refuses at once when another process
#: does the same. Assumed.
_SWITCH_PAUSE = 0.02

#: [bytes] With less, a disk counts as full where SQLite gives another reason. Assumed.
NO_ROOM = 1024 * 1024

_OWNER_ONLY = 0o600


class Database:
    """A database file that is ours, or one in memory.

    Parameters
    ----------
    connection : sqlite3.Connection
        Ready for use.
    name : str
        For error texts.
    path : Path or None
        Where it is; ``None`` in memory.

    Attributes
    ----------
    ballast : Ballast or None
        Room to be given up when the disk is full, if somebody laid it; ``None`` in memory.
    """

    def __init__(self, connection: sqlite3.Connection, name: str, path: Path | None = None) -> None:
        self._connection = connection
        self._lock = threading.RLock()
        self._has_relief = False
        self.name = name
        self.path = path
        self.ballast = None if path is None else Ballast(path)

    @classmethod
    def open(
        cls,
        path: Path | None,
        *,
        durable: bool = True,
        busy_timeout: timedelta = BUSY_TIMEOUT,
        name: str | None = None,
    ) -> Self:
        """Open a database; make it if there is none, and bring an older one up to date.

        Parameters
        ----------
        path : Path or None
            Where; a new file is readable and writable by its owner only. ``None`` is a database in memory.
        durable : bool
            Whether a commit must survive a power cut. Hindcasts do without.
        busy_timeout : timedelta
            Longest wait for another process's transaction.
        name : str, optional
            For error texts, where it is not the path.

        Returns
        -------
        Database
            To be closed, or used in a ``with`` statement.

        Raises
        ------
        StoreError
            If the file cannot be opened or written, belongs to another program, is damaged, or is locked for
            longer than `busy_timeout`.
        StoreTooNew
            If a newer alertd wrote it.
        """
        name = name or ("in memory" if path is None else str(path))
        try:
            return cls._opened(path, name, durable=durable, busy_timeout=busy_timeout)
        except StoreError:
            # On a full disk SQLite cannot even make the files beside the database, and does not always say why.
            if path is None or (room_at(path) or 0) > NO_ROOM or not Ballast(path).give_up():
                raise
            return cls._opened(path, name, durable=durable, busy_timeout=busy_timeout)

    @classmethod
    def _opened(cls, path: Path | None, name: str, *, durable: bool, busy_timeout: timedelta) -> Self:
        with explained(name):
            if path is not None:
                _create_owner_only(path)
            connection = sqlite3.connect(
                ":memory:" if path is None else path,
                timeout=busy_timeout.total_seconds(),
                isolation_level=None,
                check_same_thread=False,
            )
            try:
                if is_new(connection, name):  # later it would count no more, and be written all the same
                    connection.execute("PRAGMA auto_vacuum = INCREMENTAL")
                if path is not None:
                    _use_write_ahead_log(connection, name, busy_timeout)
                connection.execute(f"PRAGMA synchronous = {'FULL' if durable else 'OFF'}")
                connection.execute(f"PRAGMA cache_size = -{_CACHE_KIB}")
                connection.execute("PRAGMA foreign_keys = ON")
                migrate(connection, name)
            except BaseException:
                connection.close()
                raise
        return cls(connection, name, path)

    def free_space(self) -> int | None:
        """Return how much room is left on the disk, for this user and without the ballast.

        Returns
        -------
        int or None
            [bytes]; ``None`` if there is no disk, or it does not say.
        """
        return None if self.path is None else room_at(self.path)

    def close(self) -> None:
        """Close the database; it cannot be used afterwards. Closing twice is fine."""
        with self._lock:
            self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """Run one transaction that writes: all of it, or nothing."""
        with self._transaction("BEGIN IMMEDIATE") as connection:
            yield connection

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        """Run several reads on one and the same state of the database."""
        with self._transaction("BEGIN") as connection:
            yield connection

    @contextmanager
    def _transaction(self, begin: str) -> Iterator[sqlite3.Connection]:
        with self._lock, explained(self.name):
            self._connection.execute(begin)
            try:
                yield self._connection
                self._connection.execute("COMMIT")
            except BaseException as error:
                with suppress(sqlite3.Error):  # SQLite may have rolled back itself; the first error counts
                    self._connection.execute("ROLLBACK")
                if is_full(error) and self.ballast is not None:
                    self._has_relief = self.ballast.give_up() or self._has_relief
                raise

    def _gave_up_ballast(self) -> bool:
        """Return whether ballast was given up since this was asked last."""
        with self._lock:
            has_relief, self._has_relief = self._has_relief, False
            return has_relief

    def _meta(self, key: str) -> str | None:
        row = self._connection.execute("SELECT value FROM meta WHERE key = ?", (key,)).fetchone()
        return None if row is None else str(row[0])

    def _set_meta(self, key: str, value: str) -> None:
        self._connection.execute(
            "INSERT INTO meta (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value",
            (key, value),
        )

    def get_note(self, key: str) -> str | None:
        """Return what was noted under a key.

        Parameters
        ----------
        key : str
            Any.

        Returns
        -------
        str or None
            ``None`` if nothing was.

        Raises
        ------
        StoreError
            If the database cannot be read.
        """
        with self._lock, explained(self.name):
            return self._meta(f"note:{key}")

    def set_note(self, key: str, value: str) -> None:
        """Note something that is no fact for the audit log, like the time of the last rehearsal.

        Parameters
        ----------
        key, value : str
            Any; an older value is replaced.

        Raises
        ------
        StoreError
            If the database cannot be written.
        """
        with self._writing():
            self._set_note(key, value)

    def _set_note(self, key: str, value: str) -> None:
        """Note something, within the transaction of the caller."""
        self._set_meta(f"note:{key}", value)


def room_at(path: Path) -> int | None:
    """Return how much room the disk of a file has left for this user.

    Parameters
    ----------
    path : Path
        Its folder exists.

    Returns
    -------
    int or None
        [bytes]; ``None`` if the system does not say.
    """
    try:
        found = os.statvfs(path.parent)
    except OSError:
        return None
    return found.f_bavail * found.f_frsize


def _create_owner_only(path: Path) -> None:
    try:
        descriptor = os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, _OWNER_ONLY)
    except FileExistsError:
        return
    except OSError as error:
        message = (
            f"database {path} cannot be made: {error.strerror}; "
            "check that its folder exists and that this user may write there"
        )
        raise StoreError(message) from error
    os.close(descriptor)


def _use_write_ahead_log(connection: sqlite3.Connection, name: str, busy_timeout: timedelta) -> None:
    deadline = time.monotonic() + busy_timeout.total_seconds()
    while True:
        try:
            mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
            break
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or time.monotonic() >= deadline:
                raise
            time.sleep(_SWITCH_PAUSE)
    if mode != "wal":
        message = f"database {name} cannot use write-ahead logging (journal mode {mode}); put it on a local disk"
        raise StoreError(message)
    connection.execute(f"PRAGMA journal_size_limit = {WAL_SIZE_LIMIT}")
