"""One exchange with a service: ask, perhaps twice, and tell what the answer means for the next time.

A second try follows at once, after 1 to 3 s, when a server answers 500, 502 or 504 or loses the connection: such
errors are often gone a moment later (the US service's documentation says so), and a whole backoff would be lost. It
must fit in the same deadline, so a call is never longer; a slow answer gets none.
"""

from __future__ import annotations

import http
import logging
import re
import time
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, NamedTuple

from requests.structures import CaseInsensitiveDict

from alertd.core import Answer

from .politeness import FetchSettings, expiry, retry_after
from .reasons import reason_of
from .transport import Reply, Transport, TransportFailure

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from .request import Request

_logger = logging.getLogger(__name__)

#: [s] Shortest and longest pause before the second try. Assumed.
_SECOND_TRY = (1.0, 3.0)

#: [s] What must be left of the deadline for a second try. Assumed: good answers take less.
_LEFT_FOR_SECOND_TRY = 2.0

_WORTH_A_SECOND_TRY = (500, 502, 504)

#: What may stand in a header that is sent back to where it came from.
_VISIBLE = re.compile(r"[\x21-\x7e](?:[\x20-\x7e]*[\x21-\x7e])?")


class Failure(NamedTuple):
    """Why there is no new answer, and whom to leave alone for at least how long."""

    reason: str
    pause: timedelta = timedelta(0)
    holds_host: bool = False
    is_malformed: bool = False


class Exchange:
    """Performs exchanges for a fetcher.

    Parameters
    ----------
    user_agent : str
        Printable ASCII.
    settings : FetchSettings
        Limits.
    transport : Transport
        What performs each GET.
    spend : callable
        Counts a second try; returns why it may not be made, or ``""``.
    uniform : callable
        Draws evenly between two numbers.
    sleep : callable
        Waits before a second try [s].

    Raises
    ------
    ValueError
        If `user_agent` is empty or cannot stand in a header.
    """

    def __init__(
        self,
        user_agent: str,
        settings: FetchSettings,
        transport: Transport,
        *,
        spend: Callable[[Request, datetime], str],
        uniform: Callable[[float, float], float],
        sleep: Callable[[float], None],
    ) -> None:
        if _VISIBLE.fullmatch(user_agent) is None:
            message = f"the user agent {user_agent!r} must be printable ASCII"
            raise ValueError(message)
        self._user_agent = user_agent
        self._settings = settings
        self._transport = transport
        self._spend = spend
        self._uniform = uniform
        self._sleep = sleep
        self._told: set[str] = set()

    def ask(self, request: Request, stored: Answer | None, now: datetime) -> Answer | Failure:
        """Ask.

        Parameters
        ----------
        request : Request
            What to ask.
        stored : Answer or None
            The answer that is held: only a newer version is asked for.
        now : datetime
            Aware, UTC.

        Returns
        -------
        Answer or Failure
            A new answer, or the stored one if the service confirms it; or why there is none.
        """
        try:
            reply = self._reply(request, stored, now)
        except TransportFailure as error:
            return Failure(f"{request.host} {error.reason}")
        if reply.status in {http.HTTPStatus.OK, http.HTTPStatus.NON_AUTHORITATIVE_INFORMATION}:
            return self._answer(request, reply, now)
        if reply.status == http.HTTPStatus.NOT_MODIFIED and stored is not None:
            return _confirmed(stored, reply, now)
        return self._failure(request, reply, now)

    def _reply(self, request: Request, stored: Answer | None, now: datetime) -> Reply:
        """Ask, and once more if that may help and time allows."""
        end = time.monotonic() + self._settings.deadline.total_seconds()
        headers = self._headers(request, stored)
        try:
            reply = self._transport.get(request.full_url, headers, self._settings.deadline.total_seconds())
        except TransportFailure as error:
            if not error.is_lost or not self._waited_for_second_try(request, now, end):
                raise
        else:
            is_final = reply.status not in _WORTH_A_SECOND_TRY or "Retry-After" in reply.headers
            if is_final or not self._waited_for_second_try(request, now, end):
                return reply
        return self._transport.get(request.full_url, headers, end - time.monotonic())

    def _waited_for_second_try(self, request: Request, now: datetime, end: float) -> bool:
        pause = self._uniform(*_SECOND_TRY)
        if time.monotonic() + pause + _LEFT_FOR_SECOND_TRY > end or self._spend(request, now):
            return False
        self._sleep(pause)
        return True

    def _headers(self, request: Request, stored: Answer | None) -> CaseInsensitiveDict[str]:
        headers = CaseInsensitiveDict({"User-Agent": self._user_agent, "Accept": "*/*"})
        headers.update(request.headers)
        if stored is not None and stored.etag is not None:
            headers["If-None-Match"] = stored.etag
        if stored is not None and stored.last_modified is not None:
            headers["If-Modified-Since"] = stored.last_modified
        return headers

    def _answer(self, request: Request, reply: Reply, now: datetime) -> Answer:
        if reply.status == http.HTTPStatus.NON_AUTHORITATIVE_INFORMATION and request.host not in self._told:
            self._told.add(request.host)
            _logger.warning(
                "%s answers 203: this version of the service is a trial or will end; look for a newer alertd",
                request.host,
            )
        return Answer(
            request.shown_url,
            reply.status,
            reply.body,
            now,
            expiry(reply.headers, now),
            _sendable(reply.headers.get("ETag")),
            _sendable(reply.headers.get("Last-Modified")),
            reply.headers.get("Content-Type", ""),
        )

    def _failure(self, request: Request, reply: Reply, now: datetime) -> Failure:
        """Return what a failing status means."""
        reason = reason_of(request, reply)
        if reply.status == http.HTTPStatus.FORBIDDEN:
            return Failure(reason, self._settings.forbidden_pause)
        pause = retry_after(reply.headers.get("Retry-After"), now, self._settings.longest_retry_after)
        if pause is None and request.held_until is not None:
            until = request.held_until(reply.status, reply.body, now)
            pause = None if until is None else until - now
        holds_host = reply.status == http.HTTPStatus.TOO_MANY_REQUESTS or (
            reply.status == http.HTTPStatus.SERVICE_UNAVAILABLE and pause is not None
        )
        return Failure(reason, pause or timedelta(0), holds_host=holds_host)


def _confirmed(stored: Answer, reply: Reply, now: datetime) -> Answer:
    return replace(
        stored,
        retrieved=now,
        expires=expiry(reply.headers, now),
        etag=_sendable(reply.headers.get("ETag")) or stored.etag,
        last_modified=_sendable(reply.headers.get("Last-Modified")) or stored.last_modified,
    )


def _sendable(text: str | None) -> str | None:
    """Return a header as it came, if it can be sent back."""
    return text if text is not None and _VISIBLE.fullmatch(text) else None
