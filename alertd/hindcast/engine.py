"""Past weather run through the whole chain, with an injected clock."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.alerts import AlertState, can_be_reported
from alertd.core import as_utc, from_datetime64
from alertd.site import Condition
from alertd.store import Store
from alertd.watch import Watch, done
from alertd.weather import PAST_LENGTH

from .record_source import RecordSource
from .truth import harmful_spells, hours_below, models_over

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from alertd.alerts import Alert, Decision, Garden
    from alertd.messages import Letter
    from alertd.sources import Source
    from alertd.watch import Readership
    from alertd.weather import Series

    from .truth import HarmfulSpell, HoursBelow


@dataclass(frozen=True, slots=True)
class HindcastSettings:
    """How past weather is played.

    Parameters
    ----------
    start, end : datetime or None
        Aware; ``None`` for the record's first and last time.
    every : timedelta
        Between two evaluations.
    reach : timedelta
        How far ahead each forecast goes.
    is_exact : bool
        The forecast is the truth, without an error of its own.
    assumes_done : bool
        Somebody does each task at its latest start and reports it; otherwise nobody ever answers.
    """

    start: datetime | None = None
    end: datetime | None = None
    every: timedelta = timedelta(hours=1)
    reach: timedelta = timedelta(hours=168)
    is_exact: bool = False
    assumes_done: bool = False


@dataclass(frozen=True, slots=True)
class Hindcast:
    """What a hindcast gave.

    Parameters
    ----------
    garden : Garden
        As it was judged.
    start, end : datetime
        First and last evaluation, aware UTC.
    evaluations : int
        How many.
    alerts : tuple of Alert
        In order of opening.
    letters : tuple of Letter
        In order.
    hours_below : tuple of HoursBelow
        How often the air passed each threshold between start and end.
    harmful : tuple of HarmfulSpell
        What would have harmed groups standing bare, between start and end.
    stood : mapping of str to sequence of (datetime, Condition)
        By group id: from when on it stood how, in order.
    """

    garden: Garden
    start: datetime
    end: datetime
    evaluations: int
    alerts: tuple[Alert, ...]
    letters: tuple[Letter, ...]
    hours_below: tuple[HoursBelow, ...]
    harmful: tuple[HarmfulSpell, ...]
    stood: Mapping[str, Sequence[tuple[datetime, Condition]]]

    def stood_at(self, group: str, instant: datetime) -> Condition:
        """Return how a group stood at an instant."""
        return [condition for since, condition in self.stood[group] if since <= instant][-1]


def run_hindcast(
    garden: Garden,
    readership: Readership,
    record: Series,
    settings: HindcastSettings,
    sources: Sequence[Source] = (),
) -> Hindcast:
    """Play past weather through the same evaluation as the daemon's, over a store in memory.

    Parameters
    ----------
    garden : Garden
        The configuration.
    readership : Readership
        Who would have been told.
    record : Series
        What the weather did, shape (1, n_times) [°C], quality-checked.
    settings : HindcastSettings
        Span, step, reach.
    sources : sequence of Source
        Archived forecasts; none for forecasts made of the record.

    Returns
    -------
    Hindcast
        Alerts, letters and truth.

    Raises
    ------
    ValueError
        If the record has several realizations, or the span holds no time of it.
    """
    if record.n_realizations != 1 or record.n_times == 0:
        message = f"a record has one realization and some times, not {record.n_realizations} and {record.n_times}"
        raise ValueError(message)
    last = from_datetime64(record.times[-1])
    start = as_utc(settings.start) if settings.start is not None else from_datetime64(record.times[0])
    end = min(as_utc(settings.end), last) if settings.end is not None else last
    judged = replace(garden, is_exact=settings.is_exact)
    if start > end:
        message = f"the record has no time between {start.isoformat()} and {end.isoformat()}"
        raise ValueError(message)
    with Store.open(None, durable=False) as store:
        asked = sources or (RecordSource("record", record, settings.reach),)
        player = _Player(Watch(judged, asked, readership, store), settings, start, end, last)
        player.play()
        letters = tuple(item.letter for item in store.outbox_items())
        alerts = tuple(sorted(store.all_alerts(), key=lambda alert: (alert.opened.sent, alert.alert_id)))
    lived = record.window(start, end + timedelta(seconds=1))
    models = models_over(judged, lived, record.window(start - PAST_LENGTH, start))
    return Hindcast(
        garden=judged,
        start=start,
        end=end,
        evaluations=player.evaluations,
        alerts=alerts,
        letters=letters,
        hours_below=hours_below(judged, lived, models),
        harmful=harmful_spells(judged, lived, models),
        stood=player.stood,
    )


@dataclass(slots=True)
class _Player:
    """Steps the clock from evaluation to evaluation."""

    watch: Watch
    settings: HindcastSettings
    start: datetime
    end: datetime
    last: datetime
    evaluations: int = 0
    stood: dict[str, list[tuple[datetime, Condition]]] = field(default_factory=dict)

    def play(self) -> None:
        """Evaluate at every step, and whenever a reminder or a final call is due."""
        judged = self.watch.garden
        self.stood = {group.group_id: [(self.start, Condition())] for group in judged.groups}
        now, step = self.start, 0
        while now <= self.end:
            left = max(self.last - now, timedelta(0))
            self.watch.garden = replace(judged, must_see=min(judged.must_see, left))
            self._remember(self.watch.evaluate(now))
            self.evaluations += 1
            if self.settings.assumes_done:
                self._answer(now)
            while self.start + step * self.settings.every <= now:
                step += 1
            following = self.start + step * self.settings.every
            now = min(following, self.watch.next_call(now) or following)

    def _remember(self, decision: Decision) -> None:
        """Keep how each group stood, where it changed."""
        for group, condition in decision.conditions.items():
            if self.stood[group][-1][1] != condition:
                self.stood[group].append((decision.now, condition))

    def _answer(self, now: datetime) -> None:
        """Report what is due as done, as somebody would who begins at the latest start."""
        watch = self.watch
        for alert in watch.store.load_state(watch.garden.site.season_start(now)).alerts:
            start_by = alert.announced.start_by
            is_time = start_by is None or now >= start_by
            if alert.group in self.stood and alert.state is AlertState.EXECUTE and is_time and can_be_reported(alert):
                done(watch.garden, watch.store, alert.alert_id, now)
