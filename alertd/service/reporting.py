"""All by which the daemon tells of itself: log lines and notes of cycles, figures, heartbeat, Test messages."""

from __future__ import annotations

import logging
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd import __version__
from alertd.core import StoreError
from alertd.sources import WebTransport
from alertd.watch import health, note_trouble

from .cycle import Cycles
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
        Take another one for Test messages; their rounds are counted.
    clock : callable
        Returns the present as aware UTC.
    """

    def __init__(
        self, loaded: Loaded, store: Store, readership: Readership, jobs: Jobs, clock: Callable[[], datetime]
    ) -> None:
        self._store = store
        self._clock = clock
        self._status, self._every = loaded.status, loaded.polling.every
        counts = RecordCounts(store)
        self._heartbeat = _heartbeat(loaded, store, clock)
        self._called = _called(loaded)
        self.cycles = Cycles(store, loaded.garden.site, self._every, counts, self._cycle_was_good)
        self._metrics = Metrics(
            store,
            self._every,
            self.cycles,
            counts,
            jobs.tally,
            _channel_names(loaded),
            clock,
            None if self._heartbeat is None else self._heartbeat.calls,
        )
        self._port = None
        if self._status.listen is not None:
            self._port = StatusPort(
                *self._status.listen, self._metrics.text, lambda: health(store, self._every, clock())
            )
        self._rehearsal = Rehearsal(loaded, store, readership, clock)
        jobs.add("Test message", self._rehearse, _REHEARSAL_EVERY, first_after=_REHEARSAL_FIRST)

    def use(self, loaded: Loaded, readership: Readership) -> None:
        """Tell of another configuration from now on; the address of the status port stays as it was.

        Parameters
        ----------
        loaded : Loaded
            The configuration.
        readership : Readership
            Who gets Test messages.
        """
        self._status, self._every = loaded.status, loaded.polling.every
        self.cycles.use(loaded.garden.site, self._every)
        self._rehearsal = Rehearsal(loaded, self._store, readership, self._clock)
        if _called(loaded) != self._called:
            before, self._heartbeat = self._heartbeat, _heartbeat(loaded, self._store, self._clock)
            self._called = _called(loaded)
            if before is not None:
                before.stop()
            self._start_heartbeat()
        calls = None if self._heartbeat is None else self._heartbeat.calls
        self._metrics.use(self._every, _channel_names(loaded), calls)

    def _rehearse(self) -> None:
        if self._status.test_message != "off":
            self._rehearsal.look()

    def _cycle_was_good(self) -> None:
        if self._heartbeat is not None:
            self._heartbeat.is_due()

    @property
    def port(self) -> int | None:
        """The port at which it can be asked, if any."""
        return None if self._port is None else self._port.port

    def start(self) -> None:
        """Let others ask. An address that cannot be had is logged and noted: the watch goes on without."""
        trouble = ""
        listen = self._status.listen
        if self._port is not None and listen is not None:
            try:
                self._port.start()
            except OSError as error:
                place = "{}:{}".format(*listen)
                trouble = f"cannot listen at {place} ({error.strerror}); choose another status.listen"
                _logger.error("status port: %s", trouble)  # noqa: TRY400 - one line
            else:
                _logger.info("status port: figures at http://%s:%d/metrics", listen[0], self._port.port)
        self._note("status port", trouble)
        self._start_heartbeat()

    def _start_heartbeat(self) -> None:
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


def _heartbeat(loaded: Loaded, store: Store, clock: Callable[[], datetime]) -> Heartbeat | None:
    url, polling = loaded.status.heartbeat, loaded.polling
    if url is None:
        return None
    transport = WebTransport(_LARGEST_ANSWER, proxies_from_environment=polling.proxies_from_environment)
    return Heartbeat(url, transport, f"alertd/{__version__}", store, clock, deadline=polling.request_deadline)


def _called(loaded: Loaded) -> tuple[object, ...]:
    """Return all of a configuration that a heartbeat is made of."""
    polling = loaded.polling
    return (loaded.status.heartbeat, polling.proxies_from_environment, polling.request_deadline)


def _channel_names(loaded: Loaded) -> tuple[str, ...]:
    return tuple(channel.name for channel in loaded.channels)
