"""How hard and how often a letter is tried."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from random import Random


@dataclass(frozen=True, slots=True)
class RelaySettings:
    """How hard the relay tries; all values are assumed.

    Parameters
    ----------
    deadline : timedelta
        Of one send.
    first_retry : timedelta
        Wait after the first failure.
    factor : float
        Each wait is this many times the one before.
    max_retry : timedelta
        Longest wait.
    jitter : float
        Share by which a wait is made shorter or longer at random, so that retries of many letters spread.
    max_tries : int
        After so many the next channel takes over, if the recipient has one. The last channel is tried on.
    lasts : timedelta
        A letter that no channel has taken for so long is given up and reported: what it says has been overtaken.
    reports_last : timedelta
        So long for reports of letters that arrived nowhere: they stay true.
    reports_pause : timedelta
        A report that the last channel refuses is tried again after so long: somebody may mend the channel.
    parallel : int
        Letters in flight at the same time, each in a process of about 60 MB.
    """

    deadline: timedelta = timedelta(seconds=30)
    first_retry: timedelta = timedelta(seconds=30)
    factor: float = 2.0
    max_retry: timedelta = timedelta(minutes=30)
    jitter: float = 0.2
    max_tries: int = 8
    lasts: timedelta = timedelta(hours=24)
    reports_last: timedelta = timedelta(days=7)
    reports_pause: timedelta = timedelta(hours=6)
    parallel: int = 6

    @property
    def lease(self) -> timedelta:
        """How long a letter in flight belongs to its send."""
        return self.deadline + timedelta(seconds=15)

    @property
    def longest_wait(self) -> timedelta:
        """How long a letter waits for its next try at most."""
        return max(self.max_retry * (1.0 + self.jitter), self.reports_pause)


def retry_delay(settings: RelaySettings, attempts: int, retry_after: timedelta | None, random: Random) -> timedelta:
    """Return how long to wait before the next try.

    Parameters
    ----------
    settings : RelaySettings
        Waits and their growth.
    attempts : int
        Tries so far, at least 1.
    retry_after : timedelta or None
        What the channel asked for; heeded up to the longest wait.
    random : random.Random
        For the jitter.

    Returns
    -------
    timedelta
        Positive.
    """
    seconds = settings.first_retry.total_seconds()
    longest = settings.max_retry.total_seconds()
    for _ in range(attempts - 1):
        seconds = min(seconds * settings.factor, longest)
    delay = timedelta(seconds=min(seconds, longest) * random.uniform(1 - settings.jitter, 1 + settings.jitter))
    return delay if retry_after is None else max(delay, min(retry_after, settings.max_retry))
