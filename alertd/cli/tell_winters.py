"""Past winters as lines and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from alertd.core import in_unit, instant_text, temperature_text, threshold_text
from alertd.messages import day_text, month_day_text
from alertd.risk import cold_thresholds
from alertd.site import Condition, MonthDay

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from alertd.alerts import Garden
    from alertd.weather import Winter

#: A reanalysis has the mean of a grid cell of some ten kilometres. Hollows are colder; common practice, no source.
_CAVEAT = (
    "These are means over a grid cell, brought to your elevation. Hollows and still nights are colder than they say; "
    "compare a winter with your own thermometer."
)


def winter_facts(found: Sequence[Winter], garden: Garden) -> dict[str, object]:
    """Return past winters as JSON values.

    Parameters
    ----------
    found : sequence of Winter
        Earliest first.
    garden : Garden
        Gives the unit, and the thresholds that are counted.

    Returns
    -------
    dict
        ``winters``; ``thresholds`` with the share of winters whose lowest lay below each; temperatures in the
        configuration's unit, times RFC 3339 in UTC.
    """
    return {
        "unit": garden.units.value,
        "winters": [
            {
                "season": _season(winter),
                "minimum": round(in_unit(winter.minimum, garden.units), 1),
                "coldest": instant_text(winter.coldest),
                "first_freeze": _instant(winter.freezes.first),
                "last_freeze": _instant(winter.freezes.last),
            }
            for winter in found
        ],
        "thresholds": [
            {
                "threshold": round(in_unit(threshold, garden.units), 1),
                "for": names,
                "winters_below": _below(found, threshold),
            }
            for threshold, names in _thresholds(garden)
        ],
    }


def winter_lines(found: Sequence[Winter], garden: Garden) -> list[str]:
    """Return past winters for reading.

    Parameters
    ----------
    found : sequence of Winter
        Earliest first.
    garden : Garden
        Unit, local time, thresholds.

    Returns
    -------
    list of str
        A line for each, then what they come to.
    """
    if not found:
        return ["No past winter is known as a whole."]
    site, units = garden.site, garden.units
    lines = [f"Past winters at {site.name}"]
    for winter in found:
        last = "no freeze" if winter.freezes.last is None else f"last freeze {day_text(winter.freezes.last, site)}"
        lowest = temperature_text(winter.minimum, units)
        lines.append(f"{_season(winter)}  lowest {lowest} on {day_text(winter.coldest, site)}, {last}")
    lows = [winter.minimum for winter in found]
    middle, least, most = (temperature_text(float(each), units) for each in (np.median(lows), min(lows), max(lows)))
    lines.append(f"Lowest of a winter: {middle} in the middle one, {least} in the coldest, {most} in the mildest.")
    for threshold, names in _thresholds(garden):
        below = _below(found, threshold)
        lines.append(f"Below {threshold_text(threshold, units)} ({', '.join(names)}): {below} of {len(found)} winters.")
    return [*lines, *_last_freezes(found, garden), _CAVEAT]


def _last_freezes(found: Sequence[Winter], garden: Garden) -> list[str]:
    """Return when springs could be trusted, and how the configured date fares."""
    site = garden.site
    late = sum(winter.freezes.last is not None and site.is_past_last_freeze(winter.freezes.last) for winter in found)
    ends = sorted(
        (local.year - winter.freezes.season_start.year, local.month, local.day, local.year)
        for winter in found
        if winter.freezes.last is not None
        for local in [site.local(winter.freezes.last)]
    )
    if not ends:
        return []
    middle, latest = (month_day_text(MonthDay(month, day)) for _, month, day, _ in (ends[len(ends) // 2], ends[-1]))
    trusted = month_day_text(site.last_freeze)
    return [
        f"Last freeze: {middle} in the middle year, {latest} in the latest, {ends[-1][3]}.",
        f"After your site.last_freeze, {trusted}, it froze in {late} of {len(found)} springs.",
    ]


def _thresholds(garden: Garden) -> list[tuple[float, list[str]]]:
    """Return the temperatures that growers state for what stands outside and bare, warmest first, and of what."""
    named: dict[float, list[str]] = {}
    for group in garden.groups:
        hardiness_class = garden.classes[group.hardiness_class]
        for threshold in cold_thresholds(group, Condition(), hardiness_class, garden.rules, growing=False):
            named.setdefault(threshold.critical.temperature, []).append(
                f"{threshold.critical.tissue.value} of {group.name}"
            )
    return sorted(named.items(), reverse=True)


def _below(found: Sequence[Winter], threshold: float) -> int:
    return sum(winter.minimum < threshold for winter in found)


def _season(winter: Winter) -> str:
    year = winter.freezes.season_start.year
    return f"{year}/{(year + 1) % 100:02d}"


def _instant(instant: datetime | None) -> str | None:
    return None if instant is None else instant_text(instant)
