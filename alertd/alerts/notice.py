"""A notice: what one message says about one alert."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from alertd.plan import Task
    from alertd.risk import ColdSpell, Threshold

    from .alert import Alert, Announcement
    from .lifecycle import Event, NoticeKind


class Change(StrEnum):
    """What changed enough to be told."""

    MORE_SEVERE = "more_severe"
    EARLIER_ONSET = "earlier_onset"
    COLDER = "colder"
    EARLIER_START = "earlier_start"


@dataclass(frozen=True, slots=True)
class Notice:
    """Facts of one alert for the people who read a message.

    Parameters
    ----------
    kind : NoticeKind
        What is told.
    alert : Alert
        As it stands now.
    before : Announcement or None
        What was told last; ``None`` when it opens.
    task : Task or None
        What is to be done; ``None`` for matters of the whole site.
    threshold : Threshold or None
        The rule that spoke, with its critical temperature.
    changes : tuple of Change
        Why it is told again.
    in_place_of : str
        Name of the person who has not answered, where somebody else is told in that person's place; else ``""``.
    latest : ColdSpell or None
        The cold as the forecast has it now, where it was announced earlier and waited to be told.
    models : tuple of Threshold
        What models say of the group, judged as if the alert's task were not done; each with its critical temperature.
    """

    kind: NoticeKind
    alert: Alert
    before: Announcement | None
    task: Task | None
    threshold: Threshold | None
    changes: tuple[Change, ...] = ()
    in_place_of: str = ""
    latest: ColdSpell | None = None
    models: tuple[Threshold, ...] = ()


@dataclass(frozen=True, slots=True)
class Standing:
    """An open alert as an evaluation leaves it, whether or not there is anything new to tell.

    Parameters
    ----------
    alert : Alert
        As it stands now.
    task : Task or None
        What is to be done, as things are now; ``None`` for matters of the whole site.
    threshold : Threshold or None
        The rule that speaks, where one still does.
    spell : ColdSpell or None
        The cold as the forecast has it now.
    models : tuple of Threshold
        What models say of the group, judged as if the alert's task were not done; each with its critical temperature.
    """

    alert: Alert
    task: Task | None = None
    threshold: Threshold | None = None
    spell: ColdSpell | None = None
    models: tuple[Threshold, ...] = ()


@dataclass(frozen=True, slots=True)
class Transition:
    """One step in the life of an alert, with or without a notice.

    Parameters
    ----------
    event : Event
        What happened.
    before : Alert or None
        ``None`` when it opens.
    after : Alert
        As it stands now.
    notice : Notice or None
        What is told, if anything.
    """

    event: Event
    before: Alert | None
    after: Alert
    notice: Notice | None
