"""What the forecasts together say, and which of them are not to be trusted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.weather import (
    Merged,
    bind_minima,
    dress_forecast,
    forecast_with_hours,
    longest_gap,
    merge,
    unbound_minima,
)

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from alertd.weather import Forecast, PeriodMinimum, Series

    from .garden import Garden

#: How far a forecast's own reference time may lie ahead of the clock. Assumed: clocks that are kept differ by
#: seconds, and no forecast is made from the future; but a time zone that was mistaken makes a whole hour or more,
#: and then an old forecast would pass for a fresh one.
LONGEST_AHEAD = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Refusal:
    """What is wrong with a source: why it was not used, or why only an older answer of it was.

    Parameters
    ----------
    source : str
        Its name.
    reason : str
        One clear reason.
    is_used : bool
        Whether an older answer of the source is still good enough to be used.
    """

    source: str
    reason: str
    is_used: bool = False


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is known of the weather ahead.

    Parameters
    ----------
    merged : Merged or None
        Usable forecasts on one axis with their uncertainty; ``None`` means that the watch is blind.
    used : tuple of Forecast
        What it is made of.
    refused : tuple of Refusal
        What was left out, and why; and, with ``is_used``, which sources are used by an older answer, and why.
    unbound : tuple of (str, PeriodMinimum)
        Source and minimum of periods within reach of which the source's own values show too little to be bound by
        the minimum.
    observed : Series or None
        Past air temperature by the site's own thermometers, one realization for each; shown to people, and part
        of no forecast.
    """

    merged: Merged | None
    used: tuple[Forecast, ...]
    refused: tuple[Refusal, ...]
    unbound: tuple[tuple[str, PeriodMinimum], ...] = ()
    observed: Series | None = None

    @property
    def series(self) -> Series | None:
        """The merged series, or ``None`` if the watch is blind."""
        return None if self.merged is None else self.merged.series


def outlook(
    now: datetime,
    garden: Garden,
    forecasts: Sequence[Forecast],
    failures: Sequence[Refusal],
    reach: timedelta,
    observed: Series | None = None,
) -> Outlook:
    """Return what the forecasts together say from now on.

    Each usable forecast is filled to whole hours and bound by the minima of periods that its source states; a single
    one is then dressed with its error; all are merged by their weights.

    Parameters
    ----------
    now : datetime
        Aware.
    garden : Garden
        Staleness and coverage that are asked for.
    forecasts : sequence of Forecast
        One of each source, at the site's elevation; a stored last good answer says so in its ``problem`` and is used
        until it is stale. A forecast may end before `reach`.
    failures : sequence of Refusal
        Sources that gave nothing now.
    reach : timedelta
        How far ahead anything is judged.
    observed : Series or None
        Past air temperature by the site's own thermometers; handed through.

    Returns
    -------
    Outlook
        Blind if no forecast is usable.
    """
    used: list[Forecast] = []
    refused: list[Refusal] = []
    for forecast in forecasts:
        reason = reason_to_refuse(now, garden, forecast)
        if reason is None:
            used.append(forecast)
        if reason is not None or forecast.problem:
            refused.append(Refusal(forecast.source, reason or forecast.problem, is_used=reason is None))
    names = {forecast.source for forecast in used}
    failed = [replace(failure, is_used=failure.source in names) for failure in failures]
    filled = [forecast_with_hours(forecast) for forecast in used]
    parts = [_prepared(now, garden, forecast, reach) for forecast in filled]
    return Outlook(
        merge(parts) if parts else None,
        tuple(used),
        (*failed, *refused),
        tuple(pair for forecast in filled for pair in _unbound(now, forecast, reach)),
        observed,
    )


def _prepared(now: datetime, garden: Garden, forecast: Forecast, reach: timedelta) -> Forecast:
    """Return the part of a forecast within reach, bound by its minima and with its uncertainty."""
    bound = replace(forecast, series=bind_minima(forecast.series, forecast.minima))
    ahead = bound.window(now, now + reach)
    return ahead if garden.is_exact else dress_forecast(ahead)


def _unbound(now: datetime, forecast: Forecast, reach: timedelta) -> list[tuple[str, PeriodMinimum]]:
    """Return the minima of periods within reach that do not bind their forecast."""
    within = [each for each in forecast.minima if each.end > now and each.start < now + reach]
    return [(forecast.source, each) for each in unbound_minima(forecast.series, within)]


def reason_to_refuse(now: datetime, garden: Garden, forecast: Forecast) -> str | None:
    """Return why a forecast cannot be used.

    Parameters
    ----------
    now : datetime
        Aware.
    garden : Garden
        Staleness and coverage that are asked for.
    forecast : Forecast
        Of any source.

    Returns
    -------
    str or None
        One phrase; ``None`` if it can be used.
    """
    age = now - forecast.forecast_reference_time
    if age > garden.stale_after:
        older = f" (no newer one: {forecast.problem})" if forecast.problem else ""
        return f"stale: made {_hours(age)} h ago, allowed are {_hours(garden.stale_after)} h{older}"
    if age < -LONGEST_AHEAD:
        return f"made {_hours(-age)} h in the future: a clock is wrong"
    gap = longest_gap(forecast.series, now, now + garden.must_see)
    if gap > garden.longest_gap:
        return f"incomplete: {_hours(gap)} h without values within the next {_hours(garden.must_see)} h"
    return None


def _hours(length: timedelta) -> str:
    """Return a length in hours, without needless decimals."""
    return f"{length.total_seconds() / 3600.0:.1f}".removesuffix(".0")
