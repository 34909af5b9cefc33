"""What the digest of a day holds beside what is new: what is open, what comes next, the nights ahead."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from alertd.alerts import AlertState
from alertd.core import temperature_text
from alertd.risk import Rule, nights_ahead

from .when import span_text, weekday_text, when_text
from .wording import action_phrase, bound_text, percent_text, sentence

if TYPE_CHECKING:
    from collections.abc import Collection
    from datetime import date, datetime

    from alertd.alerts import Alert, Decision, Garden, Standing
    from alertd.risk import Night

    from .reader import Reader

#: So many nights are told at most. Forecasts farther ahead say little of a single night (common practice, no source).
NIGHTS_TOLD = 5

#: A night that hurts a group with this probability or more says which. Below it the figure would be 0 %.
_WORTH_NAMING = 0.005

_TO_DO = (AlertState.PREPARE, AlertState.EXECUTE)


@dataclass(frozen=True, slots=True)
class Digest:
    """The digest's own parts.

    Parameters
    ----------
    following : str
        What is to be done next, in one line without a full stop.
    is_following_new : bool
        Whether the same letter tells it as new.
    open_matters : tuple of str
        One line for each open matter that the letter does not tell as new.
    nights : tuple of str
        One line for each night ahead; empty if the watch is blind.
    coldest : str
        The coldest of them in a few words, or ``""``.
    """

    following: str
    is_following_new: bool
    open_matters: tuple[str, ...]
    nights: tuple[str, ...]
    coldest: str


def digest_of(decision: Decision, garden: Garden, reader: Reader, told: Collection[str]) -> Digest:
    """Return what the digest of a day holds for a reader.

    Parameters
    ----------
    decision : Decision
        The evaluation.
    garden : Garden
        Names, units, local time.
    reader : Reader
        Only matters of the groups that the reader cares for.
    told : collection of str
        Ids of alerts of which the same letter tells something new.

    Returns
    -------
    Digest
        In words.
    """
    mine = [each for each in decision.standings if reader.cares_for(each.alert.group)]
    mine.sort(key=lambda each: (_start(each.alert, decision.now), each.alert.alert_id))
    words = _Words(decision, garden, reader)
    coming = [each.alert for each in mine if each.alert.state in _TO_DO]
    nights = words.nights()
    coldest = min(nights, key=lambda night: night.minimum, default=None)
    return Digest(
        following=words.headline(coming[0]) if coming else "nothing to do",
        is_following_new=bool(coming) and coming[0].alert_id in told,
        open_matters=tuple(bound_text(words.line(each)) for each in mine if each.alert.alert_id not in told),
        nights=tuple(bound_text(words.night_line(night)) for night in nights),
        coldest="" if coldest is None else f"{words.degrees(coldest.minimum)} {words.night_name(coldest.evening)}",
    )


def _start(alert: Alert, now: datetime) -> float:
    """Return the place of an alert by its latest start; what is done or has none comes last."""
    start_by = alert.announced.start_by
    if alert.rule is Rule.BLIND:
        return now.timestamp()
    return float("inf") if start_by is None or alert.state not in _TO_DO else start_by.timestamp()


@dataclass(frozen=True, slots=True)
class _Words:
    """Finds the words for one digest."""

    decision: Decision
    garden: Garden
    reader: Reader

    def when(self, instant: datetime) -> str:
        """Return an instant as people say it."""
        return when_text(instant, self.decision.now, self.garden.site)

    def degrees(self, temperature: float) -> str:
        """Return a temperature in the reader's unit."""
        return temperature_text(temperature, self.garden.units)

    def name(self, group_id: str) -> str:
        """Return the name of a group."""
        return next((group.name for group in self.garden.groups if group.group_id == group_id), group_id)

    def headline(self, alert: Alert) -> str:
        """Return what is to be done about an open alert, and by when."""
        phrase, start_by = action_phrase(alert.action, self.name(alert.group)), alert.announced.start_by
        if alert.rule is Rule.BLIND:
            return f"the watch is blind, {phrase}"
        if start_by is None:
            return f"you can {phrase}"
        if alert.state is AlertState.PREPARE:
            return f"get ready to {phrase}, start by {self.when(start_by)}"
        if start_by <= self.decision.now:
            return f"{phrase}, it was to begin by {self.when(start_by)}"
        return f"{phrase}, start by {self.when(start_by)}"

    def line(self, standing: Standing) -> str:
        """Return one open matter in a line or two."""
        alert = standing.alert
        phrase = sentence(action_phrase(alert.action, self.name(alert.group)))
        if alert.state is AlertState.DECLINED:
            return f"{phrase}: set aside.{self._expected(standing)}"
        if alert.state is AlertState.DONE:
            return f"{phrase}: done.{self._expected(standing)}"
        answer = "" if alert.rule is Rule.BLIND else f" Done: alertd done {alert.alert_id}"
        return f"{sentence(self.headline(alert))}.{self._expected(standing)}{answer}"

    def _expected(self, standing: Standing) -> str:
        """Return the cold as the forecast has it now, else as it was told, as a sentence after a space.

        Of cold that has come the forecast shows the rest only. Where it is no matter of cold, nothing.
        """
        spell = standing.spell
        told = standing.alert.announced if spell is None or spell.onset <= self.decision.now else spell
        if told.minimum is None or told.onset is None:
            return ""
        span = span_text(told.onset, told.end or told.onset, self.decision.now, self.garden.site)
        percent = percent_text(told.probability, is_exact=self.garden.is_exact)
        lowest = "Lowest air" if standing.alert.rule.judges_by_model else "Lowest"
        return f" {lowest} {self.degrees(told.minimum)} {span}, probability {percent}."

    def nights(self) -> tuple[Night, ...]:
        """Return the nights that the forecast shows, with what they mean for the reader's groups."""
        series = self.decision.outlook.series
        if series is None:
            return ()
        mine = [each for each in self.decision.assessments if self.reader.cares_for(each.group)]
        gap = self.garden.longest_gap
        return nights_ahead(self.garden.site, series, mine, self.decision.now, most=NIGHTS_TOLD, gap=gap)

    def night_name(self, evening: date) -> str:
        """Return how people call a night."""
        days = (evening - self.garden.site.local(self.decision.now).date()).days
        names = {-1: "this night", 0: "tonight", 1: "tomorrow night"}
        return names.get(days) or f"{weekday_text(evening)} night"

    def night_line(self, night: Night) -> str:
        """Return one night in a line."""
        low, high = self.degrees(night.minimum_low), self.degrees(night.minimum_high)
        spread = "" if low == high else f" ({low.split()[0]} to {high})"
        name = sentence(self.night_name(night.evening))
        return f"{name}: lowest {self.degrees(night.minimum)}{spread}, {self._threat(night)}."

    def _threat(self, night: Night) -> str:
        """Return whom a night would hurt, and how probably."""
        if not night.threats:
            return "nothing of yours stands where it could be hurt"
        named = [(group, probability) for group, probability in night.threats if probability >= _WORTH_NAMING]
        if not named:
            return "less than 1 % that it hurts anything"
        (group, probability), *others = named
        more = f" ({len(others)} more at risk)" if others else ""
        percent = percent_text(probability, is_exact=self.garden.is_exact)
        return f"{percent} that it hurts {self.name(group)} as they stand{more}"
