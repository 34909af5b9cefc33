"""One connection of a device that sends observations."""

from __future__ import annotations

import hmac
import io
import json
import logging
import math
import socket
import time
from contextlib import suppress
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING

from alertd.core import StoreError

from .push_body import Refused, observations_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from .keeping import KeepObservations
    from .push_settings import PushSettings
    from .rate import RateLimit

_logger = logging.getLogger(__name__)

#: Where observations are posted.
PATH = "/observations"

#: [bytes] Most that is read of a request beside its body. Assumed.
_LARGEST_HEAD = 16 * 1024

#: After an answer, so much [bytes] of a request is still taken in for so long [s], so that the answer arrives
#: (RFC 9112, section 9.6, from memory). Assumed.
_LARGEST_REST, _LONGEST_REST = 1024 * 1024, 1.0


class Listener(ThreadingHTTPServer):
    """What a connection needs to know of its server."""

    settings: PushSettings
    keep: KeepObservations
    clock: Callable[[], datetime]
    rate: RateLimit


class DeadlineReader(io.RawIOBase):
    """Reads a socket until an instant and no further than a number of bytes; then it seems to end."""

    def __init__(self, connection: socket.socket, deadline: float, budget: int) -> None:
        super().__init__()
        self._connection = connection
        self._deadline = deadline
        self._budget = budget

    def readable(self) -> bool:
        """Say that it can be read."""
        return True

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        """Fill a buffer with what has come, as far as it may.

        Parameters
        ----------
        buffer : memoryview
            Gets the bytes.

        Returns
        -------
        int
            How many; 0 at the end.

        Raises
        ------
        TimeoutError
            If nothing comes before the deadline.
        """
        length = min(len(buffer), self._budget)
        if not length:
            return 0
        left = self._deadline - time.monotonic()
        if left <= 0.0:
            raise TimeoutError
        self._connection.settimeout(left)
        count = self._connection.recv_into(memoryview(buffer)[:length])
        self._budget -= count
        return count


class Connection(BaseHTTPRequestHandler):
    """One request of one connection."""

    server: Listener
    protocol_version = "HTTP/1.0"

    def setup(self) -> None:
        """Read and write with a deadline for the whole connection."""
        super().setup()
        settings = self.server.settings
        self._deadline = time.monotonic() + settings.deadline
        reader = DeadlineReader(self.connection, self._deadline, _LARGEST_HEAD + settings.largest_body)
        self.rfile = io.BufferedReader(reader)

    def finish(self) -> None:
        """Close after what is still coming was taken in, so that the answer is not lost."""
        with suppress(OSError):
            self.connection.shutdown(socket.SHUT_WR)
            rest = DeadlineReader(self.connection, time.monotonic() + _LONGEST_REST, _LARGEST_REST)
            while rest.read(64 * 1024):
                pass
        super().finish()

    def do_POST(self) -> None:
        """Take observations."""
        if self.path != PATH:
            self._answer(HTTPStatus.NOT_FOUND, f"there is only {PATH}")
            return
        wait = self.server.rate.wait(self.client_address[0], time.monotonic())
        if wait > 0.0:
            seconds = str(math.ceil(wait))
            self._answer(HTTPStatus.TOO_MANY_REQUESTS, f"wait {seconds} s", {"Retry-After": seconds})
        elif not self._has_token():
            text = "the token is missing or wrong; send the header Authorization: Bearer TOKEN"
            self._answer(HTTPStatus.UNAUTHORIZED, text, {"WWW-Authenticate": "Bearer"})
        else:
            self._take(self.headers.get_all("Content-Length", []))

    def _has_token(self) -> bool:
        scheme, _, token = (self.headers.get("Authorization") or "").partition(" ")
        given = token.strip().encode("utf-8", "replace")
        return hmac.compare_digest(given, self.server.settings.token.encode()) and scheme.lower() == "bearer"

    def _take(self, lengths: list[str]) -> None:
        if len(lengths) != 1 or not (lengths[0].isascii() and lengths[0].isdigit()):
            self._answer(HTTPStatus.BAD_REQUEST, "send the body's length as Content-Length")
            return
        largest = self.server.settings.largest_body
        digits = lengths[0].lstrip("0")
        if len(digits) > len(str(largest)) or int(digits or "0") > largest:
            self._answer(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"send at most {largest} bytes at once")
            return
        length = int(digits or "0")
        body = self.rfile.read(length)
        if len(body) < length:
            self._answer(HTTPStatus.BAD_REQUEST, "the body is shorter than its Content-Length")
            return
        self._keep(body)

    def _keep(self, body: bytes) -> None:
        server = self.server
        now = server.clock()
        try:
            observations = observations_of(body, now, server.settings.stations)
            kept = server.keep(observations, now)
        except Refused as error:
            self._answer(HTTPStatus.BAD_REQUEST, str(error))
        except StoreError as error:
            _logger.error("observations are not kept: %s", error)  # noqa: TRY400 - the text says it all
            self._answer(HTTPStatus.SERVICE_UNAVAILABLE, "the observations cannot be kept now; send them again later")
        else:
            self._write(HTTPStatus.OK, {"received": len(observations), "new": kept}, {})

    def _answer(self, status: HTTPStatus, error: str, headers: dict[str, str] | None = None) -> None:
        self._write(status, {"error": error}, headers or {})

    def _write(self, status: HTTPStatus, document: dict[str, object], headers: dict[str, str]) -> None:
        body = json.dumps(document).encode() + b"\n"
        self.connection.settimeout(max(self._deadline - time.monotonic(), 0.001))
        self.send_response(status)
        for name, value in {**headers, "Content-Type": "application/json", "Content-Length": str(len(body))}.items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """Answer what is no request for us, as the class above finds it, in one line of JSON."""
        del message, explain
        status = HTTPStatus(code)
        if status is HTTPStatus.NOT_IMPLEMENTED:
            self._answer(HTTPStatus.METHOD_NOT_ALLOWED, f"only POST {PATH} is understood", {"Allow": "POST"})
        else:
            self._answer(status, status.phrase.lower())

    def version_string(self) -> str:
        """Return a name that tells nothing of versions."""
        return "alertd"

    def log_message(self, format: str, *arguments: object) -> None:  # noqa: A002 - the name of the class above
        """Note requests where somebody looks for them; headers and bodies are never noted."""
        _logger.debug("%s: %s", self.client_address[0], format % arguments)
