"""One group in one evaluation."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from alertd.plan import task_before
from alertd.risk import is_judged_as_growing

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.hardiness import HardinessClass
    from alertd.plan import Action, Task
    from alertd.site import Condition, TreeGroup
    from alertd.weather import Series

    from .alert import Alert
    from .garden import Garden


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
    """

    now: datetime
    garden: Garden
    group: TreeGroup
    condition: Condition
    series: Series | None
    alerts: tuple[Alert, ...]

    @property
    def hardiness_class(self) -> HardinessClass:
        """The group's class."""
        return self.garden.classes[self.group.hardiness_class]

    def is_growing_in(self, condition: Condition) -> bool:
        """Return whether frost would meet growing tissue if the group were in a condition."""
        past_last_freeze = self.garden.site.is_past_last_freeze(self.now)
        return is_judged_as_growing(condition, past_last_freeze=past_last_freeze, protection=self.group.protection)

    def local_date(self, instant: datetime) -> str:
        """Return the local date of an instant, ISO 8601."""
        return self.garden.site.local(instant).date().isoformat()

    def task_before(self, action: Action, onset: datetime, *, expects_ice: bool) -> Task:
        """Return the task of having an action done before an onset."""
        return task_before(
            self.garden.site, self.garden.work, self.group, action, self.now, onset, expects_ice=expects_ice
        )
