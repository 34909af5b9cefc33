"""A deadline that no server can stretch.

Time limits of HTTP libraries hold for each read, so a server that sends a byte a second keeps them waiting for ever.
Here a watchdog thread shuts the connection down when time is up; whatever waits for it, be it the TLS handshake, the
headers or the body, then ends at once. Connecting is bounded by the time that is left, shared by all addresses of a
host.

The look-up of a name cannot be interrupted: the system's resolver has its own limits (5 s for each name server and two
rounds, unless ``resolv.conf`` says otherwise; from memory). It therefore runs in a thread of its own, which is left
behind when time is up; while it still runs, the same name is not looked up again.
"""

from __future__ import annotations

import socket
import threading
import time
from contextlib import suppress
from typing import TYPE_CHECKING, Any, Self

if TYPE_CHECKING:
    from collections.abc import Iterable
    from types import TracebackType

#: Family, type, protocol, and address for ``connect``.
_Address = tuple[Any, ...]

_look_ups: set[tuple[str, int]] = set()
_look_ups_lock = threading.Lock()


class LookUpFailed(OSError):
    """A name has no address, or the resolver did not answer in time."""


class Deadline:
    """Time for one exchange, to be used in one ``with`` statement.

    Parameters
    ----------
    seconds : float
        [s] From the start of the ``with`` statement.
    """

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._end = time.monotonic() + seconds
        self._lock = threading.Lock()
        self._connection: socket.socket | None = None
        self._is_over = False
        self._timer = threading.Timer(seconds, self._cut)
        self._timer.daemon = True

    def __enter__(self) -> Self:
        """Start the watchdog."""
        self._end = time.monotonic() + self._seconds
        self._timer.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop the watchdog."""
        self._timer.cancel()
        self._timer.join()
        self._release()

    @property
    def is_over(self) -> bool:
        """Whether time is up."""
        return self._is_over or time.monotonic() >= self._end

    @property
    def left(self) -> float:
        """[s] Time that is left, not negative."""
        return max(self._end - time.monotonic(), 0.0)

    def connect(self, host: str, port: int, options: Iterable[tuple[Any, ...]] = ()) -> socket.socket:
        """Connect to a host, at the first of its addresses that answers.

        Parameters
        ----------
        host : str
            Name or address.
        port : int
            TCP port.
        options : iterable of tuple
            Arguments of ``setsockopt``.

        Returns
        -------
        socket.socket
            Connected, and shut down when time is up.

        Raises
        ------
        LookUpFailed
            If the name has no address.
        OSError
            If no address answers.
        TimeoutError
            If time is up.
        """
        failure: OSError = LookUpFailed(f"{host} has no address")
        for family, kind, protocol, _name, address in _look_up(host.strip("[]"), port, self.left):
            if self.is_over:
                raise TimeoutError
            connection = socket.socket(family, kind, protocol)
            try:
                for option in options:
                    connection.setsockopt(*option)
                connection.settimeout(max(self.left, 0.001))
                connection.connect(address)
                self._watch(connection)
            except OSError as error:
                connection.close()
                failure = error
            else:
                return connection
        raise failure

    def _watch(self, connection: socket.socket) -> None:
        """Shut this connection down when time is up."""
        self._release()
        with self._lock:
            if self._is_over:
                raise TimeoutError
            # A duplicate stays valid when TLS takes the connection over.
            self._connection = connection.dup()

    def _cut(self) -> None:
        with self._lock:
            self._is_over = True
            if self._connection is not None:
                with suppress(OSError):
                    self._connection.shutdown(socket.SHUT_RDWR)

    def _release(self) -> None:
        with self._lock:
            if self._connection is not None:
                self._connection.close()
                self._connection = None


def _look_up(host: str, port: int, seconds: float) -> list[_Address]:
    """Return the addresses of a host, or fail when time is up."""
    asked = (host, port)
    with _look_ups_lock:
        if asked in _look_ups:
            message = f"the look-up of {host} still runs"
            raise LookUpFailed(message)
        _look_ups.add(asked)
    found: list[_Address] = []
    failures: list[OSError] = []

    def look_up() -> None:
        try:
            found.extend(socket.getaddrinfo(host, port, type=socket.SOCK_STREAM))
        except (OSError, UnicodeError) as error:
            failures.append(LookUpFailed(str(error)))
        finally:
            with _look_ups_lock:
                _look_ups.discard(asked)

    thread = threading.Thread(target=look_up, daemon=True, name="look-up")
    thread.start()
    thread.join(seconds)
    if thread.is_alive():
        message = f"the look-up of {host} took too long"
        raise LookUpFailed(message)
    if failures:
        raise failures[0]
    return found
