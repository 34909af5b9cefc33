"""One matter as a reader sees it: a headline and what stands below it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from alertd.alerts import AlertState, Change, NoticeKind
from alertd.core import difference_in_unit, temperature_text, threshold_text
from alertd.plan import CAUTION_TEXTS, KILOGRAMS_PER_POUND, Action, pot_mass
from alertd.risk import Rule

from .felt import air_rule_text, felt_text
from .when import length_text, month_day_text, span_text, when_text
from .wording import ACTION_ADVICE, RULE_REASONS, action_phrase, bound_text, percent_text, sentence

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.alerts import Announcement, Garden, Notice
    from alertd.risk import ColdSpell

_OF_SPRING = {Action.OPEN_COVER, Action.LIFT_COVER, Action.BRING_OUT}
_ENDS = {NoticeKind.CANCELLED, NoticeKind.EXPIRED, NoticeKind.ALL_CLEAR, NoticeKind.CLOSED}
_NOTHING_TO_DO = _ENDS | {NoticeKind.ANSWERED}

_MAY_STAY = "What is in place may stay in place."
_OPEN_BY_DAY = "Open night covers in the morning, and keep them at hand."
_AFTERWARDS = {Action.SHIELD: _OPEN_BY_DAY, Action.COVER_AGAIN: _OPEN_BY_DAY}

_CHANGE_WORDS = {
    Change.MORE_SEVERE: "more severe",
    Change.EARLIER_ONSET: "earlier",
    Change.COLDER: "colder",
    Change.EARLIER_START: "more pressing",
}


@dataclass(frozen=True, slots=True)
class Item:
    """One matter in a message.

    Parameters
    ----------
    headline : str
        What to do and by when, in one line without a full stop.
    facts : tuple of (str, str)
        Labelled lines: why, work, how, take care, answer.
    alert_id : str
        Names the matter.
    """

    headline: str
    facts: tuple[tuple[str, str], ...]
    alert_id: str


def item_of(notice: Notice, garden: Garden, now: datetime) -> Item:
    """Return what a reader sees of a notice.

    Parameters
    ----------
    notice : Notice
        The facts.
    garden : Garden
        Units, local time, names of groups.
    now : datetime
        Aware.

    Returns
    -------
    Item
        Headline and labelled lines.
    """
    name = next((group.name for group in garden.groups if group.group_id == notice.alert.group), notice.alert.group)
    writer = _Writer(notice, garden, now, name)
    facts = [("Why", writer.why()), ("Why you", writer.why_you())]
    if notice.kind not in _NOTHING_TO_DO:
        is_known = notice.kind in {NoticeKind.REMINDER, NoticeKind.FINAL_CALL} and notice.before is not None
        facts += [
            ("Model", felt_text(notice, garden, now)),
            ("Work", writer.work()),
            ("How", "" if is_known else ACTION_ADVICE[notice.alert.action]),
        ]
        facts += [("Note", writer.note()), ("Take care", writer.cautions()), *writer.answers()]
    elif notice.kind is NoticeKind.EXPIRED and notice.alert.action not in _OF_SPRING:
        facts.append(("Next", "Look at the trees, and mark what was done after all with alertd mark."))
    bound = tuple((label, bound_text(text)) for label, text in facts if text)
    return Item(sentence(writer.headline()), bound, notice.alert.alert_id)


@dataclass(frozen=True, slots=True)
class _Writer:
    """Finds the words for one notice."""

    notice: Notice
    garden: Garden
    now: datetime
    name: str

    @property
    def phrase(self) -> str:
        """What is to be done."""
        return action_phrase(self.notice.alert.action, self.name)

    @property
    def is_known(self) -> bool:
        """Whether the group is still in the configuration."""
        return any(group.group_id == self.notice.alert.group for group in self.garden.groups)

    def when(self, instant: datetime | None) -> str:
        """Return an instant as people say it."""
        return "an unknown time" if instant is None else when_text(instant, self.now, self.garden.site)

    def degrees(self, temperature: float | None) -> str:
        """Return a temperature in the reader's unit."""
        return "unknown" if temperature is None else temperature_text(temperature, self.garden.units)

    def limit(self, temperature: float) -> str:
        """Return a threshold in the reader's unit."""
        return threshold_text(temperature, self.garden.units)

    def headline(self) -> str:
        """Return the one line that must be read."""
        alert, kind = self.notice.alert, self.notice.kind
        if alert.rule is Rule.BLIND:
            return "the watch sees again" if kind in _ENDS else f"the watch is blind: {self.phrase}"
        if kind in _ENDS:
            return self._headline_of_end()
        if kind is NoticeKind.ANSWERED:
            return f"{'taken care of' if alert.state is AlertState.DONE else 'set aside'}: {self.phrase}"
        start_by = alert.announced.start_by
        if start_by is None:
            return f"you can {self.phrase} now"
        by = self.when(start_by)
        headlines = {
            NoticeKind.CHANGED: f"{self._foremost_change()} than told: {self._headline_of_work(by)}",
            NoticeKind.POSTPONED: f"not yet after all: {self.phrase} later, start by {by}",
            NoticeKind.FINAL_CALL: f"last call: {self.phrase}, start now",
            NoticeKind.REMINDER: f"still to do: {self.phrase}, start by {by}",
        }
        return headlines.get(kind) or self._headline_of_work(by)

    def _foremost_change(self) -> str:
        """Return in a word what has changed most."""
        return _CHANGE_WORDS[self.notice.changes[0]] if self.notice.changes else "otherwise"

    def _headline_of_work(self, by: str) -> str:
        """Return the line of a task that is told for the first time or anew."""
        alert, task = self.notice.alert, self.notice.task
        if alert.state is AlertState.PREPARE:
            return f"get ready to {self.phrase}, start by {by}"
        onset, start_by = alert.announced.onset, alert.announced.start_by
        is_late = start_by is not None and start_by <= self.now
        if is_late and onset is not None and onset <= self.now:
            return f"{self.phrase} at once, the cold is here since {self.when(onset)}"
        if is_late or (task is not None and not task.is_enough):
            return f"{self.phrase} at once, the cold comes at {self.when(onset)}"
        return f"{self.phrase}, start by {by}"

    def _headline_of_end(self) -> str:
        """Return the line of a matter that has ended."""
        kind, is_of_spring = self.notice.kind, self.notice.alert.action in _OF_SPRING
        if kind is NoticeKind.CANCELLED:
            is_to_wait = is_of_spring and self.is_known
            return f"wait, do not {self.phrase} yet" if is_to_wait else f"no need to {self.phrase}"
        if kind is NoticeKind.EXPIRED:
            end = "nobody has answered" if is_of_spring else "the cold has passed, nobody reported it done"
            return f"{self.phrase}: {end}"
        if kind is NoticeKind.ALL_CLEAR:
            return f"noted for {self.name}" if is_of_spring else f"all clear for {self.name}"
        return f"set aside and over: {self.phrase}"

    def why(self) -> str:
        """Return the reason, with numbers."""
        alert, kind = self.notice.alert, self.notice.kind
        if alert.rule is Rule.BLIND:
            return "A usable forecast has come in." if kind in _ENDS else "No usable forecast is left."
        if not self.is_known:
            return "The group is no longer in the configuration."
        if alert.action in _OF_SPRING:
            return self._why_of_spring()
        if kind in _NOTHING_TO_DO:
            return self._why_of_end()
        beside = air_rule_text(self.notice, self.garden)
        parts = (self._changes(), sentence(self._expected()) + ".", self._latest(), self._rule(), beside)
        return " ".join(part for part in parts if part)

    def _why_of_end(self) -> str:
        """Return the reason of the end of a matter of cold."""
        kind = self.notice.kind
        if kind is NoticeKind.ANSWERED:
            is_done = self.notice.alert.state is AlertState.DONE
            said = "Somebody has reported it done" if is_done else "Somebody has set it aside"
            return f"{said}. Nothing is left for you to do."
        if kind is NoticeKind.CANCELLED:
            return f"The forecast has eased. Last told: {self._expected()}."
        rest = " What is in place may stay in place." if kind is NoticeKind.ALL_CLEAR else ""
        return f"The spell is over; it was told as {self._expected()}.{rest}"

    def why_you(self) -> str:
        """Return why somebody reads of it who does not care for the group."""
        asked_for, kind = self.notice.in_place_of, self.notice.kind
        if not asked_for:
            return ""
        if kind in _NOTHING_TO_DO or kind is NoticeKind.POSTPONED:
            return f"You were asked in place of {asked_for}."
        return f"Nobody has answered yet, and you are the next to ask after {asked_for}."

    def _why_of_spring(self) -> str:
        """Return the reason of a matter of spring."""
        limit = self.garden.classes[self._class_name()].spring_limit
        kind = self.notice.kind
        if kind is NoticeKind.CANCELLED:
            return f"Frost below {self.limit(limit)} is back in the forecast."
        if kind is NoticeKind.ALL_CLEAR:
            return "Reported done. A late frost will be told; keep the covers, or the way into store, at hand."
        if kind in _ENDS:
            return "The invitation has lapsed; it is not repeated this season."
        settings = self.garden.rules
        rule = settings.bring_out if self.notice.alert.rule is Rule.BRING_OUT else settings.uncover
        days = round(rule.horizon.total_seconds() / 86400.0)
        trusted = month_day_text(self.garden.site.last_freeze)
        return (
            f"The last-freeze date, {trusted}, has passed, and the air stays above {self.limit(limit)} for "
            f"the next {days} days ({self._percent()} that it does not)."
        )

    def _class_name(self) -> str:
        """Return the hardiness class of the group."""
        return next(each.hardiness_class for each in self.garden.groups if each.group_id == self.notice.alert.group)

    def _percent(self) -> str:
        """Return the probability as people read it, never as a certainty that a forecast cannot have."""
        return percent_text(self.notice.alert.announced.probability, is_exact=self.garden.is_exact)

    def _expected(self) -> str:
        """Return the expected cold: minimum, range, time, probability."""
        return self._cold(self.notice.alert.announced)

    def _latest(self) -> str:
        """Return how the forecast has the cold by now, where it was announced otherwise and waited to be told."""
        latest = self.notice.latest
        if latest is None or latest.onset <= self.now or self._cold(latest) == self._expected():
            return ""
        sent = self.when(self.notice.alert.announced.sent)
        return f"That was the forecast at {sent}; the latest one has {self._cold(latest)}."

    def _cold(self, told: Announcement | ColdSpell) -> str:
        """Return a cold spell: minimum of the air, range, time, probability."""
        low, high = self.degrees(told.minimum_low), self.degrees(told.minimum_high)
        spread = "" if low == high else f" ({low.split()[0]} to {high})"
        span = "at an unknown time"
        if told.onset is not None:
            span = span_text(told.onset, told.end or told.onset, self.now, self.garden.site)
        percent = percent_text(told.probability, is_exact=self.garden.is_exact)
        rule = self.notice.alert.rule if self.notice.threshold is None else self.notice.threshold.rule
        lowest = "lowest air" if rule.judges_by_model else "lowest"
        return f"{lowest} {self.degrees(told.minimum)}{spread} {span}, probability {percent}"

    def _rule(self) -> str:
        """Return which rule speaks, and on what ground."""
        threshold = self.notice.threshold
        if threshold is None:
            return ""
        text = (
            f"The rule {threshold.rule.value} speaks at {self.limit(threshold.critical.temperature)}, "
            f"{RULE_REASONS[threshold.rule]}"
        )
        if threshold.gain > 0.0:
            credit = f"{difference_in_unit(threshold.gain, self.garden.units):.0f} {self.garden.units.symbol}"
            text += f"; the cover in place is credited {credit}"
        return text + "."

    def _changes(self) -> str:
        """Return what has changed since people were last told."""
        before, told = self.notice.before, self.notice.alert.announced
        if before is None or not self.notice.changes:
            return ""
        parts = []
        for change in self.notice.changes:
            if change is Change.MORE_SEVERE:
                parts.append(f"more severe ({told.severity.value} instead of {before.severity.value})")
            elif change is Change.EARLIER_ONSET:
                parts.append(f"earlier (from {self.when(told.onset)} instead of {self.when(before.onset)})")
            elif change is Change.COLDER:
                parts.append(f"colder ({self.degrees(told.minimum)} instead of {self.degrees(before.minimum)})")
            else:
                parts.append(f"start earlier (by {self.when(told.start_by)} instead of {self.when(before.start_by)})")
        return f"Changed: {', '.join(parts)}."

    def work(self) -> str:
        """Return how much work it is."""
        task = self.notice.task
        if task is None:
            return ""
        people = "1 person" if task.people == 1 else f"{task.people} people"
        trees = f"{task.group.count} {task.group.species}"
        volume = task.group.container_volume
        pots = "" if volume is None else f" in {volume:g} L pots"
        return f"{trees}{pots}; about {length_text(task.effort)} for {people}."

    def note(self) -> str:
        """Return what the configuration notes of the group."""
        return "" if self.notice.task is None else self.notice.task.group.notes

    def cautions(self) -> str:
        """Return what to mind."""
        task = self.notice.task
        if task is None:
            return ""
        mass = pot_mass(task.group.container_volume or 0.0)
        weights = {"kilograms": f"{mass:.0f}", "pounds": f"{mass / KILOGRAMS_PER_POUND:.0f}"}
        return " ".join(CAUTION_TEXTS[caution].format(**weights) for caution in task.cautions)

    def answers(self) -> list[tuple[str, str]]:
        """Return how to answer."""
        if self.notice.alert.rule is Rule.BLIND:
            return [("See", "alertd check says what is wrong with the sources.")]
        alert_id = self.notice.alert.alert_id
        return [("Done", f"alertd done {alert_id}"), ("Not this time", f"alertd done {alert_id} --not-this-time")]
