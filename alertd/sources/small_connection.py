"""One connection of a small web server: bounded in time and size, and without a word about versions."""

from __future__ import annotations

import io
import logging
import socket
import time
from contextlib import suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from http import HTTPStatus

_logger = logging.getLogger(__name__)

#: [bytes] Most that is read of a request beside its body. Assumed.
_LARGEST_HEAD = 16 * 1024

#: After an answer, so much [bytes] of a request is still taken in for so long [s], so that the answer arrives
#: (RFC 9112, section 9.6, from memory). Assumed.
_LARGEST_REST, _LONGEST_REST = 1024 * 1024, 1.0


class Listener(ThreadingHTTPServer):
    """What a connection needs to know of its server.

    Attributes
    ----------
    deadline : float
        A connection is closed after this time [s], however busy it is.
    largest_body : int
        [bytes]
    """

    deadline: float
    largest_body: int


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


class SmallConnection(BaseHTTPRequestHandler):
    """One request of one connection."""

    server: Listener
    protocol_version = "HTTP/1.0"

    def setup(self) -> None:
        """Read and write with a deadline for the whole connection."""
        super().setup()
        self._deadline = time.monotonic() + self.server.deadline
        reader = DeadlineReader(self.connection, self._deadline, _LARGEST_HEAD + self.server.largest_body)
        self.rfile = io.BufferedReader(reader)

    def finish(self) -> None:
        """Close after what is still coming was taken in, so that the answer is not lost."""
        with suppress(OSError):
            self.connection.shutdown(socket.SHUT_WR)
            rest = DeadlineReader(self.connection, time.monotonic() + _LONGEST_REST, _LARGEST_REST)
            while rest.read(64 * 1024):
                pass
        super().finish()

    def write(self, status: HTTPStatus, body: bytes, content_type: str, headers: Mapping[str, str]) -> None:
        """Answer.

        Parameters
        ----------
        status : HTTPStatus
            Of the answer.
        body : bytes
            All of it.
        content_type : str
            What it is.
        headers : mapping of str to str
            Further ones.
        """
        self.connection.settimeout(max(self._deadline - time.monotonic(), 0.001))
        self.send_response(status)
        for name, value in {**headers, "Content-Type": content_type, "Content-Length": str(len(body))}.items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)

    def version_string(self) -> str:
        """Return a name that tells nothing of versions."""
        return "alertd"

    def log_message(self, format: str, *arguments: object) -> None:  # noqa: A002 - the name of the class above
        """Note requests where somebody looks for them; headers and bodies are never noted."""
        _logger.debug("%s: %s", self.client_address[0], format % arguments)
