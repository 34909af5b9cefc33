"""The job that evaluates when it is time."""

from __future__ import annotations

import logging
import time
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.core import StoreError

from .clock import is_due, pause_after
from .cycle import Cycle

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from alertd.alerts import Decision
    from alertd.watch import Watch

    from .failures import Failures

_logger = logging.getLogger(__name__)

#: Shortest and longest time between two looks at the clock; in between, a quarter of the pause between evaluations,
#: so that short pauses are kept too. Assumed.
_SHORTEST_TICK = timedelta(seconds=0.25)
_LONGEST_TICK = timedelta(seconds=5)


class Look:
    """Evaluates once the pause is over, a call is due or somebody has reported, whatever becomes of it.

    Parameters
    ----------
    watch : Watch
        What evaluates.
    every : timedelta
        Pause between two evaluations.
    failures : Failures
        Hears what became of each.
    clock : callable
        Returns the present as aware UTC.
    heard : callable, optional
        Hears of each cycle when it has ended.
    """

    def __init__(
        self,
        watch: Watch,
        every: timedelta,
        failures: Failures,
        clock: Callable[[], datetime],
        heard: Callable[[Cycle], None] = lambda _: None,
    ) -> None:
        self._watch = watch
        self._every = every
        self._failures = failures
        self._clock = clock
        self._heard = heard
        self._last: datetime | None = None
        self._call: datetime | None = None
        self._refused: frozenset[str] = frozenset()
        self._called = time.monotonic()

    @property
    def tick(self) -> timedelta:
        """How often `look` should be called."""
        return min(max(self._every / 4, _SHORTEST_TICK), _LONGEST_TICK)

    def look(self) -> None:
        """Evaluate if it is time; an evaluation that fails is told, not raised."""
        self._called = time.monotonic()
        now = self._clock()
        pause = pause_after(self._failures.in_a_row, self._every)
        if not (is_due(now, self._last, pause, self._call) or self._has_reports()):
            return
        self._last = now  # before the watch is taken up: one that comes in between is then used at the next tick
        self._call = None
        watch = self._watch
        try:
            decision = watch.evaluate(now)
            self._call = watch.next_call(now)
        except Exception as error:  # noqa: BLE001 - whatever it is, the next evaluation must come
            self._failures.failed(error, now)
            self._tell(now, error=error)
            return
        self._failures.worked(now)
        self._log(decision)
        self._tell(now, decision)

    def called_ago(self) -> timedelta:
        """Return how long ago `look` was called last; while it hangs, nobody calls it."""
        return timedelta(seconds=time.monotonic() - self._called)

    def next_look(self) -> datetime | None:
        """Return when the next evaluation is due, aware UTC, or ``None`` if that is now."""
        last, call = self._last, self._call
        if last is None:
            return None
        pause_ends = last + pause_after(self._failures.in_a_row, self._every)
        return pause_ends if call is None else min(call, pause_ends)

    def use(self, watch: Watch, every: timedelta) -> None:
        """Evaluate with another watch at the next `look`, whatever the pause; an evaluation under way goes on.

        Parameters
        ----------
        watch : Watch
            What evaluates from then on.
        every : timedelta
            Pause between two evaluations.
        """
        self._watch = watch
        self._every = every
        self._last = None

    def clock_was_set(self) -> None:
        """Evaluate at the next `look`, because times that were noted mean nothing any more."""
        self._last = None

    def _tell(self, now: datetime, decision: Decision | None = None, error: Exception | None = None) -> None:
        """Let others hear of a cycle that has ended."""
        duration = timedelta(seconds=time.monotonic() - self._called)
        pause = now + pause_after(self._failures.in_a_row, self._every)
        due = pause if self._call is None else min(pause, self._call)
        self._heard(Cycle(now, duration, due, self._failures.in_a_row, decision, error))

    def _has_reports(self) -> bool:
        """Return whether somebody has reported anything; while evaluations fail, nothing is asked."""
        if self._failures.in_a_row:
            return False
        try:
            return self._watch.has_reports()
        except StoreError:
            return False  # the evaluation that is due next says so

    def _log(self, decision: Decision) -> None:
        for transition in decision.transitions:
            after = transition.after
            told = "told" if transition.notice is not None else "not told"
            _logger.info("alert %s: %s, now %s (%s)", after.alert_id, transition.event.value, after.state.value, told)
        refused = frozenset(refusal.source for refusal in decision.outlook.refused)
        if refused != self._refused:
            for refusal in decision.outlook.refused:
                state = "is used with its last good answer" if refusal.is_used else "is not used"
                _logger.warning("source %s %s: %s", refusal.source, state, refusal.reason)
            for source in sorted(self._refused - refused):
                _logger.info("source %s answers again", source)
        self._refused = refused
