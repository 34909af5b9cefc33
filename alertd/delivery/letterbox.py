"""Channels on this machine: the terminal and a directory of files."""

from __future__ import annotations

import os
import re
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from .verdict import Outcome, Phrase, Verdict, verdict_of_write_error

if TYPE_CHECKING:
    from typing import TextIO

    from alertd.messages import Letter

_NOT_IN_A_NAME = re.compile(r"[^A-Za-z0-9._-]+")
_ACCEPTED = Verdict(Outcome.ACCEPTED, Phrase.ACCEPTED)


def show_letter(letter: Letter, stream: TextIO) -> Verdict:
    """Write a letter to a terminal.

    Parameters
    ----------
    letter : Letter
        What to show.
    stream : file
        Where; characters that it cannot show are replaced.

    Returns
    -------
    Verdict
        Accepted when the stream took everything.
    """
    encoding = getattr(stream, "encoding", None) or "utf-8"
    text = _as_text(letter).encode(encoding, "replace").decode(encoding)
    try:
        stream.write(text)
        stream.flush()
    except OSError as error:
        return verdict_of_write_error(error)
    except ValueError:  # the stream is closed
        return Verdict(Outcome.UNAVAILABLE, Phrase.CANNOT_WRITE)
    return _ACCEPTED


def file_letter(letter: Letter, directory: Path) -> Verdict:
    """Put a letter into a directory as ``<reference>.txt`` and ``<reference>.html``.

    The directory is created when missing. Each file appears whole or not at all, is readable for its owner only,
    and survives a power cut once accepted. A letter that comes again replaces itself.

    Parameters
    ----------
    letter : Letter
        What to keep.
    directory : Path
        Where.

    Returns
    -------
    Verdict
        Accepted when both files are on the disk.
    """
    name = _NOT_IN_A_NAME.sub("-", letter.reference).lstrip(".") or "letter"
    try:
        directory.mkdir(mode=0o700, parents=True, exist_ok=True)
        _write_whole(directory / f"{name}.html", letter.html)
        _write_whole(directory / f"{name}.txt", _as_text(letter))
        _sync_directory(directory)
    except OSError as error:
        return verdict_of_write_error(error)
    except ValueError:  # a path or a text that no file can have
        return Verdict(Outcome.UNAVAILABLE, Phrase.CANNOT_WRITE)
    return _ACCEPTED


def _as_text(letter: Letter) -> str:
    return f"{letter.subject}\n\n{letter.text.rstrip()}\n"


def _write_whole(path: Path, text: str) -> None:
    descriptor, temporary = tempfile.mkstemp(prefix=".", suffix=".part", dir=path.parent)  # mode 0600
    try:
        with os.fdopen(descriptor, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise


def _sync_directory(directory: Path) -> None:
    descriptor = os.open(directory, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
