"""The watchdog: the service manager hears that all is well only while all that matters really moves."""

from __future__ import annotations

import logging
import time
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from .supervisor import Supervisor

_logger = logging.getLogger(__name__)


class LastDone:
    """When a piece of work was last done; at first, when it began to be expected.

    Parameters
    ----------
    clock : callable
        Returns seconds that nobody sets.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._done = clock()

    def mark(self) -> None:
        """Note that it was done just now."""
        self._done = self._clock()

    def ago(self) -> timedelta:
        """Return how long ago it was done."""
        return timedelta(seconds=self._clock() - self._done)


@dataclass(frozen=True, slots=True)
class Sign:
    """One sign of life.

    Parameters
    ----------
    name : str
        What moves, for the log.
    ago : callable
        Returns how long ago it moved last.
    longest : timedelta
        While it moved no longer ago than this, it is well.
    """

    name: str
    ago: Callable[[], timedelta]
    longest: timedelta


class Watchdog:
    """Tells the service manager that all is well, at half of the silence that it allows, if every sign is fresh.

    Parameters
    ----------
    supervisor : Supervisor
        Is told; if it does not watch, nothing is.
    signs : sequence of Sign
        All must be fresh.
    clock : callable
        Returns seconds that nobody sets.
    """

    def __init__(
        self, supervisor: Supervisor, signs: Sequence[Sign], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._supervisor = supervisor
        self._signs = tuple(signs)
        self._clock = clock
        self._told: float | None = None
        self._stale: frozenset[str] = frozenset()

    def look(self) -> None:
        """Tell if it is time and all is well; log what is stale when that begins, and when it ends."""
        silence = self._supervisor.watchdog
        if silence is None:
            return
        now = self._clock()
        if self._told is not None and now - self._told < silence.total_seconds() / 2.0:
            return
        if self._is_well() and self._supervisor.alive():
            self._told = now

    def _is_well(self) -> bool:
        ages = {sign: sign.ago() for sign in self._signs}
        stale = {sign: age for sign, age in ages.items() if age > sign.longest}
        for sign, age in stale.items():
            if sign.name not in self._stale:
                _logger.error(
                    "no %s since %.0f s; the watchdog is no longer told that all is well",
                    sign.name,
                    age.total_seconds(),
                )
        names = frozenset(sign.name for sign in stale)
        for name in sorted(self._stale - names):
            _logger.info("there is a new %s again", name)
        self._stale = names
        return not stale
