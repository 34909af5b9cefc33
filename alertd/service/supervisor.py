"""What the daemon tells the service manager that started it: the datagrams of systemd's notification protocol.

::

    READY=1                           it watches
    STATUS=Watching 6 groups, ...     one line for people
    RELOADING=1, MONOTONIC_USEC=...   it reads its configuration anew; READY=1 ends that
    WATCHDOG=1                        it is well
    STOPPING=1                        it ends

The protocol is a datagram of lines, sent to the socket that the environment names. Source: manual pages sd_notify(3)
and sd_watchdog_enabled(3) of systemd 252, seen.
"""

from __future__ import annotations

import logging
import re
import socket
import time
from datetime import timedelta
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from collections.abc import Mapping

_logger = logging.getLogger(__name__)

_NOT_ON_ONE_LINE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]+")

#: [s] Longest wait for a manager that is busy. Assumed.
_PATIENCE = 0.2

#: [characters] Longest status line; a longer one is cut. Assumed.
LONGEST_STATUS = 400


class Supervisor:
    """The service manager, as far as it wants to hear anything.

    A manager that does not listen holds nobody up, and is logged once.

    Parameters
    ----------
    address : str or None
        Path of a datagram socket, or a name after ``@`` in the abstract namespace; ``None`` if nobody listens.
    watchdog : timedelta or None
        The longest silence before the manager ends the daemon; ``None`` if it does not watch.
    """

    def __init__(self, address: str | None = None, watchdog: timedelta | None = None) -> None:
        self._address = address
        self._status = ""
        self._is_deaf = False
        self.watchdog = watchdog if address else None

    @classmethod
    def from_environment(cls, environ: Mapping[str, str], process_id: int) -> Self:
        """Return the service manager that an environment names.

        Parameters
        ----------
        environ : mapping of str to str
            ``NOTIFY_SOCKET``, ``WATCHDOG_USEC`` and ``WATCHDOG_PID`` count.
        process_id : int
            Of the daemon; a watchdog that is meant for another process is none.

        Returns
        -------
        Supervisor
            One that hears nothing where the environment names none, or one of an unknown kind.
        """
        address = environ.get("NOTIFY_SOCKET", "")
        if address and not (address.startswith(("/", "@")) and len(address) > 1):
            _logger.warning("NOTIFY_SOCKET: names no path and no abstract address; nothing is told to it")
            address = ""
        return cls(address or None, _watchdog(environ, process_id))

    def ready(self, status: str) -> None:
        """Say that the daemon watches, at the start and after its configuration was read anew.

        Parameters
        ----------
        status : str
            One line for people.
        """
        self._status = status if self._tell("READY=1", f"STATUS={_one_line(status)}") else ""

    def status(self, text: str) -> None:
        """Say how things stand; the same line twice is sent once.

        Parameters
        ----------
        text : str
            One line for people.
        """
        if text != self._status and self._tell(f"STATUS={_one_line(text)}"):
            self._status = text

    def reloading(self) -> None:
        """Say that the configuration is read anew, until `ready`."""
        now = time.clock_gettime_ns(time.CLOCK_MONOTONIC) // 1000
        self._tell("RELOADING=1", f"MONOTONIC_USEC={now}")

    def stopping(self) -> None:
        """Say that the daemon ends."""
        self._tell("STOPPING=1", "STATUS=Stopping")

    def alive(self) -> bool:
        """Say that the daemon is well; return whether the manager has taken it."""
        return self._tell("WATCHDOG=1")

    def _tell(self, *assignments: str) -> bool:
        if self._address is None:
            return False
        name = f"\0{self._address[1:]}" if self._address.startswith("@") else self._address
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as sender:
                sender.settimeout(_PATIENCE)
                sender.sendto("\n".join(assignments).encode(), name)
        except OSError as error:
            if not self._is_deaf:
                _logger.warning("the service manager cannot be told %s: %s", assignments[0], error.strerror or error)
            self._is_deaf = True
            return False
        self._is_deaf = False
        return True


def _watchdog(environ: Mapping[str, str], process_id: int) -> timedelta | None:
    """Return the longest silence that is allowed to this process."""
    wanted, meant = environ.get("WATCHDOG_USEC", ""), environ.get("WATCHDOG_PID", "")
    if not wanted or (meant and meant != str(process_id)):
        return None
    try:
        silence = timedelta(microseconds=int(wanted))
    except (ValueError, OverflowError):
        silence = timedelta(0)
    if silence <= timedelta(0):
        _logger.warning("WATCHDOG_USEC: is no number of microseconds; the watchdog is left alone")
        return None
    return silence


def _one_line(text: str) -> str:
    return _NOT_ON_ONE_LINE.sub(" ", text).strip()[:LONGEST_STATUS]
