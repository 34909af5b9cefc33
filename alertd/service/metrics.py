"""Figures of the daemon as OpenMetrics, read from its database whenever somebody asks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from prometheus_client import CollectorRegistry
from prometheus_client.core import (
    CounterMetricFamily,
    GaugeMetricFamily,
    InfoMetricFamily,
    SummaryMetricFamily,
)
from prometheus_client.exposition import choose_encoder

from alertd import __version__
from alertd.delivery import Outcome
from alertd.store import OutboxState
from alertd.watch import health, read_cycle

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from datetime import datetime, timedelta

    from prometheus_client import Metric

    from alertd.store import Store
    from alertd.watch import CycleNote

    from .cycle import Cycles
    from .jobs import Tally
    from .record_counts import RecordCounts

#: What a scraper accepts that understands OpenMetrics.
_OPEN_METRICS = "application/openmetrics-text"

#: Names of states of the outbox as people know them; accepted letters are no depth.
_STATES = {"waiting": OutboxState.WAITING, "in_flight": OutboxState.CLAIMED, "given_up": OutboxState.DEAD}


class Metrics:
    """Collects figures.

    Labels hold names that the configuration gives to channels, sources and jobs, and nothing else of it.

    Parameters
    ----------
    store : Store
        Of the site.
    every : timedelta
        Usual pause between two looks.
    cycles : Cycles
        What became of them since the start.
    counts : RecordCounts
        Sends since the start.
    tally : Tally
        Rounds of jobs that went wrong since the start.
    channels : sequence of str
        Names of all channels, so that each has its figures from the start.
    clock : callable
        Returns the present as aware UTC.
    heartbeats : mapping of str to int, optional
        Calls of the heartbeat address since the start, by outcome; left out where there is none.
    """

    def __init__(
        self,
        store: Store,
        every: timedelta,
        cycles: Cycles,
        counts: RecordCounts,
        tally: Tally,
        channels: Sequence[str],
        clock: Callable[[], datetime],
        heartbeats: Mapping[str, int] | None = None,
    ) -> None:
        self._store = store
        self._every = every
        self._cycles = cycles
        self._counts = counts
        self._tally = tally
        self._channels = tuple(channels)
        self._clock = clock
        self._heartbeats = heartbeats
        self._registry = CollectorRegistry()
        self._registry.register(self)

    def text(self, accept: str) -> tuple[bytes, str]:
        """Return all figures as text.

        Parameters
        ----------
        accept : str
            What the reader accepts, as in the header of that name.

        Returns
        -------
        tuple of bytes and str
            The text and its content type: OpenMetrics where it is accepted, else the older format.

        Raises
        ------
        StoreError
            If the store cannot be read.
        """
        kinds = {part.partition(";")[0].strip().lower() for part in accept.split(",")}
        encode, content_type = choose_encoder(_OPEN_METRICS if _OPEN_METRICS in kinds else "")
        return encode(self._registry), content_type

    def describe(self) -> Iterator[Metric]:
        """Name nothing beforehand: what there is depends on the store, and this is the only collector."""
        yield from ()

    def collect(self) -> Iterator[Metric]:
        """Yield all figures as they stand."""
        now = self._clock()
        yield InfoMetricFamily("alertd_build", "The alertd that runs.", {"version": __version__})
        state = health(self._store, self._every, now)
        yield _gauge("alertd_healthy", "1 if the last good cycle is recent and messages move.", float(state.is_healthy))
        note = read_cycle(self._store)
        if note is not None:
            yield from _of_cycle(note, now)
        yield from self._since_start()
        yield from self._outbox(now)

    def _since_start(self) -> Iterator[Metric]:
        outcomes, took = self._cycles.totals()
        yield SummaryMetricFamily(
            "alertd_cycle_duration_seconds",
            "Time that cycles took since the start.",
            count_value=outcomes.total(),
            sum_value=took.total_seconds(),
            unit="seconds",
        )
        text = "Cycles since the start: good, blind, stuck (messages do not move) or failed."
        yield _counter("alertd_cycles", text, ("outcome",), {(each,): count for each, count in outcomes.items()})
        self._counts.catch_up()
        sends: dict[tuple[str, ...], int] = {
            (channel, outcome.value): 0 for channel in self._channels for outcome in Outcome
        }
        sends |= {key: count for key, count in dict(self._counts.sends).items()}  # noqa: C416 - wider keys
        yield _counter("alertd_sends", "Tries to send a message since the start.", ("channel", "outcome"), sends)
        yield _counter(
            "alertd_letters",
            "Messages put into the outbox since the start.",
            (),
            {(): self._counts.letters},
        )
        failed, left_out = dict(self._tally.failed), dict(self._tally.left_out)
        text = "Rounds of background jobs that ended with an error since the start."
        yield _counter("alertd_job_failures", text, ("job",), {(job,): count for job, count in failed.items()})
        text = "Rounds of background jobs that were left out since the start, because the one before was not over."
        yield _counter("alertd_job_skips", text, ("job",), {(job,): count for job, count in left_out.items()})
        if self._heartbeats is not None:
            text = "Calls of the heartbeat address since the start."
            beats: dict[tuple[str, ...], int] = {(outcome,): count for outcome, count in dict(self._heartbeats).items()}
            yield _counter("alertd_heartbeats", text, ("outcome",), beats)

    def _outbox(self, now: datetime) -> Iterator[Metric]:
        summary = self._store.outbox_summary()
        depth = GaugeMetricFamily(
            "alertd_outbox_letters", "Messages of the outbox that no channel has accepted, by state.", labels=["state"]
        )
        for name, state in _STATES.items():
            depth.add_metric([name], summary.counts[state])
        yield depth
        oldest = summary.oldest_waiting
        age = 0.0 if oldest is None else max((now - oldest).total_seconds(), 0.0)
        text = "Age of the oldest message that waits or is in flight; 0 if there is none."
        yield _gauge("alertd_outbox_oldest_age_seconds", text, age, unit="seconds")


def _of_cycle(note: CycleNote, now: datetime) -> Iterator[Metric]:
    """Yield what the last cycle has left."""
    yield _gauge("alertd_blind", "1 if no source has a usable forecast.", float(note.is_blind))
    yield _gauge("alertd_open_alerts", "Alerts that are open.", note.open_alerts)
    text = "Time that the last cycle took."
    yield _gauge("alertd_last_cycle_duration_seconds", text, note.duration.total_seconds(), unit="seconds")
    text = "When the last cycle began."
    yield _gauge("alertd_last_cycle_timestamp_seconds", text, note.began.timestamp(), unit="seconds")
    if note.last_good is not None:
        text = "When the last good cycle began: it worked, had a usable forecast, and messages moved."
        yield _gauge("alertd_last_good_cycle_timestamp_seconds", text, note.last_good.timestamp(), unit="seconds")
    made = GaugeMetricFamily(
        "alertd_forecast_age_seconds", "Age of a forecast in use, by its own word.", labels=["source"], unit="seconds"
    )
    read = GaugeMetricFamily(
        "alertd_forecast_read_age_seconds", "Time since a forecast in use was read.", labels=["source"], unit="seconds"
    )
    for each in note.used:
        made.add_metric([each.name], (now - each.made).total_seconds())
        read.add_metric([each.name], (now - each.retrieved).total_seconds())
    yield made
    yield read
    usable = GaugeMetricFamily(
        "alertd_source_usable", "1 if a source is used without remark, 0 if something is wrong.", labels=["source"]
    )
    refused = {each.source for each in note.refused}
    for name in sorted(refused | {each.name for each in note.used}):
        usable.add_metric([name], float(name not in refused))
    yield usable


def _gauge(name: str, text: str, value: float, *, unit: str = "") -> Metric:
    return GaugeMetricFamily(name, text, value=value, unit=unit)


def _counter(name: str, text: str, labels: tuple[str, ...], values: Mapping[tuple[str, ...], int]) -> Metric:
    family = CounterMetricFamily(name, text, labels=list(labels))
    for key, value in sorted(values.items()):
        family.add_metric(list(key), value)
    return family
