"""All by which the daemon tells of itself: log lines and notes of cycles, figures."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from alertd.watch import health, note_trouble

from .cycle import Cycles
from .metrics import Metrics
from .record_counts import RecordCounts
from .status_port import StatusPort

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from alertd.config import Loaded
    from alertd.store import Store

    from .jobs import Jobs

_logger = logging.getLogger(__name__)


class Reporting:
    """Tells how the daemon fares, to the log, the database, and whoever asks.

    Parameters
    ----------
    loaded : Loaded
        The configuration.
    store : Store
        Of the site.
    jobs : Jobs
        Whose rounds are counted.
    clock : callable
        Returns the present as aware UTC.
    """

    def __init__(self, loaded: Loaded, store: Store, jobs: Jobs, clock: Callable[[], datetime]) -> None:
        self._store = store
        self._clock = clock
        every, counts = loaded.polling.every, RecordCounts(store)
        self.cycles = Cycles(store, loaded.garden.site, every, counts)
        channels = [channel.name for channel in loaded.channels]
        metrics = Metrics(store, every, self.cycles, counts, jobs.tally, channels, clock)
        self._listen = loaded.status.listen
        self._port = None
        if self._listen is not None:
            self._port = StatusPort(*self._listen, metrics.text, lambda: health(store, every, clock()))

    @property
    def port(self) -> int | None:
        """The port at which it can be asked, if any."""
        return None if self._port is None else self._port.port

    def start(self) -> None:
        """Let others ask. An address that cannot be had is logged and noted: the watch goes on without."""
        trouble = ""
        if self._port is not None and self._listen is not None:
            try:
                self._port.start()
            except OSError as error:
                place = "{}:{}".format(*self._listen)
                trouble = f"cannot listen at {place} ({error.strerror}); choose another status.listen"
                _logger.error("status port: %s", trouble)  # noqa: TRY400 - one line
            else:
                _logger.info("status port: figures at http://%s:%d/metrics", self._listen[0], self._port.port)
        note_trouble(self._store, "status port", trouble, self._clock())

    def stop(self) -> None:
        """Answer no more."""
        if self._port is not None:
            self._port.stop()
