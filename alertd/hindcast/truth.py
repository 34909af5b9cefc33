"""What the weather really did to each group, to be compared with what was told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import from_datetime64, to_datetime64
from alertd.risk import cold_thresholds, is_judged_as_growing
from alertd.site import Condition

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from numpy.typing import NDArray

    from alertd.alerts import Garden
    from alertd.risk import Threshold
    from alertd.site import TreeGroup
    from alertd.weather import Series


@dataclass(frozen=True, slots=True)
class HarmfulSpell:
    """A stretch of time in which a group passed a critical temperature.

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
        for threshold in _thresholds(garden, group, Condition(), growing=False)
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
        By group, in order.
    """
    start = from_datetime64(series.times[0])
    return tuple(
        spell for group in garden.groups for spell in harmful_spells_of(garden, group, series, [(start, Condition())])
    )


def harmful_spells_of(
    garden: Garden, group: TreeGroup, series: Series, stood: Sequence[tuple[datetime, Condition]]
) -> tuple[HarmfulSpell, ...]:
    """Return the stretches of time that did harm to a group, given how it stood.

    Parameters
    ----------
    garden : Garden
        Site, classes, rules.
    group : TreeGroup
        The group.
    series : Series
        A record, shape (1, n_times) [°C].
    stood : sequence of (datetime, Condition)
        From when on the group stood how, aware UTC, in order; the first at or before the record's start.

    Returns
    -------
    tuple of HarmfulSpell
        In order. Harmful hours closer together than the shortest gap of the rules are one.
    """
    hours = np.flatnonzero(_harmful(garden, group, series, stood))
    if hours.size == 0:
        return ()
    rules = garden.rules
    gap = min(each.spell_gap for each in (rules.wood, rules.container_roots, rules.spring_frost))
    breaks = np.flatnonzero(np.diff(series.times[hours]) > np.timedelta64(gap)) + 1
    return tuple(
        HarmfulSpell(
            group.group_id,
            from_datetime64(series.times[part[0]]),
            from_datetime64(series.times[part[-1]]),
            float(np.nanmin(series.air_temperature[0, part[0] : part[-1] + 1])),
        )
        for part in np.split(hours, breaks)
    )


def _harmful(
    garden: Garden, group: TreeGroup, series: Series, stood: Sequence[tuple[datetime, Condition]]
) -> NDArray[np.bool_]:
    """Return in which hours any tissue passed its critical temperature."""
    harmful = np.zeros(series.n_times, dtype=bool)
    is_spring = np.array([garden.site.is_past_last_freeze(from_datetime64(time)) for time in series.times], dtype=bool)
    starts = np.array([to_datetime64(since) for since, _ in stood])
    segment = np.searchsorted(starts, series.times, side="right") - 1
    for index, (_, condition) in enumerate(stood):
        for spring in (False, True):
            hours = (segment == index) & (is_spring == spring)
            growing = is_judged_as_growing(condition, past_last_freeze=spring, protection=group.protection)
            for threshold in _thresholds(garden, group, condition, growing=growing):
                harmful |= hours & _passes(series, threshold)
    return harmful


def _thresholds(garden: Garden, group: TreeGroup, condition: Condition, *, growing: bool) -> tuple[Threshold, ...]:
    """Return the rules of cold that apply to a group in a condition."""
    return cold_thresholds(group, condition, garden.classes[group.hardiness_class], garden.rules, growing=growing)


def _passes(series: Series, threshold: Threshold) -> NDArray[np.bool_]:
    """Return in which hours of a record the exposure passes a critical temperature."""
    exposure, critical = series.air_temperature[0] + threshold.gain, threshold.critical
    passes = exposure <= critical.temperature if critical.at_or_below else exposure < critical.temperature
    return np.asarray(passes, dtype=np.bool_)
