"""The daemon's log: one line for each record, on standard error."""

from __future__ import annotations

import json
import logging
import re
import sys
import traceback
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from alertd.core import AlertdError, instant_text

if TYPE_CHECKING:
    from typing import TextIO

_ROOT = "alertd"
_NOT_ON_ONE_LINE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]+")
_NEEDS_NO_QUOTES = re.compile(r"[^\s\"=]+")

#: Libraries whose own lines may hold tracebacks, or addresses with keys in them; what matters we say ourselves.
_SILENCED = ("apscheduler", "apprise", "requests", "urllib3")


class LineFormatter(logging.Formatter):
    r"""RFC 3339 time in UTC, level, message: always one line, never a traceback.

    Examples
    --------
    >>> record = logging.LogRecord("alertd", logging.INFO, "", 0, "two\nlines", None, None)
    >>> record.created = 0.0
    >>> LineFormatter().format(record)
    '1970-01-01T00:00:00Z INFO two lines'
    """

    def format(self, record: logging.LogRecord) -> str:
        """Return a record as one line.

        Parameters
        ----------
        record : logging.LogRecord
            Any; line breaks and control characters become blanks.

        Returns
        -------
        str
            The line, without its end.
        """
        when = instant_text(datetime.fromtimestamp(record.created, tz=UTC))
        message = _NOT_ON_ONE_LINE.sub(" ", record.getMessage()).strip()
        return f"{when} {record.levelname} {message}"


def configure_logging(stream: TextIO | None = None, level: int = logging.INFO) -> None:
    """Send all log lines of alertd to a stream, and keep those of libraries away.

    Parameters
    ----------
    stream : file, optional
        Standard error by default.
    level : int
        The least level that is written.
    """
    handler = logging.StreamHandler(sys.stderr if stream is None else stream)
    handler.setFormatter(LineFormatter())
    logger = logging.getLogger(_ROOT)
    logger.handlers[:] = [handler]
    logger.setLevel(level)
    logger.propagate = False
    for name in _SILENCED:
        library = logging.getLogger(name)
        library.handlers[:] = [logging.NullHandler()]
        library.propagate = False


def key_values(**facts: object) -> str:
    r"""Return facts as text that people can read and programs can take apart.

    Parameters
    ----------
    **facts : object
        Names and values.

    Returns
    -------
    str
        ``key=value``, separated by blanks; a value that is empty or has blanks or quotes in it is a JSON string.

    Examples
    --------
    >>> key_values(letters=2, refused="weather file", blind="")
    'letters=2 refused="weather file" blind=""'
    """
    return " ".join(f"{name}={_quoted(str(value))}" for name, value in facts.items())


def _quoted(text: str) -> str:
    return text if _NEEDS_NO_QUOTES.fullmatch(text) else json.dumps(text, ensure_ascii=False)


def error_text(error: BaseException) -> str:
    """Return an error for the log.

    Parameters
    ----------
    error : BaseException
        As caught.

    Returns
    -------
    str
        The class, and the text if it was written for people. Other texts may hold anything, so for those errors
        the place in the code stands instead.
    """
    name = type(error).__name__
    if isinstance(error, AlertdError):
        return f"{name}: {error}"
    places = [
        f"{frame.f_globals.get('__name__', '?')} line {line}" for frame, line in traceback.walk_tb(error.__traceback__)
    ]
    return f"{name} in {places[-1]}" if places else name
