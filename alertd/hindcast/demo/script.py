"""What happens in the demo's winter: the nights that matter, the forecast that errs, the day without forecasts.

The place, the weather and the people are invented. Temperatures are written in °F, as the people of the demo
read them.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

#: Zone in which the days of the script are meant.
TIME_ZONE = ZoneInfo("America/New_York")

#: [degrees north, degrees east] For sunrise; the same as in the demo's configuration.
LATITUDE, LONGITUDE = 41.9, -75.2

#: First and last local day of the demo.
FIRST_DAY, LAST_DAY = date(2025, 10, 1), date(2026, 5, 20)


class Extremes(NamedTuple):
    """Lowest and highest temperature of one local day.

    Parameters
    ----------
    lowest : float
        [°F] Near sunrise.
    highest : float
        [°F] In the afternoon.
    """

    lowest: float
    highest: float


#: Days that are not left to chance.
SCRIPTED_DAYS = {
    # The first freeze: one light night, then two that pots with tender roots do not stand.
    date(2025, 10, 30): Extremes(39.0, 50.0),
    date(2025, 10, 31): Extremes(34.0, 44.0),
    date(2025, 11, 1): Extremes(27.0, 40.0),
    date(2025, 11, 2): Extremes(21.5, 38.0),
    date(2025, 11, 3): Extremes(23.0, 45.0),
    date(2025, 11, 4): Extremes(34.0, 54.0),
    # The freeze that does not come: a mild night where the forecast saw a hard one.
    date(2025, 11, 24): Extremes(31.0, 44.0),
    date(2025, 11, 25): Extremes(29.0, 43.0),
    date(2025, 11, 26): Extremes(28.0, 42.0),
    date(2025, 11, 27): Extremes(30.0, 44.0),
    # Cold enough for potted figs.
    date(2025, 12, 7): Extremes(25.0, 34.0),
    date(2025, 12, 8): Extremes(14.0, 29.0),
    date(2025, 12, 9): Extremes(21.0, 38.0),
    # Cold enough for the wood of figs.
    date(2025, 12, 19): Extremes(21.0, 27.0),
    date(2025, 12, 20): Extremes(9.5, 21.0),
    date(2025, 12, 21): Extremes(12.0, 29.0),
    date(2025, 12, 22): Extremes(22.0, 36.0),
    # Three nights that reach through a wrap.
    date(2026, 1, 20): Extremes(19.0, 28.0),
    date(2026, 1, 21): Extremes(13.0, 17.0),
    date(2026, 1, 22): Extremes(5.0, 15.0),
    date(2026, 1, 23): Extremes(1.0, 16.0),
    date(2026, 1, 24): Extremes(3.5, 22.0),
    date(2026, 1, 25): Extremes(17.0, 30.0),
    # Warm as April, then winter again.
    date(2026, 2, 16): Extremes(33.0, 52.0),
    date(2026, 2, 17): Extremes(38.0, 59.0),
    date(2026, 2, 18): Extremes(42.0, 63.0),
    date(2026, 2, 19): Extremes(43.0, 64.0),
    date(2026, 2, 20): Extremes(41.0, 58.0),
    date(2026, 2, 21): Extremes(33.0, 44.0),
    date(2026, 2, 22): Extremes(22.0, 33.0),
    # A frost on the first shoots.
    date(2026, 4, 23): Extremes(42.0, 60.0),
    date(2026, 4, 24): Extremes(38.0, 49.0),
    date(2026, 4, 25): Extremes(29.0, 50.0),
    date(2026, 4, 26): Extremes(41.0, 58.0),
    # The late frost, after a warm start of May.
    date(2026, 5, 11): Extremes(48.0, 63.0),
    date(2026, 5, 12): Extremes(46.0, 60.0),
    date(2026, 5, 13): Extremes(43.0, 51.0),
    date(2026, 5, 14): Extremes(28.5, 51.0),
    date(2026, 5, 15): Extremes(37.0, 60.0),
    date(2026, 5, 16): Extremes(46.0, 66.0),
}

#: (day, lowest [°F]) Between the scripted days nights do not fall below a line through these points, so that
#: the demo's story is told by the scripted ones.
QUIET_NIGHTS = (
    (date(2025, 10, 1), 41.0),
    (date(2025, 10, 29), 41.0),
    (date(2025, 11, 6), 29.0),
    (date(2025, 12, 5), 25.0),
    (date(2025, 12, 11), 21.0),
    (date(2025, 12, 18), 21.0),
    (date(2025, 12, 24), 16.0),
    (date(2026, 2, 24), 16.0),
    (date(2026, 4, 1), 28.0),
    (date(2026, 4, 20), 40.0),
    (date(2026, 4, 29), 45.0),
    (date(2026, 6, 1), 50.0),
)

#: (day, mean [°F]) Ordinary course of the daily mean, of a place in hills at that latitude. Assumed.
DAILY_MEANS = (
    (date(2025, 9, 25), 59.0),
    (date(2025, 10, 15), 53.0),
    (date(2025, 11, 15), 41.0),
    (date(2025, 12, 15), 32.0),
    (date(2026, 1, 20), 26.0),
    (date(2026, 2, 15), 28.0),
    (date(2026, 3, 15), 38.0),
    (date(2026, 4, 15), 50.0),
    (date(2026, 5, 15), 60.0),
    (date(2026, 6, 5), 65.0),
)


class Bust(NamedTuple):
    """A forecast that errs, run after run, and then eases.

    Parameters
    ----------
    night : datetime
        Middle of the cold that it sees, aware UTC.
    reach : timedelta
        How far around the night it errs.
    first_run, last_run : datetime
        Runs that see the whole of it, aware UTC; two days before the first it grows in.
    error : float
        [°C] At the night.
    """

    night: datetime
    reach: timedelta
    first_run: datetime
    last_run: datetime
    error: float


#: The hard freeze of 26 November that no run sees any more from the evening of the 24th on.
BUST = Bust(
    night=datetime(2025, 11, 26, 11, tzinfo=UTC),
    reach=timedelta(hours=16),
    first_run=datetime(2025, 11, 22, 12, tzinfo=UTC),
    last_run=datetime(2025, 11, 24, 18, tzinfo=UTC),
    error=-10.0,
)

#: From when to when no forecast can be had, aware UTC.
OUTAGE = (datetime(2026, 1, 6, 14, tzinfo=UTC), datetime(2026, 1, 7, 21, tzinfo=UTC))
