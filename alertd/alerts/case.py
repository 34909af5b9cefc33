"""One group in one evaluation."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from alertd.plan import Work, agenda, effort, task_by
from alertd.risk import cold_thresholds, is_judged_as_growing
from alertd.site import is_sociable

if TYPE_CHECKING:
    from alertd.hardiness import HardinessClass
    from alertd.plan import Action, Schedule, Task
    from alertd.risk import Threshold
    from alertd.site import Condition, TreeGroup
    from alertd.thermal import Models
    from alertd.weather import Series

    from .alert import Alert
    from .garden import Garden

#: Work is done in frost when the cold is this near. Assumed.
_ICE_WITHIN = timedelta(hours=36)


@dataclass(frozen=True, slots=True)
class Case:
    """Everything that an evaluation knows of one group.

    Parameters
    ----------
    now : datetime
        Aware UTC.
    garden : Garden
        Site, rules, classes.
    group : TreeGroup
        The group.
    condition : Condition
        Its condition this season.
    series : Series or None
        Weather ahead; ``None`` if the watch is blind.
    alerts : tuple of Alert
        The group's alerts of this season, ended ones included.
    models : Models or None
        What models say of the group; ``None`` if the watch is blind.
    """

    now: datetime
    garden: Garden
    group: TreeGroup
    condition: Condition
    series: Series | None
    alerts: tuple[Alert, ...]
    models: Models | None = None

    @property
    def hardiness_class(self) -> HardinessClass:
        """The group's class."""
        return self.garden.classes[self.group.hardiness_class]

    def is_growing_in(self, condition: Condition) -> bool:
        """Return whether frost would meet growing tissue if the group were in a condition."""
        past_last_freeze = self.garden.site.is_past_last_freeze(self.now)
        return is_judged_as_growing(condition, past_last_freeze=past_last_freeze, protection=self.group.protection)

    def thresholds_in(self, condition: Condition, *, growing: bool) -> tuple[Threshold, ...]:
        """Return the rules of cold that would apply to the group in a condition.

        Parameters
        ----------
        condition : Condition
            Its own, or another.
        growing : bool
            Whether frost would meet growing tissue.

        Returns
        -------
        tuple of Threshold
            Enabled rules only.
        """
        rules = self.garden.rules
        return cold_thresholds(self.group, condition, self.hardiness_class, rules, growing=growing, models=self.models)

    def local_date(self, instant: datetime) -> str:
        """Return the local date of an instant, ISO 8601."""
        return self.garden.site.local(instant).date().isoformat()

    @property
    def is_sociable(self) -> bool:
        """Whether people may be told now what does not press."""
        return is_sociable(self.garden.site, self.garden.work, self.now)

    def work_before(self, action: Action, onset: datetime) -> Work:
        """Return the work of having an action done before an onset."""
        return Work(self.group.group_id, onset, effort(self.group, action, self.garden.work.people))

    def task(self, action: Action, onset: datetime, plan: Schedule | None) -> Task:
        """Return the task of having an action done before an onset.

        Parameters
        ----------
        action : Action
            What.
        onset : datetime
            Aware: by when.
        plan : Schedule or None
            When the crew's agenda has it begin; ``None`` if the agenda does not hold it: then as if it were
            the crew's only work.

        Returns
        -------
        Task
            With effort, latest start and cautions.
        """
        if plan is None:
            (plan,) = agenda(self.garden.site, self.garden.work, self.now, [self.work_before(action, onset)])
        expects_ice = onset - self.now <= _ICE_WITHIN
        return task_by(self.garden.work, self.group, action, plan, expects_ice=expects_ice)
