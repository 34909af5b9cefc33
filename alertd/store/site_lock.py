"""One daemon for one database."""

from __future__ import annotations

import fcntl
import os
from typing import TYPE_CHECKING, Self

from alertd.core import StoreError

if TYPE_CHECKING:
    from pathlib import Path
    from types import TracebackType

_OWNER_ONLY = 0o600

#: [bytes] Longest process number that is read from a lock file.
_LONGEST_NUMBER = 20


class SiteLock:
    """A lock beside a database, held while a daemon runs on it.

    The kernel lets go of it when the process ends, however it ends; a lock file that is left behind locks nothing.
    A child made by a bare ``fork`` would hold it on; children that are started as new programs do not.

    Parameters
    ----------
    path : Path
        The database; the lock file has ``.lock`` appended to its name.

    Examples
    --------
    ::

        with SiteLock(path), Store.open(path) as store:
            ...
    """

    def __init__(self, path: Path) -> None:
        self.database = path
        self.path = path.with_name(f"{path.name}.lock")
        self._descriptor: int | None = None

    def acquire(self) -> None:
        """Take the lock.

        Raises
        ------
        StoreError
            If another process holds it (its number is in the text), or the lock file cannot be made.
        """
        try:
            descriptor = os.open(self.path, os.O_CREAT | os.O_RDWR, _OWNER_ONLY)
        except OSError as error:
            message = (
                f"lock file {self.path} cannot be made: {error.strerror}; "
                "check that its folder exists and that this user may write there"
            )
            raise StoreError(message) from error
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            holder = os.read(descriptor, _LONGEST_NUMBER).decode("ascii", "replace").strip() or "unknown"
            os.close(descriptor)
            message = f"database {self.database} is in use by another alertd (process {holder}); stop that one first"
            raise StoreError(message) from error
        os.ftruncate(descriptor, 0)
        os.write(descriptor, f"{os.getpid()}\n".encode("ascii"))
        self._descriptor = descriptor

    def release(self) -> None:
        """Let go of the lock; without it, do nothing."""
        if self._descriptor is not None:
            os.ftruncate(self._descriptor, 0)
            os.close(self._descriptor)
            self._descriptor = None

    def __enter__(self) -> Self:
        self.acquire()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.release()
