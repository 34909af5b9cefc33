"""First and last freeze of each cold season."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import from_datetime64, to_datetime64
from alertd.site.place import SEASON_SPLIT_NORTH, SEASON_SPLIT_SOUTH

if TYPE_CHECKING:
    from .series import Series


@dataclass(frozen=True, slots=True)
class FreezeDates:
    """Freezes of one season.

    Parameters
    ----------
    season_start : datetime
        Aware UTC: the midsummer split from which the season counts, one year long.
    first, last : datetime or None
        Aware UTC: the first and the last time at or below the threshold; ``None`` if there was none.
    coverage : float
        Share of the season's hours that have a value, 0 to 1. Where it is not near 1 the true dates may
        lie elsewhere.
    """

    season_start: datetime
    first: datetime | None
    last: datetime | None
    coverage: float


def freeze_dates(series: Series, latitude: float, threshold: float = 0.0) -> tuple[FreezeDates, ...]:
    """Return first and last freeze of each season that a record touches.

    Seasons are split at midsummer, 24 July north of the equator and 24 January south of it, 00:00 UTC.

    Parameters
    ----------
    series : Series
        Past weather of one realization, quality-checked.
    latitude : float
        [degrees north].
    threshold : float
        [°C] At or below it is a freeze.

    Returns
    -------
    tuple of FreezeDates
        By season, earliest first; seasons without any value are left out.

    Raises
    ------
    ValueError
        If the series has several realizations: a past has one.
    """
    if series.n_realizations != 1:
        message = f"past weather has one realization, not {series.n_realizations}"
        raise ValueError(message)
    present = ~np.isnan(series.air_temperature[0])
    times, values = series.times[present], series.air_temperature[0, present]
    if not times.size:
        return ()
    month, day = SEASON_SPLIT_NORTH if latitude >= 0.0 else SEASON_SPLIT_SOUTH
    seasons = []
    for year in range(from_datetime64(times[0]).year - 1, from_datetime64(times[-1]).year + 1):
        start, end = datetime(year, month, day, tzinfo=UTC), datetime(year + 1, month, day, tzinfo=UTC)
        inside = (times >= to_datetime64(start)) & (times < to_datetime64(end))
        if inside.any():
            freezes = times[inside & (values <= threshold)]
            first, last = (from_datetime64(freezes[0]), from_datetime64(freezes[-1])) if freezes.size else (None, None)
            n_hours = np.unique(times[inside].astype("datetime64[h]")).size
            seasons.append(FreezeDates(start, first, last, n_hours / ((end - start).total_seconds() / 3600.0)))
    return tuple(seasons)
