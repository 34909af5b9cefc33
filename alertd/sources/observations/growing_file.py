"""The new lines of a file that something else appends to."""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from alertd.core import SourceMalformed, SourceUnavailable

if TYPE_CHECKING:
    from pathlib import Path
    from typing import BinaryIO

#: [bytes] Most that is read at one look. Assumed: a value a minute makes 16 MiB in about a year.
LARGEST_READ = 16 * 1024 * 1024

#: [bytes] Longest first line. Assumed: all columns with their units have 200.
LONGEST_HEADER = 4096

#: [bytes] So much before the place of the last look must still be the same. Assumed: two lines.
_FINGERPRINT = 96


@dataclass(frozen=True, slots=True)
class _Place:
    """How far a file was read."""

    identity: tuple[int, int]
    header: bytes
    offset: int
    before: bytes


@dataclass(frozen=True, slots=True)
class NewLines:
    """What is new in a file.

    Parameters
    ----------
    header : str
        The file's first line; empty as long as that is not wholly written.
    lines : tuple of str
        Whole lines after the last ones that were accepted.
    remarks : tuple of str
        What happened to the file, one line each.
    """

    header: str
    lines: tuple[str, ...]
    remarks: tuple[str, ...]
    _place: _Place | None = field(default=None, repr=False, compare=False)


class GrowingFile:
    """A text file with a header that only ever gets longer, until it is rotated.

    Parameters
    ----------
    path : Path
        Where.
    largest_read : int
        [bytes] Most that is read at one look; if more is new, only its end is.
    """

    def __init__(self, path: Path, largest_read: int = LARGEST_READ) -> None:
        self.path = path
        self._largest_read = largest_read
        self._place: _Place | None = None

    def look(self) -> NewLines:
        """Return the lines that were wholly written since the last accepted look.

        A last line without its line end is left for the next look. A file that is another one than before, is
        shorter or does not hold the same any more is read from its beginning.

        Returns
        -------
        NewLines
            The same again until it is accepted.

        Raises
        ------
        SourceUnavailable
            If the file cannot be read.
        SourceMalformed
            If it has no line end where one must be.
        """
        try:
            # without O_NONBLOCK, a pipe would be waited for
            descriptor = os.open(self.path, os.O_RDONLY | os.O_NONBLOCK | os.O_CLOEXEC)
            with open(descriptor, "rb") as file:  # noqa: PTH123 - a descriptor, not a path
                return self._new_lines(file)
        except OSError as error:
            message = f"{self.path}: the file cannot be read ({error.strerror}); check the path and its permissions"
            raise SourceUnavailable(message) from error

    def accept(self, lines: NewLines) -> None:
        """Go on after these lines at the next look.

        Parameters
        ----------
        lines : NewLines
            Of the last look.
        """
        self._place = lines._place  # noqa: SLF001 - of this module

    def _new_lines(self, file: BinaryIO) -> NewLines:
        status = os.fstat(file.fileno())
        if not stat.S_ISREG(status.st_mode):
            message = f"{self.path}: this is no regular file; name a CSV file"
            raise SourceUnavailable(message)
        identity = (status.st_dev, status.st_ino)
        place, remarks = self._valid_place(file, identity, status.st_size)
        if place is None:
            header = self._header(file)
            if header is None:
                return NewLines("", (), tuple(remarks))
            place = _Place(identity, header, len(header), b"")
        start = max(place.offset, status.st_size - self._largest_read)
        file.seek(start)
        new = file.read(self._largest_read)
        if start > place.offset:
            dropped = new.find(b"\n") + 1
            start, new = start + dropped, new[dropped:]
            remarks.append(
                f"{self.path.name}: more than {self._largest_read} bytes are new; only the last of them are read"
            )
        whole = new[: new.rfind(b"\n") + 1]
        if not whole and len(new) >= self._largest_read:
            message = f"{self.path.name}: there is no line end in {len(new)} bytes; write one row a line"
            raise SourceMalformed(message)
        end = start + len(whole)
        file.seek(max(0, end - _FINGERPRINT))
        after = _Place(identity, place.header, end, file.read(min(end, _FINGERPRINT)))
        lines = whole.decode("utf-8", "replace").split("\n")[:-1]
        return NewLines(place.header.decode("utf-8", "replace").rstrip("\r\n"), tuple(lines), tuple(remarks), after)

    def _valid_place(self, file: BinaryIO, identity: tuple[int, int], size: int) -> tuple[_Place | None, list[str]]:
        """Return where to go on, or ``None`` to begin anew; and why."""
        place = self._place
        if place is None:
            return None, []
        file.seek(max(0, place.offset - len(place.before)))
        if identity != place.identity:
            what = "is another file than before"
        elif size < place.offset:
            what = "is shorter than before"
        elif file.read(len(place.before)) != place.before:
            what = "does not hold the same as before"
        else:
            return place, []
        return None, [f"{self.path.name}: {what}; it is read from its beginning"]

    def _header(self, file: BinaryIO) -> bytes | None:
        """Return the first line with its end, or ``None`` if it is not wholly written."""
        file.seek(0)
        header = file.readline(LONGEST_HEADER)
        if header.endswith(b"\n"):
            return header
        if len(header) >= LONGEST_HEADER:
            message = f"{self.path.name}: the first line is too long; begin with a line like time,air_temperature[Cel]"
            raise SourceMalformed(message)
        return None
