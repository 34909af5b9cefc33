"""One evaluation, from sources to the store."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.alerts import Decision, Refusal, decide, model_reach, next_call, reason_to_refuse
from alertd.core import SourceError, StoreError, as_utc, instant_text
from alertd.messages import Correspondence, Reader, compose, tell
from alertd.store import Addressed, Commit, StateChanged
from alertd.thermal import ModelMemory
from alertd.weather import PAST_LENGTH, kept_text, observed_weather, parse_kept, past_weather, weather_to_keep

from .days_before import days_before, is_short
from .evidence import evaluation_event, letter_event, transition_events
from .thermometers import latest_indoors, outdoors

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from alertd.alerts import Garden, State
    from alertd.config import Loaded
    from alertd.sources import Source
    from alertd.store import Store
    from alertd.weather import Finding, Forecast, Series

#: An evaluation that meets somebody's report is made anew this often before it gives up.
_TRIES = 5

#: Under this the store remembers the weather of the days before, written this often; what is remembered reaches
#: further ahead than that. Assumed.
_WEATHER_NOTE = "weather"
_NOTE_PAUSE = timedelta(hours=3)

#: No letter waits longer: quiet hours and the time to the next digest are shorter than a day each.
_LETTERS_WAIT = timedelta(days=2)


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
        Reader(
            name=each.name,
            groups=frozenset() if set(each.groups) >= everything else frozenset(each.groups),
            quiet_hours=each.quiet_hours,
            digest=each.digest,
            digest_when_calm=each.digest_when_calm,
            escalates_to=each.escalates_to,
        )
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
    _next_letter: datetime | None = None
    _version: int | None = None
    _kept: Series | None = None
    _noted: datetime | None = None
    _memory: ModelMemory | None = None

    def remember(self, before: Watch) -> None:
        """Take over the last good forecasts of a watch that asked the same sources.

        Parameters
        ----------
        before : Watch
            The one whose place this one takes.
        """
        self._last_good.update(before._last_good)
        self._kept = before._kept
        if before.garden.site == self.garden.site:
            self._memory = before._memory

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
        past, sensors = self._before(now, forecasts)
        for _ in range(_TRIES):
            version = self.store.state_version()
            decision = self.judge(now, forecasts, failures, past, self._remembered(), sensors)
            try:
                self._commit(decision, findings, version, past)
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
        past, sensors = self._before(now, forecasts)
        return self.judge(now, forecasts, failures, past, sensors=sensors)

    def judge(
        self,
        now: datetime,
        forecasts: Sequence[Forecast],
        failures: Sequence[Refusal],
        past: Series | None = None,
        memory: ModelMemory | None = None,
        sensors: Mapping[str, float] | None = None,
    ) -> Decision:
        """Return what the pure core makes of forecasts and of what is remembered.

        Parameters
        ----------
        now : datetime
            Aware UTC.
        forecasts : sequence of Forecast
            The last good answer of each source.
        failures : sequence of Refusal
            Sources that gave nothing.
        past : Series or None
            Weather of the days before, shape (1, n_times).
        memory : ModelMemory or None
            What models computed at earlier looks; ``None`` has them compute all anew, as far as forecasts go.
        sensors : mapping of str to float or None
            [°C] What thermometers in store rooms said lately, by station.

        Returns
        -------
        Decision
            Not yet committed.
        """
        return decide(now, self.garden, forecasts, failures, self._state(now), past, memory, sensors)

    def _remembered(self) -> ModelMemory | None:
        """Return what models computed before, if any rule judges by them."""
        if not self.garden.rules.judge_by_models:
            return None
        reach = model_reach(self.garden)
        if self._memory is None or self._memory.reach != reach:
            self._memory = ModelMemory(reach)
        return self._memory

    def next_call(self, now: datetime) -> datetime | None:
        """Return when the next reminder, final call, digest or letter that waits is due, or ``None``."""
        calls = (next_call(self.garden, self._state(now), now), self._next_letter)
        return min((call for call in calls if call is not None and call > now), default=None)

    def has_reports(self) -> bool:
        """Return whether somebody has reported anything since the last evaluation; ``False`` before the first.

        Raises
        ------
        StoreError
            If the store cannot be read.
        """
        return self._version is not None and self.store.state_version() != self._version

    def _state(self, now: datetime) -> State:
        """Return what is remembered: of this season, and what ended so late before that letters may still wait."""
        return self.store.load_state(self.garden.site.season_start(now - _LETTERS_WAIT))

    def _before(self, now: datetime, forecasts: Sequence[Forecast]) -> tuple[Series | None, dict[str, float]]:
        """Return what models start from, if any rule judges by them.

        The first is the weather of the days before, by thermometers in the open, forecasts and what was remembered; the
        second what thermometers in store rooms said lately [°C], by station.
        """
        if not self.garden.rules.judge_by_models:
            return None, {}
        if self._kept is None:
            self._kept = parse_kept(self.store.get_note(_WEATHER_NOTE))
        observations = self.store.recent_observations(now, PAST_LENGTH / timedelta(hours=1))
        observed = observed_weather(outdoors(observations, self.garden.groups)).series
        known = [forecast.series for forecast in forecasts]
        past = past_weather(now, known, self._kept, observed)
        if is_short(past):
            past = past_weather(now, [*known, *days_before(self.sources, now)], self._kept, observed)
        return past, latest_indoors(observations, self.garden.groups, now)

    def _weather_note(self, now: datetime, decision: Decision, past: Series | None) -> dict[str, str]:
        """Return the note by which the weather is remembered, where it is time to write it."""
        if not self.garden.rules.judge_by_models:
            return {}
        self._kept = weather_to_keep(now, past, decision.outlook.series)
        if self._kept is None or (self._noted is not None and self._noted <= now < self._noted + _NOTE_PAUSE):
            return {}
        self._noted = now
        return {_WEATHER_NOTE: kept_text(self._kept)}

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

    def _commit(
        self, decision: Decision, findings: Sequence[Finding], version: int, past: Series | None = None
    ) -> None:
        """Write alerts, letters and evidence of a decision together."""
        head = str(self.store.head())
        known = self._correspondence()
        tellings = tell(decision, self.garden, self.readership.readers, known)
        letters = (compose(each, decision, self.garden, head) for each in tellings if each.is_letter)
        addressed = tuple(Addressed(each, self.readership.channels[each.recipient], head) for each in letters)
        changed = {each.reader.name: each.after for each in tellings if each.after != known.get(each.reader.name)}
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
                notes={
                    **{_note_key(name): each.text for name, each in changed.items()},
                    **self._weather_note(decision.now, decision, past),
                },
                based_on=version,
            )
        )
        self._next_letter = min((each.next_at for each in tellings if each.next_at is not None), default=None)
        self._version = version + bool(decision.changed_alerts)

    def _correspondence(self) -> dict[str, Correspondence]:
        """Return what each reader has been told, of those of whom that was noted."""
        noted = {reader.name: self.store.get_note(_note_key(reader.name)) for reader in self.readership.readers}
        return {name: Correspondence.parse(text) for name, text in noted.items() if text is not None}


def _note_key(name: str) -> str:
    """Return the key under which the store notes what a reader has been told."""
    return f"correspondence:{name}"
