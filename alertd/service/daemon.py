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
from alertd.core import AlertdError, StoreError
from alertd.store import Commit, SiteLock, Store
from alertd.watch.relay import Relay

from .arrangement import arrange, digest, rearrange
from .clock import Moment, clock_step
from .daily import Daily
from .failures import Failures
from .jobs import Jobs
from .logs import error_text
from .look import Look
from .reporting import Reporting
from .signals import Signals
from .supervisor import Supervisor
from .thermometers import Thermometers
from .upkeep import Upkeep
from .vitals import Vitals, counted, status_line
from .watchdog import LastDone, Sign, Watchdog

if TYPE_CHECKING:
    from collections.abc import Sequence

    from alertd.config import Loaded
    from alertd.sources import Source

    from .arrangement import Arrangement
    from .cycle import Cycle

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

#: How often a note is written to the database and alerts are counted. Assumed: rare enough for a memory card.
_VITALS_EVERY = timedelta(seconds=15)

#: The watchdog is told that all is well only while the outbox was looked at, and the database written, no longer ago.
#: Assumed: many rounds of each, and longer than a wait for a locked database.
_RELAY_FRESH = timedelta(minutes=1)
_WRITE_FRESH = timedelta(minutes=2)

#: How long a stop waits for an evaluation that runs, beside the second for sends. All of it, with a wait for a locked
#: database, stays below ten seconds.
_STOP_PATIENCE = timedelta(seconds=3)

#: An evaluation takes less than a second; one that takes this long hangs, for instance on a network disk. Assumed.
_HANGS_AFTER = timedelta(minutes=5)


def run(
    loaded: Loaded,
    *,
    stop: threading.Event | None = None,
    sources: Sequence[Source] | None = None,
    supervisor: Supervisor | None = None,
) -> int:
    """Watch until SIGTERM, SIGINT or `stop`; read the configuration anew at SIGHUP.

    Parameters
    ----------
    loaded : Loaded
        The configuration.
    stop : threading.Event, optional
        Ends the daemon when set, like a signal.
    sources : sequence of Source, optional
        In place of those that the configuration names.
    supervisor : Supervisor, optional
        Is told how things stand; the one that the environment names by default.

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
        manager = Supervisor.from_environment(os.environ, os.getpid()) if supervisor is None else supervisor
        daemon = _Daemon(loaded, store, sources, manager)
        daemon.start()
        is_well = daemon.go_on(signals, threading.Event() if stop is None else stop)
        if not daemon.end():
            _logger.error("something still hangs; the process is ended, and what was committed is kept")
            logging.shutdown()
            os._exit(1)
    return 0 if is_well else 1


class _Daemon:
    def __init__(
        self,
        loaded: Loaded,
        store: Store,
        sources: Sequence[Source] | None = None,
        supervisor: Supervisor | None = None,
    ) -> None:
        self._store = store
        self._sources = sources
        self._supervisor = Supervisor() if supervisor is None else supervisor
        self._runs = arrange(loaded, store, sources)
        self._refused = ""
        site = loaded.garden.site
        self._thermometers = Thermometers(loaded.observations, self._runs.services.stations, store, _now)
        self._failures = Failures(store, self._runs.readership, site)
        self._jobs = Jobs()
        self._reporting = Reporting(loaded, store, self._runs.readership, self._jobs, _now)
        self._look = Look(self._runs.watch, loaded.polling.every, self._failures, _now, self._cycle_ended)
        self._relay = _relay(self._runs, store)
        self._relayed = LastDone()
        self._vitals = Vitals(store, site, _now)
        self._daily = Daily(store, site, self._jobs.tally, _now)
        self._upkeep = Upkeep(store, self._runs.readership, site, loaded.retention, _now)
        self._jobs.add("evaluation", self._look.look, self._look.tick)
        self._jobs.add("thermometers", self._thermometers.collect, _THERMOMETERS_EVERY)
        self._jobs.add("outbox", self._send, _RELAY_EVERY)
        self._jobs.add("vitals", self._vitals.beat, _VITALS_EVERY)
        self._jobs.add("daily line", self._daily.look, _DAILY_EVERY, first_after=_DAILY_FIRST)
        self._jobs.add("upkeep", self._upkeep.look, _DAILY_EVERY, first_after=_DAILY_FIRST)
        self._watchdog = Watchdog(
            self._supervisor,
            (
                Sign("look at the clock by the evaluation", self._look.called_ago, _HANGS_AFTER),
                Sign("look at the outbox", self._relayed.ago, _RELAY_FRESH),
                Sign("write to the database", self._vitals.written.ago, _WRITE_FRESH),
            ),
        )

    def start(self) -> None:
        """Record the start, take up letters that were left in flight, and begin."""
        loaded, now = self._runs.loaded, _now()
        body = {"version": __version__, "configuration": str(loaded.path), "sha256": loaded.digest}
        self._store.commit(Commit(now, events=(AuditEvent(now, "start", body),)))
        left = self._store.end_leases(now)
        for warning in loaded.warnings:
            _logger.warning("%s", warning)
        _logger.info(
            "alertd %s watches %s: %s; configuration %s, database %s",
            __version__,
            loaded.garden.site.name,
            _watched(loaded),
            loaded.path,
            loaded.database,
        )
        if left:
            _logger.info("outbox: %s in flight when the last daemon ended, to be sent again", counted(left, "letter"))
        self._jobs.start()
        self._thermometers.start()
        self._reporting.start()
        self._supervisor.ready(self._status())

    def go_on(self, signals: Signals, stop: threading.Event) -> bool:
        """Keep an eye on signals, clock and evaluations until it is time to stop; return whether all was well."""
        moment = _moment()
        while not stop.is_set():
            heard = signals.wait(_BEAT)
            if heard is signal.SIGHUP:
                self._reload()
            elif heard is not None:
                _logger.info("%s: stopping", heard.name)
                return True
            silent = self._look.called_ago()
            if silent > _HANGS_AFTER:
                _logger.error(
                    "the evaluation hangs since %.0f s; the daemon ends, to be started anew", silent.total_seconds()
                )
                return False
            self._supervisor.status(self._status())
            self._watchdog.look()
            before, moment = moment, _moment()
            step = clock_step(before, moment)
            if step:
                self._clock_was_set(step, moment.wall)
        return True

    def end(self) -> bool:
        """Stop everything; return whether it stopped."""
        self._supervisor.stopping()
        self._jobs.stop()
        self._thermometers.stop()
        self._reporting.stop()
        self._relay.stop()
        if not (self._jobs.wait(_STOP_PATIENCE) and self._relay.wait(timedelta(0))):
            return False
        now = _now()
        try:
            self._store.commit(Commit(now, events=(AuditEvent(now, "stop", {"version": __version__}),)))
            self._reporting.cycles.stopped(now)
        except StoreError as error:
            _logger.error("the stop could not be recorded: %s", error)  # noqa: TRY400 - one line
        _logger.info("stopped")
        return True

    def _cycle_ended(self, cycle: Cycle) -> None:
        self._reporting.cycles.ended(cycle)

    def _send(self) -> None:
        self._relay.run_once(_now())
        self._relayed.mark()

    def _status(self) -> str:
        garden = self._runs.loaded.garden
        return status_line(
            len(garden.groups),
            self._vitals.standing,
            self._failures.in_a_row,
            self._look.next_look(),
            garden.site,
            refused=self._refused,
        )

    def _reload(self) -> None:
        """Read the configuration anew, and use all of it or nothing."""
        self._supervisor.reloading()
        path = self._runs.loaded.path
        _logger.info("SIGHUP: reading the configuration %s anew", path)
        try:
            new = rearrange(self._runs, os.environ, self._store, self._sources)
            self._record_configuration(new.loaded.digest)
        except AlertdError as error:
            self._keep(str(error).splitlines())
        except Exception as error:  # noqa: BLE001 - whatever it is, what runs must go on
            self._keep([error_text(error)])
        else:
            self._use(new)
        self._supervisor.ready(self._status())

    def _use(self, new: Arrangement) -> None:
        """Let another configuration take the place of the one that runs; nothing here can fail half-way."""
        loaded = new.loaded
        site = loaded.garden.site
        self._thermometers.use(loaded.observations, new.services.stations)
        self._relay.use(new.channels, new.relay_settings, site.slug, new.others)
        self._failures.use(new.readership, site)
        self._upkeep.use(new.readership, site, loaded.retention)
        self._daily.site = self._vitals.site = site
        self._runs, self._refused = new, ""
        self._look.use(new.watch, loaded.polling.every)
        self._jobs.change("evaluation", self._look.tick)
        self._reporting.use(loaded, new.readership)
        for warning in loaded.warnings:
            _logger.warning("%s", warning)
        _logger.info("the configuration %s is used from now on: %s", loaded.path, _watched(loaded))

    def _keep(self, problems: Sequence[str]) -> None:
        """Go on as before, and say why."""
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        self._refused = f"{problems[0]}{more}"
        for problem in problems:
            _logger.error("the changed configuration is refused, and the one before stays in use: %s", problem)
        try:
            self._record_configuration(digest(self._runs.loaded.path), problems)
        except AlertdError as error:
            _logger.error("the refusal could not be recorded: %s", error)  # noqa: TRY400 - one line

    def _record_configuration(self, sha256: str | None, problems: Sequence[str] = ()) -> None:
        now = _now()
        body = {
            "configuration": str(self._runs.loaded.path),
            "sha256": sha256,
            "outcome": "refused" if problems else "accepted",
            "problems": list(problems),
        }
        self._store.commit(Commit(now, events=(AuditEvent(now, "configuration", body),)))

    def _clock_was_set(self, step: timedelta, now: datetime) -> None:
        seconds = step.total_seconds()
        _logger.warning("the clock was set %s by %.0f s", "forward" if seconds > 0 else "back", abs(seconds))
        try:
            self._store.end_leases(now)
            self._store.end_waits(now)
        except StoreError as error:
            _logger.error("outbox: %s", error)  # noqa: TRY400 - one line
        self._look.clock_was_set()
        self._jobs.run_all_now()


def _relay(runs: Arrangement, store: Store) -> Relay:
    return Relay(
        store,
        runs.channels,
        runs.relay_settings,
        runs.loaded.garden.site.slug,
        random=SystemRandom(),
        others=runs.others,
    )


def _watched(loaded: Loaded) -> str:
    return ", ".join(
        (
            counted(len(loaded.garden.groups), "group"),
            counted(len(loaded.sources), "source"),
            counted(len(loaded.recipients), "recipient"),
        )
    )


def _now() -> datetime:
    return datetime.now(UTC)


def _moment() -> Moment:
    return Moment(_now(), time.monotonic())
