"""The end of each cycle: one line in the log, one note in the database, and whoever wants to hear of good ones."""

from __future__ import annotations

import logging
import threading
from collections import Counter
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd import __version__
from alertd.core import AlertdError, as_utc, instant_text
from alertd.store import OutboxState
from alertd.watch import CycleNote, keep_cycle, outbox_problems, read_cycle

from .logs import error_text, key_values

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from alertd.alerts import Decision
    from alertd.site import Site
    from alertd.store import OutboxSummary, Store

    from .record_counts import RecordCounts

_logger = logging.getLogger(__name__)


def nobody() -> None:
    """Hear of a good cycle, and do nothing about it."""


@dataclass(frozen=True, slots=True)
class Cycle:
    """What became of one evaluation.

    Parameters
    ----------
    began : datetime
        Aware UTC.
    duration : timedelta
        How long it took.
    next_look : datetime
        When the next one is due, aware UTC.
    failures : int
        How many have failed in a row, this one included; 0 if it worked.
    decision : Decision or None
        What was decided, if it worked.
    error : Exception or None
        Why it failed, if it did.
    """

    began: datetime
    duration: timedelta
    next_look: datetime
    failures: int
    decision: Decision | None = None
    error: Exception | None = None


class Cycles:
    """Follows cycles.

    Parameters
    ----------
    store : Store
        Takes a note of each, which `alertd status` reads.
    site : Site
        Whose alerts are counted.
    every : timedelta
        Usual pause between two.
    counts : RecordCounts
        What was written to the record since the start.
    on_good : callable
        Is called after each good cycle, and must not wait for anything.
    """

    def __init__(
        self,
        store: Store,
        site: Site,
        every: timedelta,
        counts: RecordCounts,
        on_good: Callable[[], None] = nobody,
    ) -> None:
        self._store = store
        self._counts = counts
        self.use(site, every, on_good)
        self._letters = 0
        self._lock = threading.Lock()
        self._outcomes: Counter[str] = Counter({"good": 0, "blind": 0, "stuck": 0, "failed": 0})
        self._took = timedelta(0)

    def use(self, site: Site, every: timedelta, on_good: Callable[[], None]) -> None:
        """Follow further cycles by another configuration; the totals go on.

        Parameters
        ----------
        site, every, on_good
            As at the start.
        """
        self._site = site
        self._every = every
        self._on_good = on_good

    def ended(self, cycle: Cycle) -> None:
        """Log a cycle and note it; what cannot be read or written is logged, not raised.

        Parameters
        ----------
        cycle : Cycle
            That has just ended.
        """
        outcome = "failed"
        try:
            summary = self._store.outbox_summary()
            note = self._note(cycle)
            outcome = _outcome(note, is_stuck=bool(outbox_problems(self._store, cycle.began, summary)))
            if outcome == "good":
                note = replace(note, last_good=note.began)
            _log(note, summary, outcome)
            keep_cycle(self._store, note)
        except AlertdError as error:
            outcome = "failed"
            _logger.error("the cycle could not be noted: %s", error_text(error))  # noqa: TRY400 - one line
        with self._lock:
            self._outcomes[outcome] += 1
            self._took += cycle.duration
        if outcome == "good":
            self._on_good()

    def totals(self) -> tuple[Counter[str], timedelta]:
        """Return what became of cycles since the start.

        Returns
        -------
        tuple of collections.Counter and timedelta
            How many were good, blind, stuck or failed, and the time that all of them took.
        """
        with self._lock:
            return Counter(self._outcomes), self._took

    def stopped(self, now: datetime) -> None:
        """Note that the daemon was stopped in order.

        Parameters
        ----------
        now : datetime
            Aware UTC.

        Raises
        ------
        StoreError
            If the store cannot be read or written.
        """
        note = read_cycle(self._store)
        if note is not None:
            keep_cycle(self._store, replace(note, stopped=now))

    def _note(self, cycle: Cycle) -> CycleNote:
        before = read_cycle(self._store)
        self._counts.catch_up()
        written, self._letters = self._counts.letters - self._letters, self._counts.letters
        note = CycleNote(__version__, cycle.began, cycle.duration, self._every, cycle.next_look)
        if before is not None:
            note = replace(
                note, used=before.used, refused=before.refused, is_blind=before.is_blind, last_good=before.last_good
            )
        if cycle.decision is not None:
            note = note.with_decision(cycle.decision)
        alerts = self._store.load_state(self._site.season_start(cycle.began)).alerts
        return replace(
            note,
            open_alerts=sum(alert.is_open for alert in alerts),
            letters=written,
            failures=cycle.failures,
            problem="" if cycle.error is None else error_text(cycle.error),
        )


def _outcome(note: CycleNote, *, is_stuck: bool) -> str:
    """Return what kind of cycle it was."""
    if note.problem:
        return "failed"
    if note.is_blind:
        return "blind"
    return "stuck" if is_stuck else "good"


def _log(note: CycleNote, summary: OutboxSummary, outcome: str) -> None:
    """Write the line of a cycle."""
    counts = summary.counts
    ages = ", ".join(f"{each.name} {(note.began - each.made).total_seconds() / 3600.0:.1f}" for each in note.used)
    _logger.info(
        "cycle: %s",
        key_values(
            outcome=outcome,
            seconds=f"{note.duration.total_seconds():.2f}",
            forecast_ages_h=ages,
            refused=", ".join(each.source for each in note.refused),
            blind="yes" if note.is_blind else "no",
            open_alerts=note.open_alerts,
            letters=note.letters,
            outbox=counts[OutboxState.WAITING] + counts[OutboxState.CLAIMED],
            given_up=counts[OutboxState.DEAD],
            next_look=instant_text(as_utc(note.next_look).replace(microsecond=0)),
        ),
    )
