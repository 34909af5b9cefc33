"""Reading the TOML file."""

from __future__ import annotations

import re
import tomllib
from hashlib import sha256
from typing import TYPE_CHECKING, Any, NoReturn

from alertd.core import ConfigurationError, Problem

if TYPE_CHECKING:
    from pathlib import Path

#: [bytes] A larger file is no configuration. Assumed.
LARGEST_FILE = 4 * 1024 * 1024

_TABLE_KEY = re.compile(r"\(.*\)", flags=re.DOTALL)
_INLINE_KEY = re.compile(r"key ['\"].*", flags=re.DOTALL)


def read_toml(path: Path) -> tuple[dict[str, Any], str]:
    """Return what a TOML file holds, and what marks this very content.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    dict
        Nested tables.
    str
        SHA-256 of the bytes that were read, 64 hexadecimal digits.

    Raises
    ------
    ConfigurationError
        If there is no such file, it is a directory, it cannot be read, or it is no TOML.
    """
    data = _content(path)
    return _parsed(path, _text(path, data)), sha256(data).hexdigest()


def _content(path: Path) -> bytes:
    where = str(path)
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        _refuse(where, "there is no such file", "write one with `alertd init`, or name another")
    except IsADirectoryError:
        _refuse(where, "is a directory", "name the configuration file in it")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name is not a path"
        _refuse(where, f"cannot be read ({reason})", "check its owner and permissions")
    if len(data) > LARGEST_FILE:
        _refuse(where, "is too large for a configuration", "name another file")
    return data


def _text(path: Path, data: bytes) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        _refuse(f"{path} line {line}", "is not UTF-8 text", "save the file as UTF-8")


def _parsed(path: Path, text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        what, line = _reason_and_line(str(error), text)
        mend = "compare the line with the examples; text needs double quotes"
        _refuse(f"{path} line {line}", f"is not valid TOML ({what})", mend)
    except (RecursionError, ValueError):
        _refuse(str(path), "is not valid TOML (a value is too deep or too long)", "shorten it")


def _reason_and_line(message: str, text: str) -> tuple[str, int]:
    """Split the parser's message into the reason, without values, and the line."""
    reason, _, position = message.rpartition(" (at ")
    words = position.rstrip(")").replace(",", "").split()
    line = int(words[1]) if words[:1] == ["line"] else text.count("\n") + 1
    return _reason(reason), line


def _reason(message: str) -> str:
    """Drop the keys that the parser quotes from the file; its other words are fixed."""
    without_keys = _TABLE_KEY.sub("a table", _INLINE_KEY.sub("key", message))
    return without_keys[:1].lower() + without_keys[1:]


def _refuse(where: str, what: str, mend: str) -> NoReturn:
    raise ConfigurationError([Problem(where, what, mend)]) from None
