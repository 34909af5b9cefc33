"""What of a forecast is still to come."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import SourceUnavailable, from_datetime64, instant_text, to_datetime64

from .reading import LATEST_YEAR

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from alertd.weather import PeriodMinimum, Series

#: After the end of every forecast.
LATEST = datetime(LATEST_YEAR + 1, 1, 1, tzinfo=UTC)

#: [°C] Differences below this are none: values are whole °F (seen), half of which is 0.28 °C.
ROUNDING = 0.3

#: Between two values of the hourly layer.
_HOUR = timedelta(hours=1)


def without_past(series: Series, start: datetime, minima: Iterable[PeriodMinimum] = ()) -> Series:
    """Return the part of a series from an instant on, with all hours of the periods that are running then.

    A minimum binds the coldest hour of its period. Without the hours that are over, it would bind none at all as soon
    as fewer than half of them are left, or a wrong one.

    Parameters
    ----------
    series : Series
        Any.
    start : datetime
        Aware.
    minima : iterable of PeriodMinimum
        That are to bind the series.

    Returns
    -------
    Series
        With at least one air temperature from the instant on.

    Raises
    ------
    SourceUnavailable
        If the series ends earlier.
    """
    if np.isnan(series.window(start, LATEST).air_temperature).all():
        last = instant_text(from_datetime64(series.times[-1]))
        message = f"the last forecast ends at {last}, in the past; it is asked again later"
        raise SourceUnavailable(message)
    return series.window(min((start, *(minimum.start for minimum in minima))), LATEST)


def minima_ahead(minima: Sequence[PeriodMinimum], series: Series, now: datetime) -> tuple[PeriodMinimum, ...]:
    """Return the minima of periods that are not over.

    A night's minimum is stated until late in the next morning, when its coldest hour is long over. That does no harm
    as long as the hourly values show the whole period: then the minimum belongs to the coldest of them, which is past,
    and the others are lowered as they were the evening before (see `bind_minima`).

    The first period is another matter, because the layers begin some six hours before they are made. In recorded
    answers (seen) it was cut to begin with them, 4 or 5 h of 14; by definition a period could also be kept whole,
    though its beginning is no longer shown. Whether the value of a cut period is the minimum of what is left or still
    that of the whole night is not documented, and one answer fits both (0.6 °C below the hourly values of what was
    left). So of a period whose beginning is not shown, the coldest hour may have been before the first value:

    - If no later value of the period is as cold as the first one, it is taken to have been. The minimum is left out:
      told of a later hour, it would be a frost by day. If the value was that of what is left after all, nothing is
      lost but the difference of the two layers (up to 2.2 °C, seen) at the first hour, which is over or running.
    - If a later value is as cold or colder, that may be the coldest hour, and the minimum is kept: a frost too many
      costs a trip, and one too few a tree. The period is made to begin with the first value, for that to be bound.
    - If the first value is more than an hour ahead, hours ahead are not shown, and the minimum is kept as it is.

    Parameters
    ----------
    minima : sequence of PeriodMinimum
        As stated. A period counts as cut if the series begins with it and another one is longer.
    series : Series
        Hourly values of the same forecast, those of the past included.
    now : datetime
        Aware.

    Returns
    -------
    tuple of PeriodMinimum
        In the same order.
    """
    longest = max((minimum.end - minimum.start for minimum in minima), default=timedelta(0))
    judged = (_as_shown(minimum, series, now, longest) for minimum in minima if minimum.end > now)
    return tuple(minimum for minimum in judged if minimum is not None)


def _as_shown(minimum: PeriodMinimum, series: Series, now: datetime, longest: timedelta) -> PeriodMinimum | None:
    """Return a minimum that may be ahead, or ``None`` if it was before all that the series shows of its period."""
    values = series.air_temperature[0]
    is_known = ~np.isnan(values)
    if not is_known.any():
        return minimum
    first = from_datetime64(series.times[is_known][0])
    is_cut = minimum.start <= first and minimum.end - minimum.start < longest
    if first > now + _HOUR or not (is_cut or first > minimum.start + _HOUR):
        return minimum
    shown = values[is_known & (series.times <= to_datetime64(minimum.end))]
    if shown.size < 2 or shown[0] + ROUNDING < shown[1:].min():  # noqa: PLR2004 - one value has none to compare
        return None
    return replace(minimum, start=max(minimum.start, first - _HOUR))
