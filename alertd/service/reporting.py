"""All by which the daemon tells of itself: log lines and notes of cycles, figures, heartbeat, Test messages."""

from __future__ import annotations

import logging
from collections import Counter
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd import __version__
from alertd.core import StoreError
from alertd.sources import WebTransport
from alertd.watch import health, note_trouble

from .cycle import Cycles, nobody
from .heartbeat import Heartbeat
from .logs import error_text
from .metrics import Metrics
from .record_counts import RecordCounts
from .rehearsal import Rehearsal
from .status_port import StatusPort

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from alertd.config import Loaded
    from alertd.store import Store
    from alertd.watch import Readership

    from .jobs import Jobs

_logger = logging.getLogger(__name__)

#: [bytes] Longest answer to a heartbeat that is taken; nobody reads it. Assumed.
_LARGEST_ANSWER = 1024 * 1024

#: How often, and how long after the start first, it is asked whether a Test message is due. Assumed: by then the first
#: look is over, of which it tells.
_REHEARSAL_EVERY = timedelta(seconds=30)
_REHEARSAL_FIRST = timedelta(seconds=10)

#: Name of the job.
_REHEARSAL = "Test message"


class Reporting:
    """Tells how the daemon fares, to the log, the database, and whoever asks.

    Parameters
    ----------
    loaded : Loaded
        The configuration.
    store : Store
        Of the site.
    readership : Readership
        Who gets Test messages.
    jobs : Jobs
        Take another one for Test messages, in place of an earlier one; their rounds are counted.
    clock : callable
        Returns the present as aware UTC.

    Raises
    ------
    StoreError
        If the store cannot be read.

    Attributes
    ----------
    cycles : Cycles
        Want to hear of each cycle that has ended.
    """

    def __init__(
        self, loaded: Loaded, store: Store, readership: Readership, jobs: Jobs, clock: Callable[[], datetime]
    ) -> None:
        self._store = store
        self._jobs = jobs
        self._clock = clock
        self._counts = RecordCounts(store)
        self._calls = Counter({"accepted": 0, "failed": 0})
        self.cycles = Cycles(store, loaded.garden.site, loaded.polling.every, self._counts)
        self._arrange(loaded, readership)

    def use(self, loaded: Loaded, readership: Readership) -> None:
        """Tell by another configuration from now on; what was counted since the start is counted on.

        Parameters
        ----------
        loaded, readership
            As at the start.
        """
        self.stop()
        self._arrange(loaded, readership)
        self.start()

    def _arrange(self, loaded: Loaded, readership: Readership) -> None:
        every = loaded.polling.every
        self._heartbeat = beats = self._made_heartbeat(loaded)
        self.cycles.use(loaded.garden.site, every, nobody if beats is None else beats.is_due)
        metrics = Metrics(
            self._store,
            every,
            self.cycles,
            self._counts,
            self._jobs.tally,
            [channel.name for channel in loaded.channels],
            self._clock,
            None if beats is None else beats.calls,
        )
        self._listen = loaded.status.listen
        self._port = None
        if self._listen is not None:
            self._port = StatusPort(*self._listen, metrics.text, lambda: health(self._store, every, self._clock()))
        if loaded.status.test_message == "off":
            self._jobs.drop(_REHEARSAL)
        else:
            rehearsal = Rehearsal(loaded, self._store, readership, self._clock)
            self._jobs.add(_REHEARSAL, rehearsal.look, _REHEARSAL_EVERY, first_after=_REHEARSAL_FIRST)

    def _made_heartbeat(self, loaded: Loaded) -> Heartbeat | None:
        url, polling = loaded.status.heartbeat, loaded.polling
        if url is None:
            return None
        transport = WebTransport(_LARGEST_ANSWER, proxies_from_environment=polling.proxies_from_environment)
        return Heartbeat(
            url,
            transport,
            f"alertd/{__version__}",
            self._store,
            self._clock,
            deadline=polling.request_deadline,
            calls=self._calls,
        )

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
        self._note("status port", trouble)
        if self._heartbeat is None:
            self._note("heartbeat", "")
        else:
            self._heartbeat.start()

    def _note(self, part: str, trouble: str) -> None:
        try:
            note_trouble(self._store, part, trouble, self._clock())
        except StoreError as error:
            _logger.error("%s: %s", part, error_text(error))  # noqa: TRY400 - one line

    def stop(self) -> None:
        """Answer and call no more."""
        if self._heartbeat is not None:
            self._heartbeat.stop()
        if self._port is not None:
            self._port.stop()
