"""Which own thermometers say how the air of the garden is, and which how a store room is."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.weather import LONGEST_KEPT, QualitySettings, observed_weather

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from alertd.site import TreeGroup
    from alertd.weather import Observation

#: A reading in a store room is taken for the present as long as it is not older. Assumed: a shed, the quickest of the
#: rooms, follows the air outside in six hours.
NEWS_FOR = timedelta(hours=3)

#: Closed rooms stay at one temperature for days, which in the open would be a broken thermometer.
_INDOORS = QualitySettings(stuck_time=LONGEST_KEPT)


def store_stations(groups: Iterable[TreeGroup]) -> frozenset[str]:
    """Return the names of the thermometers that stand in store rooms.

    Parameters
    ----------
    groups : iterable of TreeGroup
        With the rooms that people described, whatever they are used for.

    Returns
    -------
    frozenset of str
        Station names.
    """
    rooms = (group.store_room for group in groups)
    return frozenset(room.sensor for room in rooms if room is not None and room.sensor is not None)


def outdoors(observations: Iterable[Observation], groups: Iterable[TreeGroup]) -> tuple[Observation, ...]:
    """Return what thermometers in the open said.

    Parameters
    ----------
    observations : iterable of Observation
        Of all stations.
    groups : iterable of TreeGroup
        Their store rooms hold the other thermometers.

    Returns
    -------
    tuple of Observation
        In the same order.
    """
    indoors = store_stations(groups)
    return tuple(each for each in observations if each.station not in indoors)


def latest_indoors(observations: Iterable[Observation], groups: Iterable[TreeGroup], now: datetime) -> dict[str, float]:
    """Return what thermometers in store rooms said last, if that is news still.

    Parameters
    ----------
    observations : iterable of Observation
        Of all stations, none later than now.
    groups : iterable of TreeGroup
        Their store rooms hold the thermometers.
    now : datetime
        Aware.

    Returns
    -------
    dict of str to float
        [°C] By station, of values that passed quality control; a station that was silent for `NEWS_FOR` is left out.
    """
    indoors = store_stations(groups)
    news = [each for each in observations if each.station in indoors and each.time >= now - NEWS_FOR]
    observed = observed_weather(news, _INDOORS)
    if observed.series is None:
        return {}
    values = observed.series.air_temperature
    return {
        station: float(row[np.flatnonzero(~np.isnan(row))[-1]])
        for station, row in zip(observed.stations, values, strict=True)
    }
