"""The nights ahead, one by one: how cold, and whom that would hurt as things stand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import as_utc, from_datetime64
from alertd.site import instant_of
from alertd.weather import longest_gap

if TYPE_CHECKING:
    from collections.abc import Sequence

    from alertd.site import Site
    from alertd.weather import Series

    from .assessment import Assessment, Threshold

#: A night is what lies between two noons: its coldest hour may come before dusk or after sunrise.
_NOON = time(12)

#: Until so long after midnight the night that began the evening before counts as ahead. Assumed.
_MORNING = timedelta(hours=6)


@dataclass(frozen=True, slots=True)
class Night:
    """One night of the forecast.

    Parameters
    ----------
    evening : datetime.date
        Local day on which it begins.
    minimum, minimum_low, minimum_high : float
        [°C] Lowest air temperature: median, 5th and 95th percentile of realizations.
    threats : tuple of (str, float)
        Id of each group that was assessed, and the probability that a tissue of it passes the temperature at which
        its rule speaks; the highest first.
    """

    evening: date
    minimum: float
    minimum_low: float
    minimum_high: float
    threats: tuple[tuple[str, float], ...]


def nights_ahead(
    site: Site,
    series: Series,
    assessments: Sequence[Assessment],
    now: datetime,
    *,
    most: int,
    gap: timedelta,
) -> tuple[Night, ...]:
    """Return the nights that a forecast shows.

    Parameters
    ----------
    site : Site
        Gives local days.
    series : Series
        Weather with its uncertainty, shape (n_realizations, n_times) [°C].
    assessments : sequence of Assessment
        Groups and the rules that apply to them as they stand.
    now : datetime
        Aware.
    most : int
        At most so many nights.
    gap : timedelta
        A night with a longer stretch without values is not told, nor those after it.

    Returns
    -------
    tuple of Night
        In order, without any between that was not seen.
    """
    first = (site.local(now) - _MORNING).date()
    nights = []
    for offset in range(most):
        evening = first + timedelta(days=offset)
        start = max(as_utc(now), instant_of(site.time_zone, evening, _NOON))
        end = instant_of(site.time_zone, evening + timedelta(days=1), _NOON)
        if longest_gap(series, start, end) > gap:
            break
        nights.append(_night(evening, series.window(start, end), assessments))
    return tuple(nights)


def _night(evening: date, window: Series, assessments: Sequence[Assessment]) -> Night:
    """Return what a window of time holds."""
    known = window.air_temperature[~np.all(np.isnan(window.air_temperature), axis=1)]
    low, middle, high = np.percentile(np.nanmin(known, axis=1), [5.0, 50.0, 95.0])
    worst: dict[str, float] = {}
    for each in assessments:
        probability = _probability(window, each.threshold)
        if probability is not None:
            worst[each.group] = max(worst.get(each.group, 0.0), probability)
    threats = sorted(worst.items(), key=lambda threat: -threat[1])
    return Night(evening, float(middle), float(low), float(high), tuple(threats))


def _probability(window: Series, threshold: Threshold) -> float | None:
    """Return the share of realizations that pass the temperature at which a rule speaks; None if its model is mute."""
    start, end = from_datetime64(window.times[0]), from_datetime64(window.times[-1]) + timedelta(seconds=1)
    exposure = threshold.exposure(window, start, end)
    known = exposure.temperature[~np.all(np.isnan(exposure.temperature), axis=1)]
    if known.size == 0:
        return None
    lowest = np.nanmin(known, axis=1)
    level = threshold.critical.temperature + threshold.settings.margin
    return float(np.mean(lowest <= level if threshold.critical.at_or_below else lowest < level))
