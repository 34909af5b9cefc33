"""The people of the demo: what they do about a message, and when they say so."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING

from alertd.alerts import AlertState, NoticeKind
from alertd.core import as_utc
from alertd.plan import Action
from alertd.site import working_slots

from .script import TIME_ZONE

if TYPE_CHECKING:
    from alertd.alerts import Garden, Notice


class Habit(StrEnum):
    """How people answer a task."""

    ACTS = "acts"
    WAITS_FOR_LAST_CALL = "waits for the last call"
    DECLINES = "declines"


#: (group, action, local month in which it is told): what is not simply done and reported.
HABITS = {
    ("young-figs", Action.BEND_DOWN, 12): Habit.WAITS_FOR_LAST_CALL,
    ("persimmons", Action.SHIELD, 1): Habit.DECLINES,
}

#: (group, word, when) What people mark of their own accord, aware UTC.
MARKS = (("persimmons", "budbreak", as_utc(datetime.combine(date(2026, 4, 21), time(10, 30), tzinfo=TIME_ZONE))),)

#: From a message until somebody has read it and put on boots. Assumed.
READS_WITHIN = timedelta(hours=1)

#: The same for work that nothing presses. Assumed.
AT_LEISURE = timedelta(days=1)

#: Covers for one night go on this long before the latest start. Assumed.
AHEAD_OF_NIGHT = timedelta(hours=4)

#: Work that has been asked for begins within this long, nights included. Assumed.
_LOOKS_AHEAD = timedelta(days=3)


@dataclass(frozen=True, slots=True)
class Answer:
    """A report that somebody will make.

    Parameters
    ----------
    at : datetime
        Aware UTC.
    alert_id : str
        Of what.
    group : str
        Group id.
    action : Action
        What was asked.
    habit : Habit
        Whether it is done or declined.
    """

    at: datetime
    alert_id: str
    group: str
    action: Action
    habit: Habit


@dataclass(slots=True)
class People:
    """Everybody who reads, as one pair of hands: tasks are done one after the other, in working hours.

    Parameters
    ----------
    garden : Garden
        Hours and light.
    """

    garden: Garden
    _answers: dict[str, Answer] = field(default_factory=dict)
    _busy_until: datetime | None = None

    def read(self, notice: Notice, now: datetime) -> None:
        """Read what is told, and decide when to act.

        Work that can wait is left to wait: nothing is done before a message says that it is time.

        Parameters
        ----------
        notice : Notice
            What a letter says of one alert.
        now : datetime
            Aware UTC.
        """
        alert, task = notice.alert, notice.task
        if notice.kind is NoticeKind.POSTPONED or not alert.is_open:
            self._answers.pop(alert.alert_id, None)
        if alert.state is not AlertState.EXECUTE or task is None or alert.alert_id in self._answers:
            return
        month = self.garden.site.local(now).month
        habit = HABITS.get((alert.group, alert.action, month), Habit.ACTS)
        if habit is Habit.WAITS_FOR_LAST_CALL and notice.kind is not NoticeKind.FINAL_CALL:
            return
        reads_at = now if notice.kind is NoticeKind.FINAL_CALL else now + READS_WITHIN
        if task.start_by is None:
            reads_at = now + AT_LEISURE
        elif alert.action is Action.SHIELD:
            reads_at = max(reads_at, task.start_by - AHEAD_OF_NIGHT)
        at = self._next_free(reads_at)
        if habit is not Habit.DECLINES:
            at += task.effort
            self._busy_until = at
        self._answers[alert.alert_id] = Answer(at, alert.alert_id, alert.group, alert.action, habit)

    def next_answer(self) -> datetime | None:
        """Return when somebody reports next, aware UTC, or ``None``."""
        return min((answer.at for answer in self._answers.values()), default=None)

    def due_answers(self, now: datetime) -> list[Answer]:
        """Take the reports that are made by now.

        Parameters
        ----------
        now : datetime
            Aware UTC.

        Returns
        -------
        list of Answer
            In the order of their times.
        """
        due = sorted((answer for answer in self._answers.values() if answer.at <= now), key=lambda answer: answer.at)
        for answer in due:
            del self._answers[answer.alert_id]
        return due

    def _next_free(self, earliest: datetime) -> datetime:
        """Return the first moment in working hours at which nobody is busy."""
        begin = earliest if self._busy_until is None else max(earliest, self._busy_until)
        slots = working_slots(self.garden.site, self.garden.work, begin, begin + _LOOKS_AHEAD)
        return slots[0].start.replace(microsecond=0) if slots else begin
