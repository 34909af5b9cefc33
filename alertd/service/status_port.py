"""A port at which other programs ask how the daemon fares: figures, and whether it is healthy."""

from __future__ import annotations

import logging
from http import HTTPStatus
from typing import TYPE_CHECKING

from alertd.core import AlertdError
from alertd.sources import Listener, ServerThread, SmallConnection, SmallServer

from .logs import error_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from alertd.watch import Health

_logger = logging.getLogger(__name__)

#: [s] Longest time of one connection. Assumed: an answer takes milliseconds.
_DEADLINE = 10.0

#: Connections at the same time. Assumed: one scraper, one health check, one person.
_MOST_CONNECTIONS = 8

_TEXT = "text/plain; charset=utf-8"


class StatusPort(ServerThread):
    """Answers ``GET /metrics`` and ``GET /healthy``.

    Parameters
    ----------
    address, port : str, int
        IP address of this machine; port 0 takes any free one.
    metrics : callable
        Makes text and content type of figures from what the reader accepts.
    health : callable
        Judges how the daemon fares.
    deadline : float
        [s] Longest time of one connection.
    """

    def __init__(
        self,
        address: str,
        port: int,
        metrics: Callable[[str], tuple[bytes, str]],
        health: Callable[[], Health],
        *,
        deadline: float = _DEADLINE,
    ) -> None:
        super().__init__("status port", lambda: _Server(address, port, metrics, health, deadline))


class _Questions(Listener):
    """What a connection asks of its server."""

    metrics: Callable[[str], tuple[bytes, str]]
    health: Callable[[], Health]


class _Server(SmallServer):
    def __init__(
        self,
        address: str,
        port: int,
        metrics: Callable[[str], tuple[bytes, str]],
        health: Callable[[], Health],
        deadline: float,
    ) -> None:
        self.metrics = metrics
        self.health = health
        super().__init__(
            address, port, _Connection, deadline=deadline, largest_body=0, most_connections=_MOST_CONNECTIONS
        )


class _Connection(SmallConnection):
    server: _Questions

    def do_GET(self) -> None:  # noqa: N802 - the name that the library calls
        """Answer a question."""
        path = self.path.partition("?")[0]
        try:
            if path == "/metrics":
                body, content_type = self.server.metrics(", ".join(self.headers.get_all("Accept", [])))
                self.write(HTTPStatus.OK, body, content_type, {})
            elif path == "/healthy":
                found = self.server.health()
                self._say(HTTPStatus.OK if found.is_healthy else HTTPStatus.SERVICE_UNAVAILABLE, found.line)
            else:
                self._say(HTTPStatus.NOT_FOUND, "there are only /metrics and /healthy")
        except AlertdError as error:
            _logger.error("status port: %s", error_text(error))  # noqa: TRY400 - one line
            self._say(HTTPStatus.SERVICE_UNAVAILABLE, "not healthy: the database cannot be read; see the log of alertd")

    def _say(self, status: HTTPStatus, line: str, headers: dict[str, str] | None = None) -> None:
        self.write(status, f"{line}\n".encode(), _TEXT, headers or {})

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """Answer what is no request for us, as the library finds it, in one line."""
        del message, explain
        status = HTTPStatus(code)
        if status is HTTPStatus.NOT_IMPLEMENTED:
            self._say(HTTPStatus.METHOD_NOT_ALLOWED, "only GET is understood", {"Allow": "GET"})
        else:
            self._say(status, status.phrase.lower())
