"""Everything that a decision needs to know of a site and that does not change from hour to hour."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from alertd.core import TemperatureUnit
    from alertd.hardiness import HardinessClass
    from alertd.risk import Rules
    from alertd.site import Site, TreeGroup, WorkHours


@dataclass(frozen=True, slots=True)
class Garden:
    """The configuration as the pure core sees it.

    Parameters
    ----------
    site : Site
        Where.
    units : TemperatureUnit
        Unit that people read.
    work : WorkHours
        When people can work.
    groups : tuple of TreeGroup
        What is watched; ids are unique.
    classes : dict of str to HardinessClass
        By name; every group's class is in it.
    rules : Rules
        Thresholds and margins.
    stale_after : timedelta
        A forecast older than this by its own reference time is not used.
    must_see : timedelta
        A forecast with a longer gap than ``longest_gap`` within this time ahead is not used: a night
        that it does not show is not a night without danger.
    longest_gap : timedelta
        See above.
    is_exact : bool
        Whether forecasts are taken as the truth, without an error of their own; for hindcasts.
    """

    site: Site
    units: TemperatureUnit
    work: WorkHours
    groups: tuple[TreeGroup, ...]
    classes: dict[str, HardinessClass]
    rules: Rules
    stale_after: timedelta
    must_see: timedelta = timedelta(hours=48)
    longest_gap: timedelta = timedelta(hours=6)
    is_exact: bool = False
