"""The weather of the days before, where nothing is remembered of it: at a first start, or after a long pause."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from alertd.core import SourceError
from alertd.sources import PastSource
from alertd.thermal import SPIN_UP

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from alertd.sources import Source
    from alertd.weather import Series

#: Hours in which models start, and how many of them may be unknown before sources are asked [1]. Assumed: half a day.
_HOURS, _UNKNOWN = int(SPIN_UP.total_seconds() // 3600), 12


def is_short(past: Series | None) -> bool:
    """Return whether too little is known of the days in which models start.

    Parameters
    ----------
    past : Series or None
        Hourly, shape (1, n_times), up to the present hour.

    Returns
    -------
    bool
    """
    if past is None:
        return True
    known = ~np.isnan(past.air_temperature[0, -_HOURS:])
    return int(np.count_nonzero(known)) < _HOURS - _UNKNOWN


def days_before(sources: Iterable[Source], now: datetime) -> list[Series]:
    """Return the weather of the days before by the first source that tells it.

    Parameters
    ----------
    sources : iterable of Source
        Those of the watch; most tell of what is ahead only.
    now : datetime
        Aware UTC.

    Returns
    -------
    list of Series
        One at most. A source that does not answer is passed over: models then guess those days, and say so.
    """
    first = (now - SPIN_UP).date()
    for source in sources:
        if isinstance(source, PastSource):
            try:
                return [source.days_before(first, now)]
            except SourceError:
                continue
    return []
