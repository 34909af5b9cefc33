"""What the site's own thermometers said, in its table."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.core import parse_instant
from alertd.weather import LONGEST_KEPT, Observation

from .codec import sortable_text
from .database import Database
from .trouble import explained

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

_KEEP = """
    INSERT INTO observations (station, time, air_temperature, received) VALUES (?, ?, ?, ?)
    ON CONFLICT (station, time) DO UPDATE SET air_temperature = excluded.air_temperature, received = excluded.received
    WHERE air_temperature != excluded.air_temperature
"""

_RECENT = """
    SELECT station, time, air_temperature, received FROM observations WHERE time > ? AND time <= ?
    ORDER BY time, station
"""


class ObservationTable(Database):
    """The part of a store that holds observations."""

    def keep_observations(self, observations: Iterable[Observation], now: datetime) -> int:
        """Keep observations, and drop those that are older than 400 days.

        Parameters
        ----------
        observations : iterable of Observation
            Any. One of the same station and time as an older one takes its place if it says something else.
        now : datetime
            Aware.

        Returns
        -------
        int
            How many were new or said something else.

        Raises
        ------
        StoreError
            If the database cannot be written; then none is kept.
        """
        oldest = now - LONGEST_KEPT
        rows = [_row(each) for each in observations if each.time >= oldest]
        with self._writing() as connection:
            before = connection.total_changes
            connection.executemany(_KEEP, rows)
            kept = connection.total_changes - before
            connection.execute("DELETE FROM observations WHERE time < ?", (sortable_text(oldest),))
            return kept

    def recent_observations(self, now: datetime, hours: float = 24.0) -> tuple[Observation, ...]:
        """Return what was observed lately.

        Parameters
        ----------
        now : datetime
            Aware.
        hours : float
            How far back [h].

        Returns
        -------
        tuple of Observation
            Of all stations; now - hours < time <= now, earliest first.

        Raises
        ------
        StoreError
            If the database cannot be read.
        """
        edges = (sortable_text(now - timedelta(hours=hours)), sortable_text(now))
        with self._lock, explained(self.name):
            rows = self._connection.execute(_RECENT, edges).fetchall()
        return tuple(
            Observation(station, parse_instant(time), air_temperature, parse_instant(received))
            for station, time, air_temperature, received in rows
        )


def _row(observation: Observation) -> tuple[str, str, float, str]:
    return (
        observation.station,
        sortable_text(observation.time),
        float(observation.air_temperature),
        sortable_text(observation.received),
    )
