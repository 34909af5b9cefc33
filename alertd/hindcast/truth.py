"""What the weather really did to each group, to be compared with what was told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import from_datetime64
from alertd.risk import cold_thresholds, is_judged_as_growing
from alertd.site import Condition

if TYPE_CHECKING:
    from datetime import datetime

    from numpy.typing import NDArray

    from alertd.alerts import Garden
    from alertd.risk import Threshold
    from alertd.site import TreeGroup
    from alertd.weather import Series


@dataclass(frozen=True, slots=True)
class HarmfulSpell:
    """A stretch of time in which a group, standing bare, passed a critical temperature.

    Parameters
    ----------
    group : str
        Group id.
    onset, end : datetime
        First and last harmful hour, aware UTC.
    minimum : float
        [°C] Lowest air temperature of the stretch.
    """

    group: str
    onset: datetime
    end: datetime
    minimum: float


@dataclass(frozen=True, slots=True)
class HoursBelow:
    """How often the air passed a threshold, whatever was in place.

    Parameters
    ----------
    group : str
        Group id.
    threshold : Threshold
        Rule and critical temperature of the bare, dormant group.
    hours : int
        Number of record times that pass it.
    """

    group: str
    threshold: Threshold
    hours: int


def hours_below(garden: Garden, series: Series) -> tuple[HoursBelow, ...]:
    """Return how often the air passed each group's thresholds of winter.

    Parameters
    ----------
    garden : Garden
        Groups, classes, rules.
    series : Series
        A record, shape (1, n_times) [°C].

    Returns
    -------
    tuple of HoursBelow
        By group and rule.
    """
    return tuple(
        HoursBelow(group.group_id, threshold, int(np.count_nonzero(_passes(series, threshold))))
        for group in garden.groups
        for threshold in _thresholds(garden, group, growing=False)
    )


def harmful_spells(garden: Garden, series: Series) -> tuple[HarmfulSpell, ...]:
    """Return the stretches of time that would have done harm to groups standing bare.

    Parameters
    ----------
    garden : Garden
        Groups, classes, rules.
    series : Series
        A record, shape (1, n_times) [°C].

    Returns
    -------
    tuple of HarmfulSpell
        By group, in order. Harmful hours closer together than the shortest gap of the rules are one.
    """
    growing = np.array([garden.site.is_past_last_freeze(from_datetime64(time)) for time in series.times], dtype=bool)
    spells: list[HarmfulSpell] = []
    for group in garden.groups:
        harmful = np.zeros(series.n_times, dtype=bool)
        for past_last_freeze in (False, True):
            in_growth = is_judged_as_growing(Condition(), past_last_freeze=past_last_freeze)
            for threshold in _thresholds(garden, group, growing=in_growth):
                harmful |= (growing == past_last_freeze) & _passes(series, threshold)
        spells += _spells(garden, group, series, np.flatnonzero(harmful))
    return tuple(spells)


def _spells(garden: Garden, group: TreeGroup, series: Series, hours: NDArray[np.intp]) -> list[HarmfulSpell]:
    """Return harmful hours as spells."""
    if hours.size == 0:
        return []
    rules = garden.rules
    gap = min(each.spell_gap for each in (rules.wood, rules.container_roots, rules.spring_frost))
    breaks = np.flatnonzero(np.diff(series.times[hours]) > np.timedelta64(gap)) + 1
    return [
        HarmfulSpell(
            group.group_id,
            from_datetime64(series.times[part[0]]),
            from_datetime64(series.times[part[-1]]),
            float(np.nanmin(series.air_temperature[0, part[0] : part[-1] + 1])),
        )
        for part in np.split(hours, breaks)
    ]


def _thresholds(garden: Garden, group: TreeGroup, *, growing: bool) -> tuple[Threshold, ...]:
    """Return the rules of cold that apply to a group standing bare."""
    return cold_thresholds(group, Condition(), garden.classes[group.hardiness_class], garden.rules, growing=growing)


def _passes(series: Series, threshold: Threshold) -> NDArray[np.bool_]:
    """Return in which hours of a record the exposure passes a critical temperature."""
    exposure = series.air_temperature[0] + threshold.gain
    critical = threshold.critical
    passes: NDArray[np.bool_] = (
        exposure <= critical.temperature if critical.at_or_below else exposure < critical.temperature
    )
    return passes
