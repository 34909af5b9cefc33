"""Which changes of a forecast are told: those that change what somebody does."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from alertd.core import ResponseType

from .alert import AlertState
from .notice import Change

if TYPE_CHECKING:
    from collections.abc import Sequence

    from alertd.plan import Task
    from alertd.risk import ColdSpell, Threshold

    from .alert import Alert, Announcement

#: An onset this much earlier is told. Common practice, no source.
EARLIER_ONSET = timedelta(hours=3)

#: A minimum this much lower, past the threshold, is told [°C]. Common practice, no source.
LOWER_MINIMUM = 1.0

#: A latest start that moves back by this much or more takes an alert back to preparing. Assumed.
POSTPONED_BY = timedelta(hours=12)


def changes_that_matter(
    alert: Alert, spell: ColdSpell, threshold: Threshold, task: Task, now: datetime
) -> tuple[Change, ...]:
    """Return what has changed enough since people were last told.

    Parameters
    ----------
    alert : Alert
        With its last announcement.
    spell, threshold, task : ColdSpell, Threshold, Task
        As the forecast has them now.
    now : datetime
        Aware.

    Returns
    -------
    tuple of Change
        Empty if nothing needs telling. Once the announced onset has come, or after a person has said
        *not this time*, only a step in severity counts.
    """
    told = alert.announced
    changes = []
    if spell.severity.rank > alert.worst_severity.rank:
        changes.append(Change.MORE_SEVERE)
    if alert.state is AlertState.DECLINED or (told.onset is not None and now >= told.onset):
        return tuple(changes)
    if told.onset is not None and spell.onset <= told.onset - EARLIER_ONSET:
        changes.append(Change.EARLIER_ONSET)
    is_past_threshold = spell.minimum + threshold.gain < threshold.critical.temperature
    if told.minimum is not None and spell.minimum <= told.minimum - LOWER_MINIMUM and is_past_threshold:
        changes.append(Change.COLDER)
    if is_start_earlier(alert, task, now):
        changes.append(Change.EARLIER_START)
    return tuple(changes)


def changes_between(known: Sequence[Announcement], after: Announcement) -> tuple[Change, ...]:
    """Return what has changed enough for somebody who has missed the messages in between.

    Parameters
    ----------
    known : sequence of Announcement
        What that person has been told, in order; at least one.
    after : Announcement
        What was told last.

    Returns
    -------
    tuple of Change
        By the same measures as `changes_that_matter`.
    """
    changes, before = [], known[-1]
    if after.severity.rank > max(told.severity.rank for told in known):
        changes.append(Change.MORE_SEVERE)
    if before.onset is not None and after.onset is not None and after.onset <= before.onset - EARLIER_ONSET:
        changes.append(Change.EARLIER_ONSET)
    if before.minimum is not None and after.minimum is not None and after.minimum <= before.minimum - LOWER_MINIMUM:
        changes.append(Change.COLDER)
    is_call = before.response_type is after.response_type is ResponseType.EXECUTE
    if is_call and before.start_by is not None and after.start_by is not None and after.start_by < before.start_by:
        changes.append(Change.EARLIER_START)
    return tuple(changes)


def is_start_earlier(alert: Alert, task: Task, now: datetime) -> bool:
    """Return whether the latest start has moved before the announced one, while that still counts."""
    told = alert.announced.start_by
    return (
        alert.state is AlertState.EXECUTE
        and told is not None
        and task.start_by is not None
        and now < told
        and task.start_by < told
    )


def is_postponed(alert: Alert, task: Task, now: datetime) -> bool:
    """Return whether work that was called for can wait for another day after all."""
    told = alert.announced
    return (
        alert.state is AlertState.EXECUTE
        and told.start_by is not None
        and task.start_by is not None
        and (told.onset is None or now < told.onset)
        and not task.is_due
        and task.start_by - told.start_by >= POSTPONED_BY
    )
