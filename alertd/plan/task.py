"""A task: an action for a group, with its effort and its latest start."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from .cautions import Caution, cautions
from .schedule import effort

if TYPE_CHECKING:
    from datetime import datetime, timedelta

    from alertd.site import TreeGroup, WorkHours

    from .actions import Action
    from .schedule import Schedule


@dataclass(frozen=True, slots=True)
class Task:
    """What people are asked to do.

    Parameters
    ----------
    group : TreeGroup
        For whom.
    action : Action
        What.
    effort : timedelta
        How long it takes.
    people : int
        How many work.
    start_by : datetime or None
        Aware UTC; ``None`` where nothing presses.
    is_enough : bool
        Whether the working hours left hold the work.
    is_due : bool
        Whether no later working slot would still do.
    cautions : tuple of Caution
        What to mind.
    reminder_before : timedelta
        How long before the latest start the one reminder is due.
    """

    group: TreeGroup
    action: Action
    effort: timedelta
    people: int
    start_by: datetime | None
    is_enough: bool
    is_due: bool
    cautions: tuple[Caution, ...]
    reminder_before: timedelta


def task_by(work: WorkHours, group: TreeGroup, action: Action, plan: Schedule, *, expects_ice: bool) -> Task:
    """Return the task of having an action done as a schedule has it.

    Parameters
    ----------
    work : WorkHours
        How many people.
    group : TreeGroup
        For whom.
    action : Action
        What.
    plan : Schedule
        When it must begin.
    expects_ice : bool
        Whether the work falls into frost.

    Returns
    -------
    Task
        With effort, latest start and cautions.
    """
    return Task(
        group=group,
        action=action,
        effort=effort(group, action, work.people),
        people=work.people,
        start_by=plan.start_by,
        is_enough=plan.is_enough,
        is_due=plan.is_due,
        cautions=cautions(group, action, expects_ice=expects_ice, is_dark=not plan.is_enough),
        reminder_before=work.reminder_before,
    )


def task_at_leisure(work: WorkHours, group: TreeGroup, action: Action) -> Task:
    """Return the task of an action that nothing presses, like opening a cover in spring.

    Parameters
    ----------
    work : WorkHours
        How many people.
    group : TreeGroup
        For whom.
    action : Action
        What.

    Returns
    -------
    Task
        Without a latest start.
    """
    return Task(
        group=group,
        action=action,
        effort=effort(group, action, work.people),
        people=work.people,
        start_by=None,
        is_enough=True,
        is_due=False,
        cautions=cautions(group, action, expects_ice=False, is_dark=False),
        reminder_before=work.reminder_before,
    )
