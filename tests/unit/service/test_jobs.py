from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta

import pytest

from alertd.core import StoreError
from alertd.service.jobs import Jobs, Pulse

QUICK = timedelta(seconds=0.02)
HOUR = timedelta(hours=1)
PATIENCE = 10.0


@pytest.fixture
def jobs():
    jobs = Jobs()
    yield jobs
    jobs.stop()
    assert jobs.wait(timedelta(seconds=PATIENCE))


class Rounds:
    """A job that lets others wait for its rounds, and fails while it is told to."""

    def __init__(self) -> None:
        self.number = 0
        self.error: Exception | None = None
        self._changed = threading.Condition()

    def __call__(self) -> None:
        with self._changed:
            self.number += 1
            self._changed.notify_all()
        if self.error is not None:
            raise self.error

    def wait_for_more(self, count: int) -> bool:
        with self._changed:
            wanted = self.number + count
            return self._changed.wait_for(lambda: self.number >= wanted, PATIENCE)


def told_of(job: str, caplog) -> list[str]:
    return [message for message in caplog.messages if message.startswith(f"{job}: ")]


def test_a_job_runs_at_once_and_again_and_again(jobs):
    rounds = Rounds()
    jobs.add("look", rounds, QUICK)
    jobs.start()
    assert rounds.wait_for_more(4)
    assert not jobs.tally.failed


def test_a_job_that_fails_goes_on_and_is_logged_when_that_begins_and_ends(jobs, caplog):
    rounds = Rounds()
    rounds.error = StoreError("database x: locked")
    jobs.add("outbox", rounds, QUICK)
    jobs.start()
    assert rounds.wait_for_more(4)
    rounds.error = None
    assert rounds.wait_for_more(3)
    assert jobs.tally.failed["outbox"] >= 3
    assert told_of("outbox", caplog)[:2] == ["outbox: StoreError: database x: locked", "outbox: works again"]


def test_a_round_that_lasts_makes_the_next_ones_wait_and_is_counted(jobs, caplog):
    release, other = threading.Event(), Rounds()
    jobs.add("slow", lambda: release.wait(PATIENCE), QUICK)
    jobs.add("other", other, QUICK)
    jobs.start()
    assert other.wait_for_more(8)
    assert jobs.tally.left_out["slow"] >= 3
    release.set()
    assert other.wait_for_more(3)
    told = told_of("slow", caplog)
    assert told[0] == "slow: a round is left out, the one before it is not over"
    assert told[1:2] == ["slow: works again"]


def test_a_stop_begins_no_more_rounds_and_waits_for_those_that_run_only_as_long_as_it_may():
    jobs, begun, release = Jobs(), threading.Event(), threading.Event()

    def slow() -> None:
        begun.set()
        release.wait(PATIENCE)

    jobs.add("slow", slow, QUICK)
    jobs.start()
    assert begun.wait(PATIENCE)
    jobs.stop()
    assert not jobs.wait(timedelta(seconds=0.1))
    release.set()
    assert jobs.wait(timedelta(seconds=PATIENCE))
    begun.clear()
    assert not begun.wait(0.2)


def test_a_round_that_was_handed_out_before_the_stop_and_comes_after_it_does_nothing():
    jobs, rounds = Jobs(), Rounds()
    jobs.add("late", rounds, HOUR, first_after=HOUR)
    jobs.start()
    (job,) = jobs._scheduler.get_jobs()
    jobs.stop()
    job.func()
    assert rounds.number == 0


def test_after_a_step_of_the_clock_jobs_that_would_wait_long_run_now(jobs):
    rounds = Rounds()
    jobs.add("far", rounds, HOUR, first_after=HOUR)
    jobs.start()
    jobs.run_all_now()
    assert rounds.wait_for_more(1)


def test_a_clock_that_jumps_over_half_a_century_makes_one_round_not_a_billion():
    now = datetime(2026, 1, 22, 9, tzinfo=UTC)
    assert Pulse(QUICK).get_next_fire_time(datetime(1970, 1, 1, tzinfo=UTC), now) == now + QUICK
    assert Pulse(QUICK).get_next_fire_time(None, now) == now


def test_a_changed_pause_holds_from_now_on_and_the_next_round_comes_at_once(jobs):
    rounds = Rounds()
    jobs.add("look", rounds, HOUR)
    jobs.start()
    jobs.change("look", QUICK)
    assert rounds.wait_for_more(3)
