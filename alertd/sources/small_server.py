"""A small web server in a thread of its own: few connections, each with a deadline, all cut off when it stops."""

from __future__ import annotations

import logging
import socket
import socketserver
import threading
from contextlib import suppress
from typing import TYPE_CHECKING, Self

from .small_connection import Listener

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import TracebackType

    from .small_connection import SmallConnection

_logger = logging.getLogger(__name__)

#: [s] How long a stop waits for connections that were cut off. Assumed: they end within milliseconds, unless the
#: answer waits for something of ours that hangs.
_STOP_PATIENCE = 1.0


class SmallServer(Listener):
    """Listens at one address.

    Parameters
    ----------
    address, port : str, int
        IP address of this machine; port 0 takes any free one.
    connection : type of SmallConnection
        Answers requests.
    deadline : float
        A connection is closed after this time [s], however busy it is.
    largest_body : int
        [bytes] Of a request.
    most_connections : int
        At the same time; more are closed at once.

    Raises
    ------
    OSError
        If the address or port cannot be had.
    """

    daemon_threads = False
    block_on_close = False  # server_close would wait for ever for a connection that waits for a hung disk
    request_queue_size = 16
    allow_reuse_port = False  # a port that is taken must be told, not shared

    def __init__(
        self,
        address: str,
        port: int,
        connection: type[SmallConnection],
        *,
        deadline: float,
        largest_body: int,
        most_connections: int,
    ) -> None:
        self.deadline = deadline
        self.largest_body = largest_body
        self._address = address
        self._free = threading.BoundedSemaphore(most_connections)
        self._changed = threading.Condition()
        self._open: set[socket.socket] = set()
        self.address_family = socket.AF_INET6 if ":" in address else socket.AF_INET
        super().__init__((address, port), connection)

    def server_bind(self) -> None:
        """Bind without asking the network for this machine's name, as the class above would."""
        socketserver.TCPServer.server_bind(self)
        self.server_name, self.server_port = self._address, int(self.server_address[1])

    def process_request(self, request: socket.socket, client_address: tuple[str, int]) -> None:  # type: ignore[override]
        """Begin a thread for a connection, unless there are too many."""
        if not self._free.acquire(blocking=False):
            _logger.warning("a connection from %s is closed: too many at once", client_address[0])
            self.shutdown_request(request)
            return
        with self._changed:
            self._open.add(request)
        super().process_request(request, client_address)

    def shutdown_request(self, request: socket.socket) -> None:  # type: ignore[override]
        """Close a connection, however it ended, and make room for another."""
        with self._changed:
            if request in self._open:
                self._open.discard(request)
                self._free.release()
                self._changed.notify_all()
        super().shutdown_request(request)

    def cut_off(self) -> None:
        """Let all connections end now, and wait a moment until they have."""
        with self._changed:
            for request in self._open:
                with suppress(OSError):
                    request.shutdown(socket.SHUT_RD)
            self._changed.wait_for(lambda: not self._open, _STOP_PATIENCE)

    def handle_error(self, request: object, client_address: tuple[str, int]) -> None:
        """Note that a connection broke; there is no one to tell."""
        del request
        _logger.info("a connection from %s broke off", client_address[0])


class ServerThread:
    """Runs a small server in a thread while it is used in a ``with`` statement, or from `start` to `stop`.

    Parameters
    ----------
    name : str
        Of the thread.
    make : callable
        Makes the server; raises OSError if the address or port cannot be had.
    """

    def __init__(self, name: str, make: Callable[[], SmallServer]) -> None:
        self._name = name
        self._make = make
        self._server: SmallServer | None = None
        self._thread: threading.Thread | None = None

    @property
    def port(self) -> int:
        """The port on which it listens; 0 while it does not."""
        return 0 if self._server is None else int(self._server.server_address[1])

    def start(self) -> None:
        """Listen, in a thread of its own.

        Raises
        ------
        OSError
            If the address or port cannot be had.
        """
        self._server = self._make()
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.1,), name=self._name)
        self._thread.start()

    def stop(self) -> None:
        """Stop listening; requests under way are cut off. Stopping twice is fine."""
        if self._server is None or self._thread is None:
            return
        self._server.shutdown()
        self._thread.join()
        self._server.cut_off()
        self._server.server_close()
        self._server = self._thread = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()
