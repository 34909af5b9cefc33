"""A file that takes up room, to be given up when the disk is full.

On a full disk SQLite cannot even delete: a deletion is written to the log first. So some room is kept in a file beside
the database; without it, what happens then can still be written and told.
"""

from __future__ import annotations

import os
from contextlib import suppress
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

#: [bytes] Room for some thousand evaluations, and for the write-ahead log of a clean-up. Assumed.
BALLAST_SIZE = 8 * 1024 * 1024

_OWNER_ONLY = 0o600


class Ballast:
    """The file beside a database.

    Parameters
    ----------
    database : Path
        The database; the file has ``.ballast`` appended to its name.
    size : int
        [bytes]
    """

    def __init__(self, database: Path, size: int = BALLAST_SIZE) -> None:
        self.path = database.with_name(f"{database.name}.ballast")
        self.size = size

    @property
    def is_laid(self) -> bool:
        """Whether the file is there, whole."""
        try:
            return self.path.stat().st_size >= self.size
        except OSError:
            return False

    def lay(self) -> bool:
        """Make the file unless it is there.

        Returns
        -------
        bool
            Whether it is there now.
        """
        if self.is_laid:
            return True
        try:
            descriptor = os.open(self.path, os.O_CREAT | os.O_WRONLY, _OWNER_ONLY)
        except OSError:
            return False
        try:
            os.posix_fallocate(descriptor, 0, self.size)
        except OSError:
            self.give_up()
            return False
        finally:
            os.close(descriptor)
        return True

    def give_up(self) -> bool:
        """Remove the file.

        Returns
        -------
        bool
            Whether there was one of some size.
        """
        with suppress(OSError):
            had_room = self.path.stat().st_size > 0
            self.path.unlink()
            return had_room
        return False
