"""When work must begin so that it is done before the cold."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from .actions import MINUTES_PER_TREE, SET_UP_MINUTES, Action

if TYPE_CHECKING:
    from alertd.site import TreeGroup

#: Latest starts are told in steps of this length, rounded to the earlier side.
START_STEP = timedelta(minutes=10)


@dataclass(frozen=True, slots=True)
class Schedule:
    """When the work for one matter must begin.

    Parameters
    ----------
    start_by : datetime
        Aware UTC: latest sensible start; now, if the hours left are too few.
    is_enough : bool
        Whether the working hours left before the deadline hold the work.
    is_due : bool
        Whether no later working slot would still do.
    """

    start_by: datetime
    is_enough: bool
    is_due: bool


def effort(group: TreeGroup, action: Action, people: int) -> timedelta:
    """Return how long people need for a group.

    Parameters
    ----------
    group : TreeGroup
        How many trees, and the minutes of one if the configuration gives them.
    action : Action
        What is done.
    people : int
        How many work side by side.

    Returns
    -------
    timedelta
        Set-up and work, in whole minutes, rounded up.
    """
    minutes = MINUTES_PER_TREE[action]
    if group.minutes_per_tree is not None and action not in _OWN_PACE:
        minutes = group.minutes_per_tree
    work = minutes * group.count / people
    return timedelta(minutes=-(-(SET_UP_MINUTES + work) // 1))


#: Actions to which the configured minutes (of putting the protection in place) do not apply.
_OWN_PACE = {Action.REINFORCE, Action.COVER_IN_STORE, Action.OPEN_COVER, Action.LIFT_COVER, Action.SHIELD}


def rounded_down(instant: datetime) -> datetime:
    """Return the last full step at or before an instant, aware like the instant."""
    seconds = int(instant.timestamp() // START_STEP.total_seconds() * START_STEP.total_seconds())
    return datetime.fromtimestamp(seconds, tz=instant.tzinfo)
