"""What the forecasts together say, and which of them are not to be trusted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from alertd.weather import Merged, dress, longest_gap, merge

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime, timedelta

    from alertd.weather import Forecast, Series

    from .garden import Garden


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a source was not used.

    Parameters
    ----------
    source : str
        Its name.
    reason : str
        One clear reason.
    """

    source: str
    reason: str


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
        What was left out, and why.
    """

    merged: Merged | None
    used: tuple[Forecast, ...]
    refused: tuple[Refusal, ...]

    @property
    def series(self) -> Series | None:
        """The merged series, or ``None`` if the watch is blind."""
        return None if self.merged is None else self.merged.series


def outlook(
    now: datetime, garden: Garden, forecasts: Sequence[Forecast], failures: Sequence[Refusal], reach: timedelta
) -> Outlook:
    """Return what the forecasts together say from now on.

    Parameters
    ----------
    now : datetime
        Aware.
    garden : Garden
        Staleness and coverage that are asked for.
    forecasts : sequence of Forecast
        One of each source.
    failures : sequence of Refusal
        Sources that gave nothing.
    reach : timedelta
        How far ahead anything is judged.

    Returns
    -------
    Outlook
        Blind if no forecast is usable.
    """
    used, refused, dressed = [], list(failures), []
    for forecast in forecasts:
        reason = _reason_to_refuse(now, garden, forecast)
        if reason is not None:
            refused.append(Refusal(forecast.source, reason))
            continue
        series = forecast.series.window(now, now + reach)
        if series.n_realizations == 1 and not garden.is_exact:
            series = dress(series, forecast.forecast_reference_time)
        used.append(forecast)
        dressed.append(replace(forecast, series=series))
    return Outlook(merge(dressed) if dressed else None, tuple(used), tuple(refused))


def _reason_to_refuse(now: datetime, garden: Garden, forecast: Forecast) -> str | None:
    """Return why a forecast cannot be used, or None."""
    age = now - forecast.forecast_reference_time
    if age > garden.stale_after:
        return f"stale: made {_hours(age)} h ago, allowed are {_hours(garden.stale_after)} h"
    if age < -garden.stale_after:
        return f"made {_hours(-age)} h in the future: a clock is wrong"
    gap = longest_gap(forecast.series, now, now + garden.must_see)
    if gap > garden.longest_gap:
        return f"incomplete: {_hours(gap)} h without values within the next {_hours(garden.must_see)} h"
    return None


def _hours(length: timedelta) -> str:
    """Return a length in hours, without needless decimals."""
    return f"{length.total_seconds() / 3600.0:.1f}".removesuffix(".0")
