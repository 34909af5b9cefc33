"""One evaluation, from sources to the store."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from alertd.alerts import Decision, Refusal, decide, next_call, reason_to_refuse
from alertd.core import SourceError, StoreError, as_utc, instant_text
from alertd.messages import Reader, compose
from alertd.store import Addressed, Commit, StateChanged

from .evidence import evaluation_event, letter_event, transition_events

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from alertd.alerts import Garden
    from alertd.config import Loaded
    from alertd.sources import Source
    from alertd.store import Store
    from alertd.weather import Finding, Forecast

#: An evaluation that meets somebody's report is made anew this often before it gives up.
_TRIES = 5


@dataclass(frozen=True, slots=True)
class Readership:
    """Who reads, and by which channels.

    Parameters
    ----------
    readers : tuple of Reader
        Recipients.
    channels : mapping of str to tuple of str
        Channel names in order, by recipient.
    """

    readers: tuple[Reader, ...]
    channels: Mapping[str, tuple[str, ...]]


def readership(loaded: Loaded) -> Readership:
    """Return the readership of a configuration.

    Parameters
    ----------
    loaded : Loaded
        The configuration.

    Returns
    -------
    Readership
        A recipient who cares for every group also reads of groups that are gone.
    """
    everything = {group.group_id for group in loaded.garden.groups}
    readers = tuple(
        Reader(each.name, frozenset() if set(each.groups) >= everything else frozenset(each.groups))
        for each in loaded.recipients
    )
    return Readership(readers, {each.name: each.channels for each in loaded.recipients})


@dataclass(slots=True)
class Watch:
    """Evaluations over one store.

    Parameters
    ----------
    garden : Garden
        The configuration as the pure core sees it.
    sources : sequence of Source
        Where forecasts come from.
    readership : Readership
        Who is told.
    store : Store
        What is remembered.
    """

    garden: Garden
    sources: Sequence[Source]
    readership: Readership
    store: Store
    _last_good: dict[str, Forecast] = field(default_factory=dict)

    def remember(self, before: Watch) -> None:
        """Take over the last good forecasts of a watch that asked the same sources.

        Parameters
        ----------
        before : Watch
            The one whose place this one takes.
        """
        self._last_good.update(before._last_good)

    def evaluate(self, now: datetime) -> Decision:
        """Judge once and commit: state, outbox and audit log in one transaction.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        Decision
            What was committed.

        Raises
        ------
        StoreError
            If the store cannot be read or written, or reports keep coming in between.
        """
        now = as_utc(now).replace(microsecond=0)
        forecasts, failures, findings = self._gather(now)
        for _ in range(_TRIES):
            version = self.store.state_version()
            decision = self.judge(now, forecasts, failures)
            try:
                self._commit(decision, findings, version)
            except StateChanged:
                continue
            return decision
        message = "reports keep changing the state while it is being judged; the evaluation is left to the next look"
        raise StoreError(message)

    def assess(self, now: datetime) -> Decision:
        """Judge once, and change nothing.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        Decision
            What `evaluate` would commit.
        """
        now = as_utc(now).replace(microsecond=0)
        forecasts, failures, _ = self._gather(now)
        return self.judge(now, forecasts, failures)

    def judge(self, now: datetime, forecasts: Sequence[Forecast], failures: Sequence[Refusal]) -> Decision:
        """Return what the pure core makes of forecasts and of what is remembered.

        Parameters
        ----------
        now : datetime
            Aware UTC.
        forecasts : sequence of Forecast
            The last good answer of each source.
        failures : sequence of Refusal
            Sources that gave nothing.

        Returns
        -------
        Decision
            Not yet committed.
        """
        state = self.store.load_state(self.garden.site.season_start(now))
        return decide(now, self.garden, forecasts, failures, state)

    def next_call(self, now: datetime) -> datetime | None:
        """Return when the next reminder or final call is due, or ``None``."""
        return next_call(self.garden, self.store.load_state(self.garden.site.season_start(now)), now)

    def _gather(self, now: datetime) -> tuple[list[Forecast], list[Refusal], list[Finding]]:
        """Ask every source; where one fails, its last good answer stands until it is stale."""
        forecasts: list[Forecast] = []
        failures: list[Refusal] = []
        news: list[Finding] = []
        for source in self.sources:
            try:
                forecast, findings = source.get(now)
            except SourceError as error:
                last = self._last_good.get(source.name)
                if last is not None:
                    forecasts.append(last)
                failures.append(Refusal(source.name, str(error)))
                continue
            if self._is_new(forecast):
                news += findings
            kept = self._better(forecast, now)
            self._last_good[source.name] = kept
            forecasts.append(kept)
        return forecasts, failures, news

    def _better(self, forecast: Forecast, now: datetime) -> Forecast:
        """Return the forecast, or the one before if that serves better.

        Services have answered with days-old forecasts, and a file may be read while it is being written.
        """
        last = self._last_good.get(forecast.source)
        if last is None:
            return forecast
        if forecast.forecast_reference_time < last.forecast_reference_time:
            made = instant_text(forecast.forecast_reference_time)
            return replace(last, problem=f"answers with an older forecast than before, made {made}")
        reason = reason_to_refuse(now, self.garden, forecast)
        if reason is None or reason_to_refuse(now, self.garden, last) is not None:
            return forecast
        return replace(last, problem=f"the newest answer cannot be used, {reason}")

    def _is_new(self, forecast: Forecast) -> bool:
        """Return whether a source has made a forecast that was not seen before."""
        last = self._last_good.get(forecast.source)
        return last is None or last.forecast_reference_time != forecast.forecast_reference_time

    def _commit(self, decision: Decision, findings: Sequence[Finding], version: int) -> None:
        """Write alerts, letters and evidence of a decision together."""
        head = str(self.store.head())
        letters = compose(decision, self.garden, self.readership.readers, head)
        addressed = tuple(Addressed(each, self.readership.channels[each.recipient], head) for each in letters)
        events = (
            evaluation_event(decision, findings),
            *transition_events(decision.now, decision.transitions),
            *(letter_event(each.letter, each.channels) for each in addressed),
        )
        self.store.commit(
            Commit(
                now=decision.now,
                alerts=decision.changed_alerts,
                letters=addressed,
                events=events,
                based_on=version,
            )
        )
