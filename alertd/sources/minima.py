"""Quality control of the minima that a source states for periods."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from alertd.core import to_datetime64
from alertd.weather import PHYSICAL_RANGE, Check, Finding, QualitySettings

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from alertd.weather import PeriodMinimum, Series

_DEFAULT_SETTINGS = QualitySettings()


def believable_minima(
    minima: Iterable[PeriodMinimum], series: Series, settings: QualitySettings = _DEFAULT_SETTINGS
) -> tuple[tuple[PeriodMinimum, ...], tuple[Finding, ...]]:
    """Return the minima that can be true, and what was found about the others.

    A minimum is left out if it is outside the physical range, or if it lies so far below every value of its
    period, which the series covers from edge to edge, that no weather falls and rises again that fast.

    Parameters
    ----------
    minima : iterable of PeriodMinimum
        As the source states them.
    series : Series
        Its values after quality control, one realization.
    settings : QualitySettings
        `largest_step` is how far a minimum may lie below the values of its period.

    Returns
    -------
    tuple of (tuple of PeriodMinimum, tuple of Finding)
        In the order given.
    """
    lowest, highest = PHYSICAL_RANGE["air_temperature"]
    kept, out_of_range, too_low = [], [], []
    for minimum in minima:
        if not lowest <= minimum.air_temperature <= highest:
            out_of_range.append(minimum)
        elif minimum.air_temperature < _coldest_value(minimum, series) - settings.largest_step:
            too_low.append(minimum)
        else:
            kept.append(minimum)
    findings = _findings(Check.PHYSICAL_RANGE, out_of_range, f"outside {lowest:g} to {highest:g} °C")
    text = f"more than {settings.largest_step:g} °C below every value of their period"
    return tuple(kept), findings + _findings(Check.RATE_OF_CHANGE, too_low, text)


def _coldest_value(minimum: PeriodMinimum, series: Series) -> float:
    """Return the coldest value of a period, edges included; minus infinity if an edge has no value."""
    start, end = to_datetime64(minimum.start), to_datetime64(minimum.end)
    inside = (series.times >= start) & (series.times <= end)
    present = inside & ~np.isnan(series.air_temperature[0])
    times = series.times[present]
    if not times.size or times[0] != start or times[-1] != end:
        return -np.inf
    return float(series.air_temperature[0, present].min())


def _findings(check: Check, minima: Sequence[PeriodMinimum], what: str) -> tuple[Finding, ...]:
    """Return the finding that minima failed a check, if any did."""
    if not minima:
        return ()
    text = f"air_temperature: minima of periods {what}, left out: {len(minima)}"
    first, last = min(minimum.start for minimum in minima), max(minimum.end for minimum in minima)
    return (Finding(check, "air_temperature", first, last, len(minima), text),)
