"""Jobs in the background: what repeats, and what is said when a round fails."""

from __future__ import annotations

import logging
import threading
from collections import Counter
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from apscheduler.events import (
    EVENT_JOB_ERROR,
    EVENT_JOB_EXECUTED,
    EVENT_JOB_MAX_INSTANCES,
    EVENT_JOB_MISSED,
    JobExecutionEvent,
)
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.base import BaseTrigger

from .logs import error_text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from apscheduler.events import JobEvent

_logger = logging.getLogger(__name__)

#: Threads for jobs: one for each and some to spare, since none has two rounds at a time.
_THREADS = 8


class Pulse(BaseTrigger):
    """A trigger that fires once in every interval and forgets what it has missed.

    The library's own interval trigger counts up every missed round one by one: a machine without a clock of its
    own, whose time jumps from years ago to the present, would spend hours and all its memory on that.

    Parameters
    ----------
    every : timedelta
        Between two rounds.
    """

    def __init__(self, every: timedelta) -> None:
        self.every = every

    def get_next_fire_time(self, previous: datetime | None, now: datetime) -> datetime:
        """Return the time of the next round.

        Parameters
        ----------
        previous : datetime or None
            Of the last one.
        now : datetime
            The present.

        Returns
        -------
        datetime
            Always after `now`, so that nothing is ever made up for.
        """
        return now if previous is None else now + self.every


class Tally:
    """Counts rounds that failed or were left out, and logs when that begins and ends.

    Attributes
    ----------
    failed, left_out : collections.Counter
        Rounds by name of the job, since the start.
    """

    def __init__(self) -> None:
        self.failed: Counter[str] = Counter()
        self.left_out: Counter[str] = Counter()
        self._trouble: dict[str, str] = {}
        self._lock = threading.Lock()

    def hear(self, event: JobEvent) -> None:
        """Take note of what became of one round.

        Parameters
        ----------
        event : apscheduler.events.JobEvent
            Any that the scheduler was told to report.
        """
        trouble, level = None, logging.ERROR
        with self._lock:
            if isinstance(event, JobExecutionEvent) and event.exception is not None:
                self.failed[event.job_id] += 1
                trouble = error_text(event.exception)
            elif event.code != EVENT_JOB_EXECUTED:
                self.left_out[event.job_id] += 1
                trouble, level = "a round is left out, the one before it is not over", logging.WARNING
            before = self._trouble.pop(event.job_id, None)
            if trouble is not None:
                self._trouble[event.job_id] = trouble
            # Within the lock, so that the lines stand in the order of what they tell.
            if trouble is not None and trouble != before:
                _logger.log(level, "%s: %s", event.job_id, trouble)
            elif trouble is None and before is not None:
                _logger.info("%s: works again", event.job_id)


class Jobs:
    """Jobs that run in the background until they are stopped.

    Attributes
    ----------
    tally : Tally
        What went wrong.
    """

    def __init__(self) -> None:
        self.tally = Tally()
        self._changed = threading.Condition()
        self._running = 0
        self._is_over = False
        self._scheduler = _scheduler(self.tally.hear)

    def add(
        self, name: str, job: Callable[[], None], every: timedelta, *, first_after: timedelta = timedelta(0)
    ) -> None:
        """Add a job, in place of the one that has the name.

        Parameters
        ----------
        name : str
            For the log.
        job : callable
            One round; it may raise.
        every : timedelta
            Between two rounds.
        first_after : timedelta
            Before the first one.
        """

        def one_round() -> None:
            with self._round() as is_wanted:
                if is_wanted:
                    job()

        first = datetime.now(UTC) + first_after
        self._scheduler.add_job(one_round, Pulse(every), id=name, name=name, next_run_time=first, replace_existing=True)

    def start(self) -> None:
        """Begin."""
        self._scheduler.start()

    def change(self, name: str, every: timedelta) -> None:
        """Give a job another pause; its next round comes at once.

        Parameters
        ----------
        name : str
            As it was added.
        every : timedelta
            Between two rounds.
        """
        self._scheduler.reschedule_job(name, trigger=Pulse(every))

    def drop(self, name: str) -> None:
        """Begin no more rounds of a job, if there is such a one.

        Parameters
        ----------
        name : str
            As it was added.
        """
        if self._scheduler.get_job(name) is not None:
            self._scheduler.remove_job(name)

    def run_all_now(self) -> None:
        """Bring the next round of every job forward to the present; for after a step of the clock.

        The scheduler waits for a time of the day: set back by an hour, it would wait an hour.
        """
        for job in self._scheduler.get_jobs():
            job.modify(next_run_time=datetime.now(UTC))

    def stop(self) -> None:
        """Begin no more rounds; those that run go on."""
        with self._changed:
            self._is_over = True
        self._scheduler.shutdown(wait=False)

    def wait(self, timeout: timedelta) -> bool:
        """Wait until no round is running.

        Parameters
        ----------
        timeout : timedelta
            At most so long.

        Returns
        -------
        bool
            Whether none is.
        """
        with self._changed:
            return self._changed.wait_for(lambda: self._running == 0, timeout.total_seconds())

    @contextmanager
    def _round(self) -> Iterator[bool]:
        with self._changed:
            is_wanted = not self._is_over
            self._running += 1
        try:
            yield is_wanted
        finally:
            with self._changed:
                self._running -= 1
                self._changed.notify_all()


def _scheduler(listener: Callable[[JobEvent], None]) -> Any:  # noqa: ANN401 - the library has no types
    library: Any = BackgroundScheduler
    scheduler = library(
        timezone=UTC,
        jobstores={"default": {"type": "memory"}},
        executors={"default": {"type": "threadpool", "max_workers": _THREADS}},
        job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1},
    )
    codes = EVENT_JOB_ERROR | EVENT_JOB_MISSED | EVENT_JOB_MAX_INSTANCES | EVENT_JOB_EXECUTED
    scheduler.add_listener(listener, codes)
    return scheduler
