"""What became of one try to send, in a fixed vocabulary.

Logs of services and answers of servers may quote passwords, paths and whole letters. So a reason is never free
text: it is one phrase of :class:`Phrase` and, where there is one, the number that the server gave.
"""

from __future__ import annotations

import errno
import smtplib
import socket
import ssl
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from enum import StrEnum
from typing import TYPE_CHECKING

import requests

if TYPE_CHECKING:
    from collections.abc import Iterator


class Outcome(StrEnum):
    """What is known after one try.

    ``ACCEPTED``: the channel took the letter. ``REFUSED``: it will never take it. ``UNAVAILABLE``: it did not take
    it, later it may. ``UNKNOWN``: nobody can tell whether it took it. ``EXPIRED``: it was not asked, because the letter
    had become too old to be of use.
    """

    ACCEPTED = "accepted"
    REFUSED = "refused"
    UNAVAILABLE = "unavailable"
    UNKNOWN = "unknown"
    EXPIRED = "expired"


class Phrase(StrEnum):
    """Every reason that can be given."""

    ACCEPTED = "accepted by the channel"
    SMTP = "SMTP"
    HTTP = "HTTP"
    CONNECTION_REFUSED = "connection refused"
    CONNECTION_LOST = "connection lost"
    HOST_NOT_FOUND = "host name not found"
    HOST_UNREACHABLE = "host not reachable"
    CERTIFICATE = "certificate not trusted"
    ENCRYPTION = "no encrypted connection"
    LOGIN = "user or password not accepted"
    TIMED_OUT = "timed out"
    DEADLINE = "no answer before the deadline"
    STOPPED = "stopped while sending"
    NO_ANSWER = "the sending process ended without an answer"
    NOT_UNDERSTOOD = "address not understood"
    SERVICE_FAILED = "the service reported a failure"
    NO_SPACE = "no space left on the disk"
    NO_PERMISSION = "no permission to write"
    CANNOT_WRITE = "cannot write"
    NO_PROCESS = "the sending process cannot be started"
    OWN_FAULT = "a fault of alertd itself"
    NO_CHANNEL = "no such channel in the configuration"
    TOO_OLD = "too old to be of use"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What became of one try to send.

    Parameters
    ----------
    outcome : Outcome
        What is known.
    phrase : Phrase
        Why.
    code : int or None
        Reply code of SMTP or HTTP.
    retry_after : float or None
        After how many seconds the server wants to be asked again [s].
    """

    outcome: Outcome
    phrase: Phrase
    code: int | None = None
    retry_after: float | None = None

    @property
    def reason(self) -> str:
        """The reason in words, like ``SMTP 550``."""
        return self.phrase.value if self.code is None else f"{self.phrase.value} {self.code}"


#: HTTP codes below 500 that ask for another try: Request Timeout, Too Early, Too Many Requests
#: (RFC 9110 section 15.5.9, RFC 8470, RFC 6585; from memory).
_HTTP_TEMPORARY = frozenset({408, 425, 429})
_HTTP_SERVER_ERROR = 500

#: SMTP replies from 500 on are permanent (RFC 5321 section 4.2.1, from memory).
_SMTP_PERMANENT = 500

#: Functions of the standard library's SMTP client after whose start the server may have the letter.
_IN_TRANSIT = frozenset({"data"})

#: Failures that come before anything of the letter has left.
_BEFORE_SENDING: tuple[tuple[tuple[type[BaseException], ...], Phrase], ...] = (
    ((ssl.SSLCertVerificationError,), Phrase.CERTIFICATE),
    ((socket.gaierror,), Phrase.HOST_NOT_FOUND),
    ((ConnectionRefusedError,), Phrase.CONNECTION_REFUSED),
    ((smtplib.SMTPNotSupportedError,), Phrase.ENCRYPTION),
)

#: Failures of HTTP that come before the request is written, as far as can be told.
_BEFORE_THE_REQUEST = (requests.ConnectTimeout, requests.exceptions.ProxyError, requests.exceptions.SSLError)

#: Failures that may come before or after, the first that fits first.
_WHILE_SENDING: tuple[tuple[tuple[type[BaseException], ...], Phrase], ...] = (
    ((TimeoutError, requests.Timeout), Phrase.TIMED_OUT),
    ((ssl.SSLError, requests.exceptions.SSLError), Phrase.ENCRYPTION),
    (
        (smtplib.SMTPServerDisconnected, ConnectionResetError, BrokenPipeError, requests.exceptions.ConnectionError),
        Phrase.CONNECTION_LOST,
    ),
)

_ERRNO_UNREACHABLE = frozenset({errno.EHOSTUNREACH, errno.ENETUNREACH, errno.EHOSTDOWN, errno.ENETDOWN})
_ERRNO_NO_SPACE = frozenset({errno.ENOSPC, errno.EDQUOT})
_ERRNO_NO_PERMISSION = frozenset({errno.EACCES, errno.EPERM, errno.EROFS})


def verdict_of_http(status: int, retry_after: str | None, now: datetime) -> Verdict:
    """Return what an HTTP answer that is no success means.

    Parameters
    ----------
    status : int
        Outside 200 to 299.
    retry_after : str or None
        Value of the ``Retry-After`` field: seconds or an HTTP date.
    now : datetime
        Aware.

    Returns
    -------
    Verdict
        Redirections are refused: a POST would become an empty GET.
    """
    if status in _HTTP_TEMPORARY or status >= _HTTP_SERVER_ERROR:
        return Verdict(Outcome.UNAVAILABLE, Phrase.HTTP, status, retry_after_seconds(retry_after, now))
    return Verdict(Outcome.REFUSED, Phrase.HTTP, status)


def retry_after_seconds(value: str | None, now: datetime) -> float | None:
    """Return the seconds that a ``Retry-After`` field asks for.

    Parameters
    ----------
    value : str or None
        Seconds or an HTTP date.
    now : datetime
        Aware.

    Returns
    -------
    float or None
        Not negative [s]; None if there is no field or it cannot be read.
    """
    if value is None:
        return None
    text = value.strip()
    if text.isascii() and text.isdigit():
        return float(text)
    try:
        moment = parsedate_to_datetime(text)
    except ValueError:
        return None
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    return max(0.0, (moment - now).total_seconds())


def verdict_of_smtp(code: int) -> Verdict:
    """Return what an SMTP reply that is no success means.

    Parameters
    ----------
    code : int
        Reply code. -1 stands for a connection that broke.

    Returns
    -------
    Verdict
        Refused from 500 on, else unavailable.
    """
    if code < 0:
        return Verdict(Outcome.UNKNOWN, Phrase.CONNECTION_LOST)
    outcome = Outcome.REFUSED if code >= _SMTP_PERMANENT else Outcome.UNAVAILABLE
    return Verdict(outcome, Phrase.SMTP, code)


def verdict_of_error(error: BaseException) -> Verdict:
    """Return what an exception of a send means.

    Parameters
    ----------
    error : BaseException
        As raised; its causes are looked at too.

    Returns
    -------
    Verdict
        Unknown where the letter may have left before the failure, refused where an SMTP reply is permanent, else
        unavailable.
    """
    chain = tuple(_causes(error))
    for cause in chain:
        code = _smtp_code(cause)
        if code is not None:
            return verdict_of_smtp(code)
    phrase = _first_phrase(chain, _BEFORE_SENDING)
    if phrase is None and any(isinstance(cause, OSError) and cause.errno in _ERRNO_UNREACHABLE for cause in chain):
        phrase = Phrase.HOST_UNREACHABLE
    if phrase is not None:
        return Verdict(Outcome.UNAVAILABLE, phrase)
    outcome = Outcome.UNKNOWN if any(_may_have_left(cause) for cause in chain) else Outcome.UNAVAILABLE
    return Verdict(outcome, _first_phrase(chain, _WHILE_SENDING) or Phrase.SERVICE_FAILED)


def verdict_of_write_error(error: OSError) -> Verdict:
    """Return what a failure to write a file or to a terminal means.

    Parameters
    ----------
    error : OSError
        As raised.

    Returns
    -------
    Verdict
        Unavailable: disks are cleared and permissions mended.
    """
    if error.errno in _ERRNO_NO_SPACE:
        return Verdict(Outcome.UNAVAILABLE, Phrase.NO_SPACE)
    if error.errno in _ERRNO_NO_PERMISSION:
        return Verdict(Outcome.UNAVAILABLE, Phrase.NO_PERMISSION)
    return Verdict(Outcome.UNAVAILABLE, Phrase.CANNOT_WRITE)


def _first_phrase(
    chain: tuple[BaseException, ...], table: tuple[tuple[tuple[type[BaseException], ...], Phrase], ...]
) -> Phrase | None:
    for kinds, phrase in table:
        if any(isinstance(cause, kinds) for cause in chain):
            return phrase
    return None


def _causes(error: BaseException) -> Iterator[BaseException]:
    seen: set[int] = set()
    current: BaseException | None = error
    while current is not None and id(current) not in seen:
        seen.add(id(current))
        yield current
        current = current.__cause__ or current.__context__


def _smtp_code(error: BaseException) -> int | None:
    if isinstance(error, smtplib.SMTPResponseException):
        return error.smtp_code
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return max((code for code, _answer in error.recipients.values()), default=None)
    return None


def _may_have_left(error: BaseException) -> bool:
    if isinstance(error, requests.RequestException):
        return not isinstance(error, _BEFORE_THE_REQUEST)
    trace = error.__traceback__
    while trace is not None:
        if trace.tb_frame.f_code.co_name in _IN_TRANSIT:
            return True
        trace = trace.tb_next
    return False
