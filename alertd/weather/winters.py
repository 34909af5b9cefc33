"""What past winters were like at a place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import from_datetime64

from .freeze_dates import FreezeDates, freeze_dates

if TYPE_CHECKING:
    from datetime import datetime

    from .series import Series

#: Share of a season's hours that must have a value for its lowest to be told. Assumed: about a week may be missing.
SMALLEST_COVERAGE = 0.98


@dataclass(frozen=True, slots=True)
class Winter:
    """One cold season.

    Parameters
    ----------
    minimum : float
        [°C] Lowest air temperature.
    coldest : datetime
        Aware UTC: when it was that cold first.
    freezes : FreezeDates
        Its season, first and last freeze.
    """

    minimum: float
    coldest: datetime
    freezes: FreezeDates


def winters(series: Series, latitude: float) -> tuple[Winter, ...]:
    """Return the seasons that a record covers, with their lowest temperatures.

    Parameters
    ----------
    series : Series
        Past weather of one realization, quality-checked.
    latitude : float
        [degrees north]; seasons are split at midsummer.

    Returns
    -------
    tuple of Winter
        Earliest first; seasons that the record covers only in part are left out.

    Raises
    ------
    ValueError
        If the series has several realizations.
    """
    return tuple(
        _winter(series, dates) for dates in freeze_dates(series, latitude) if dates.coverage >= SMALLEST_COVERAGE
    )


def _winter(series: Series, dates: FreezeDates) -> Winter:
    year = series.window(dates.season_start, dates.season_start.replace(year=dates.season_start.year + 1))
    place = int(np.nanargmin(year.air_temperature[0]))
    return Winter(float(year.air_temperature[0, place]), from_datetime64(year.times[place]), dates)
