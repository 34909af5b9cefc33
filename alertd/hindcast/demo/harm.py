"""When the demo's weather really hurt a group, given how it stood."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import from_datetime64, to_datetime64
from alertd.risk import cold_thresholds, is_judged_as_growing

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from numpy.typing import NDArray

    from alertd.alerts import Garden
    from alertd.risk import Threshold
    from alertd.site import Condition, TreeGroup
    from alertd.weather import Series


@dataclass(frozen=True, slots=True)
class Harm:
    """A stretch of time in which the air passed what a group stands.

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


def harms(
    garden: Garden, group: TreeGroup, series: Series, stood: Sequence[tuple[datetime, Condition]]
) -> tuple[Harm, ...]:
    """Return when the weather hurt a group.

    Parameters
    ----------
    garden : Garden
        Site, classes, rules.
    group : TreeGroup
        The group.
    series : Series
        What the weather of one cold season did, shape (1, n_times) [°C].
    stood : sequence of (datetime, Condition)
        From when on the group stood how, aware UTC, in order; the first at or before the weather's start.

    Returns
    -------
    tuple of Harm
        In order. Hours closer together than the gap of the rule for wood are one stretch.
    """
    hours = np.flatnonzero(_harmful(garden, group, series, stood))
    if hours.size == 0:
        return ()
    gaps = np.diff(series.times[hours]) > np.timedelta64(garden.rules.wood.spell_gap)
    air = series.air_temperature[0]
    return tuple(
        Harm(
            group.group_id,
            from_datetime64(series.times[part[0]]),
            from_datetime64(series.times[part[-1]]),
            float(air[part[0] : part[-1] + 1].min()),
        )
        for part in np.split(hours, np.flatnonzero(gaps) + 1)
    )


def _harmful(
    garden: Garden, group: TreeGroup, series: Series, stood: Sequence[tuple[datetime, Condition]]
) -> NDArray[np.bool_]:
    """Return in which hours any tissue passed its critical temperature."""
    harmful = np.zeros(series.n_times, dtype=bool)
    is_past = garden.site.is_past_last_freeze
    spring_begins = bisect_left(series.times, True, key=lambda time: is_past(from_datetime64(time)))  # noqa: FBT003
    is_spring = np.arange(series.n_times) >= spring_begins
    starts = np.array([to_datetime64(since) for since, _ in stood])
    segment = np.searchsorted(starts, series.times, side="right") - 1
    for index, (_, condition) in enumerate(stood):
        for spring in (False, True):
            hours = (segment == index) & (is_spring == spring)
            growing = is_judged_as_growing(condition, past_last_freeze=spring)
            hardiness = garden.classes[group.hardiness_class]
            for threshold in cold_thresholds(group, condition, hardiness, garden.rules, growing=growing):
                harmful |= hours & _passes(series, threshold)
    return harmful


def _passes(series: Series, threshold: Threshold) -> NDArray[np.bool_]:
    """Return in which hours the air, with the credit of the cover, passes a critical temperature."""
    exposure, critical = series.air_temperature[0] + threshold.gain, threshold.critical
    passes = exposure <= critical.temperature if critical.at_or_below else exposure < critical.temperature
    return np.asarray(passes, dtype=np.bool_)
