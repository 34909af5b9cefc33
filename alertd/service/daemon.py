"""The daemon: evaluate, send, and go on until told to stop."""

from __future__ import annotations

import logging
import os
import signal
import threading
import time
from datetime import UTC, datetime, timedelta
from random import SystemRandom
from typing import TYPE_CHECKING

from alertd import __version__
from alertd.audit import AuditEvent
from alertd.config import build_services
from alertd.core import StoreError
from alertd.delivery import RelaySettings
from alertd.store import Commit, SiteLock, Store
from alertd.watch import Watch, readership
from alertd.watch.relay import Relay

from .clock import Moment, clock_step
from .daily import Daily
from .failures import Failures
from .jobs import Jobs
from .look import Look
from .signals import Signals
from .thermometers import Thermometers
from .upkeep import Upkeep

if TYPE_CHECKING:
    from collections.abc import Sequence

    from alertd.config import Loaded
    from alertd.sources import Source

_logger = logging.getLogger(__name__)

#: The main thread looks this often at the clock, and whether it shall stop [s].
_BEAT = 0.5

#: How often the outbox is looked at. Assumed.
_RELAY_EVERY = timedelta(seconds=1)

#: How often thermometers are asked. Assumed: they say little new within a minute.
_THERMOMETERS_EVERY = timedelta(minutes=1)

#: How often, and how long after the start first, it is asked whether a day has begun. Assumed.
_DAILY_EVERY = timedelta(seconds=30)
_DAILY_FIRST = timedelta(seconds=5)

#: How long a stop waits for an evaluation that runs, beside the second for sends. All of it, with a wait for a locked
#: database, stays below ten seconds.
_STOP_PATIENCE = timedelta(seconds=3)

#: An evaluation takes less than a second; one that takes this long hangs, for instance on a network disk. Assumed.
_HANGS_AFTER = timedelta(minutes=5)


def run(loaded: Loaded, *, stop: threading.Event | None = None, sources: Sequence[Source] | None = None) -> int:
    """Watch until SIGTERM, SIGINT or `stop`.

    Parameters
    ----------
    loaded : Loaded
        The configuration.
    stop : threading.Event, optional
        Ends the daemon when set, like a signal.
    sources : sequence of Source, optional
        In place of those that the configuration names.

    Returns
    -------
    int
        0 if all ended in order, 1 if evaluations had stopped coming. What hangs cannot be ended in order: then
        the process is ended with exit code 1. Nothing that was committed is lost, and whoever supervises the
        daemon starts it anew.

    Raises
    ------
    StoreError
        If the database cannot be used at the start, or another daemon uses it.
    """
    with Signals() as signals, SiteLock(loaded.database), Store.open(loaded.database) as store:
        daemon = _Daemon(loaded, store, sources)
        daemon.start()
        is_well = daemon.go_on(signals, threading.Event() if stop is None else stop)
        if not daemon.end():
            _logger.error("something still hangs; the process is ended, and what was committed is kept")
            logging.shutdown()
            os._exit(1)
    return 0 if is_well else 1


class _Daemon:
    def __init__(self, loaded: Loaded, store: Store, sources: Sequence[Source] | None) -> None:
        self._loaded = loaded
        self._store = store
        readers = readership(loaded)
        site = loaded.garden.site
        services = build_services(loaded, store)
        asked = services.sources if sources is None else sources
        self._thermometers = Thermometers(loaded.observations, services.stations, store, _now)
        watch = Watch(loaded.garden, asked, readers, store)
        self._look = Look(watch, loaded.polling.every, Failures(store, readers, site), _now)
        self._relay = _relay(loaded, store)
        self._jobs = Jobs()
        self._jobs.add("evaluation", self._look.look, self._look.tick)
        self._jobs.add("thermometers", self._thermometers.collect, _THERMOMETERS_EVERY)
        self._jobs.add("outbox", lambda: self._send(_now()), _RELAY_EVERY)
        daily = Daily(store, site, self._jobs.tally, _now)
        self._jobs.add("daily line", daily.look, _DAILY_EVERY, first_after=_DAILY_FIRST)
        upkeep = Upkeep(store, readers, site, loaded.retention, _now)
        self._jobs.add("upkeep", upkeep.look, _DAILY_EVERY, first_after=_DAILY_FIRST)

    def start(self) -> None:
        """Record the start, take up letters that were left in flight, and begin."""
        loaded, now = self._loaded, _now()
        body = {"version": __version__, "configuration": str(loaded.path), "sha256": loaded.digest}
        self._store.commit(Commit(now, events=(AuditEvent(now, "start", body),)))
        left = self._store.end_leases(now)
        for warning in loaded.warnings:
            _logger.warning("%s", warning)
        _logger.info(
            "alertd %s watches %s: %s, %s, %s; configuration %s, database %s",
            __version__,
            loaded.garden.site.name,
            _counted(len(loaded.garden.groups), "group"),
            _counted(len(loaded.sources), "source"),
            _counted(len(loaded.recipients), "recipient"),
            loaded.path,
            loaded.database,
        )
        if left:
            _logger.info("outbox: %s in flight when the last daemon ended, to be sent again", _counted(left, "letter"))
        self._jobs.start()
        self._thermometers.start()

    def go_on(self, signals: Signals, stop: threading.Event) -> bool:
        """Keep an eye on signals, clock and evaluations until it is time to stop; return whether all was well."""
        moment = _moment()
        while not stop.is_set():
            heard = signals.wait(_BEAT)
            if heard is signal.SIGHUP:
                _logger.warning("SIGHUP is ignored; start alertd anew to use a changed configuration")
            elif heard is not None:
                _logger.info("%s: stopping", heard.name)
                return True
            silent = self._look.called_ago()
            if silent > _HANGS_AFTER:
                _logger.error(
                    "the evaluation hangs since %.0f s; the daemon ends, to be started anew", silent.total_seconds()
                )
                return False
            before, moment = moment, _moment()
            step = clock_step(before, moment)
            if step:
                self._clock_was_set(step, moment.wall)
        return True

    def end(self) -> bool:
        """Stop everything; return whether it stopped."""
        self._jobs.stop()
        self._thermometers.stop()
        self._relay.stop()
        if not (self._jobs.wait(_STOP_PATIENCE) and self._relay.wait(timedelta(0))):
            return False
        now = _now()
        try:
            self._store.commit(Commit(now, events=(AuditEvent(now, "stop", {"version": __version__}),)))
        except StoreError as error:
            _logger.error("the stop could not be recorded: %s", error)  # noqa: TRY400 - one line
        _logger.info("stopped")
        return True

    def _send(self, now: datetime) -> None:
        self._relay.run_once(now)

    def _clock_was_set(self, step: timedelta, now: datetime) -> None:
        seconds = step.total_seconds()
        _logger.warning("the clock was set %s by %.0f s", "forward" if seconds > 0 else "back", abs(seconds))
        try:
            self._store.end_leases(now)
        except StoreError as error:
            _logger.error("outbox: %s", error)  # noqa: TRY400 - one line
        self._look.clock_was_set()
        self._jobs.run_all_now()


def _relay(loaded: Loaded, store: Store) -> Relay:
    delivery = loaded.delivery
    settings = RelaySettings(
        deadline=delivery.deadline,
        first_retry=delivery.first_retry,
        max_retry=delivery.max_retry,
        max_tries=delivery.max_tries,
    )
    return Relay(
        store,
        {channel.name: channel for channel in loaded.channels},
        settings,
        loaded.garden.site.slug,
        random=SystemRandom(),
        others={recipient.name: recipient.channels for recipient in loaded.recipients},
    )


def _now() -> datetime:
    return datetime.now(UTC)


def _moment() -> Moment:
    return Moment(_now(), time.monotonic())


def _counted(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
