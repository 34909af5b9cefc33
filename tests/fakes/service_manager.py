"""A service manager that listens: a real datagram socket, as systemd gives one."""

from __future__ import annotations

import socket
import threading
from typing import Self


class ServiceManager:
    """Keeps every message that arrives at an address, as a list of lines each."""

    def __init__(self, address: str) -> None:
        self.address = address
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(f"\0{address[1:]}" if address.startswith("@") else address)
        self._messages: list[list[str]] = []
        self._lock = threading.Lock()

    @property
    def messages(self) -> list[list[str]]:
        with self._lock:
            while True:
                try:
                    data = self._socket.recv(65536, socket.MSG_DONTWAIT)
                except BlockingIOError:
                    return list(self._messages)
                self._messages.append(data.decode().split("\n"))

    @property
    def lines(self) -> list[str]:
        return [line for message in self.messages for line in message]

    @property
    def status(self) -> str:
        """The last status."""
        found = [line for line in self.lines if line.startswith("STATUS=")]
        return found[-1].removeprefix("STATUS=") if found else ""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self._socket.close()
