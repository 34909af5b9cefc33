"""A small web server on the local network that takes observations from devices."""

from __future__ import annotations

from typing import TYPE_CHECKING

from alertd.sources.small_server import ServerThread, SmallServer

from .push_connection import Connection
from .rate import RateLimit

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from .keeping import KeepObservations
    from .push_settings import PushSettings


class ThermometerServer(ServerThread):
    """Takes ``POST /observations`` with JSON and a token, and keeps what it gets.

    Parameters
    ----------
    settings : PushSettings
        How.
    keep : KeepObservations
        Where to; called from several threads.
    clock : callable
        Returns the time, aware UTC.
    """

    def __init__(self, settings: PushSettings, keep: KeepObservations, clock: Callable[[], datetime]) -> None:
        super().__init__("thermometers", lambda: _Server(settings, keep, clock))


class _Server(SmallServer):
    def __init__(self, settings: PushSettings, keep: KeepObservations, clock: Callable[[], datetime]) -> None:
        self.settings = settings
        self.keep = keep
        self.clock = clock
        self.rate = RateLimit(settings.requests, settings.period)
        super().__init__(
            settings.address,
            settings.port,
            Connection,
            deadline=settings.deadline,
            largest_body=settings.largest_body,
            most_connections=settings.most_connections,
        )
