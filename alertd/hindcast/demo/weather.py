"""One invented winter, hour by hour, and the forecasts that were made of it.

Both are pure functions of a seed. The truth joins daily extremes by half waves: lowest at sunrise, highest
in the afternoon. Its chance weather persists from day to day. A forecast is the truth with an error that
grows with lead time, is smooth in valid time, and persists from run to run, as those of real forecasts do.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import TemperatureUnit, as_utc, celsius, to_datetime64
from alertd.site import daylight
from alertd.weather import Series

from .script import (
    BUST,
    DAILY_MEANS,
    FIRST_DAY,
    LAST_DAY,
    LATITUDE,
    LONGITUDE,
    QUIET_NIGHTS,
    SCRIPTED_DAYS,
    TIME_ZONE,
    Extremes,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: Seed of the demo's winter. Of the first 45 the one with the fewest letters: a demo is read in one sitting.
SEED = 27

#: Time between two runs of the forecast, and from a run until it can be had. Usual for global models.
RUN_EVERY, RUN_TAKES = timedelta(hours=6), timedelta(hours=1, minutes=30)

#: Runs in a day.
RUNS_PER_DAY = timedelta(days=1) // RUN_EVERY

#: How far a forecast reaches.
FORECAST_REACH = timedelta(days=7)

#: [°C] Standard deviation of a forecast's error by lead time [h]. Assumed; a little better than what alertd
#: expects of a forecast before a site has shown its own errors.
ERROR_BY_LEAD_TIME = ((0.0, 0.3), (24.0, 0.7), (48.0, 1.0), (120.0, 1.9), (168.0, 2.6))

#: Chance weather of the days: standard deviation [°F] and what is left of it on the next day. Assumed.
_DAILY_DEVIATION, _DAILY_PERSISTENCE = 5.0, 0.65

#: [°F] Difference between the extremes of a day, and its standard deviation. Assumed.
_DAILY_RANGE, _RANGE_DEVIATION = 18.0, 4.0

#: [°F] The smallest difference between the extremes of a day. Assumed.
_SMALLEST_RANGE = 7.0

#: [°F] A day that swings by so much is all overcast, and all clear. [m/s] Wind at ten metres on an overcast day and on
#: a clear one; by day it blows stronger by the share. [K] By how much the dew point lies below the night's lowest
#: temperature when it is clear, and by how much it rises by day. Assumed: clouds and wind keep days and nights alike.
_OVERCAST_RANGE, _CLEAR_RANGE = 8.0, 22.0
_OVERCAST_WIND, _CLEAR_WIND, _STRONGER_BY_DAY = 5.0, 1.5, 0.5
_DRY_BY, _DAMPER_BY_DAY = 2.0, 0.4

#: Local time of the day's highest temperature. Assumed.
_WARMEST = time(14, 40)

#: [°C] Standard deviation of what clouds and wind do within an hour, and what is left of it in the next. Assumed.
_HOURLY_DEVIATION, _HOURLY_PERSISTENCE = 0.15, 0.8

#: What is left of a run's error in the next run. Assumed.
_RUN_PERSISTENCE = 0.9

#: [h] Distance of the nodes between which errors are smooth in valid time. Assumed.
_NODE_HOURS = 12.0

_DAY = timedelta(days=1)
_HOUR = np.timedelta64(3600, "s")


@dataclass(frozen=True, slots=True)
class DemoWeather:
    """A winter and its forecasts.

    Parameters
    ----------
    truth : Series
        Air temperature and dew point [°C], wind [m/s] and clouds [%], shape (1, n_times), hourly, from the first day of
        the demo until a week after the last.
    run_errors : numpy.ndarray
        Standard normal errors, shape (n_runs, n_nodes), by run and by valid time in steps of twelve hours.
    """

    truth: Series
    run_errors: NDArray[np.float64]

    @property
    def n_runs(self) -> int:
        """How many forecasts there are."""
        return int(self.run_errors.shape[0])

    def winter(self) -> Series:
        """Return the truth of the days of the demo.

        Returns
        -------
        Series
            Air temperature [°C], shape (1, n_times).
        """
        return self.truth.window(local_midnight(FIRST_DAY), local_midnight(LAST_DAY + _DAY))

    def forecast_at(self, now: datetime) -> tuple[datetime, Series]:
        """Return the latest forecast that can be had at an instant.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        tuple of (datetime, Series)
            Reference time (aware UTC), and the variables of the truth, shape (1, 168), hourly.

        Raises
        ------
        ValueError
            If `now` is naive, or outside the days of the demo.
        """
        run = (as_utc(now) - RUN_TAKES - _first_run()) // RUN_EVERY
        if not 0 <= run < self.n_runs:
            message = f"the demo has no forecast at {now}"
            raise ValueError(message)
        return self.forecast_of_run(run)

    def forecast_of_run(self, run: int) -> tuple[datetime, Series]:
        """Return one forecast.

        Parameters
        ----------
        run : int
            Its number, from 0.

        Returns
        -------
        tuple of (datetime, Series)
            Reference time (aware UTC), and the variables of the truth, shape (1, 168), hourly. Only the temperature
            errs, and the dew point where it must not lie above it.
        """
        reference = _first_run() + run * RUN_EVERY
        series = self.truth.window(reference, reference + FORECAST_REACH)
        lead = (series.times - to_datetime64(reference)) / _HOUR
        nodes = (series.times - self.truth.times[0]) / _HOUR / _NODE_HOURS
        error = np.interp(lead, *_columns(ERROR_BY_LEAD_TIME)) * _between_nodes(self.run_errors[run], nodes)
        error += BUST.error * _bust_in_run(reference) * _bust_at(series.times)
        air = np.round(series.air_temperature + error, 1)
        dew = np.minimum(series.variables["dew_point_temperature"], air)
        return reference, Series(
            series.times, {**series.variables, "air_temperature": air, "dew_point_temperature": dew}
        )


def demo_weather(seed: int = SEED) -> DemoWeather:
    """Return the winter that a seed makes.

    Parameters
    ----------
    seed : int
        Changes the chance weather and the errors of forecasts; the scripted nights stay.

    Returns
    -------
    DemoWeather
        The same for the same seed, on every machine.
    """
    # The stream of RandomState is frozen by NumPy's policy (NEP 19); that of newer generators is not.
    random = np.random.RandomState(seed)
    truth = _truth(random)
    n_runs = (local_midnight(LAST_DAY + _DAY) - _first_run()) // RUN_EVERY + 1
    n_nodes = int(truth.n_times / _NODE_HOURS) + 3
    return DemoWeather(truth, _persistent(random.standard_normal((n_runs, n_nodes)), _RUN_PERSISTENCE))


def local_midnight(day: date) -> datetime:
    """Return the beginning of a local day of the demo, aware UTC."""
    return as_utc(datetime.combine(day, time(0), tzinfo=TIME_ZONE))


def _first_run() -> datetime:
    """Return the reference time of the first forecast: midnight UTC of the first day."""
    return datetime.combine(FIRST_DAY, time(0), tzinfo=UTC)


def _truth(random: np.random.RandomState) -> Series:
    """Return the air temperature of every hour that a forecast may speak of."""
    first, last = FIRST_DAY - _DAY, LAST_DAY + FORECAST_REACH + 2 * _DAY
    days = [first + offset * _DAY for offset in range((last - first).days + 1)]
    extremes = _daily_extremes(days, random)
    instants, values = _turning_points(days, extremes)
    start, end = to_datetime64(_first_run()), to_datetime64(local_midnight(last))
    times = np.arange(start, end, _HOUR)
    seconds = times.astype(np.int64)
    chance = _HOURLY_DEVIATION * _persistent(random.standard_normal((times.size, 1)), _HOURLY_PERSISTENCE)[:, 0]
    smooth = _half_waves(seconds.astype(np.float64), instants, values)
    air = np.round(smooth + chance, 1)[np.newaxis, :]
    return Series(times, {"air_temperature": air, **_sky_and_wind(days, extremes, seconds.astype(np.float64), air)})


def _sky_and_wind(
    days: list[date], extremes: list[Extremes], at: NDArray[np.float64], air: NDArray[np.float64]
) -> dict[str, NDArray[np.float64]]:
    """Return clouds [%], wind [m/s] and dew point [°C] that go with the days' extremes, shape (1, n_times) each."""
    warmest = np.array([as_utc(datetime.combine(day, _WARMEST, tzinfo=TIME_ZONE)).timestamp() for day in days])
    lowest, highest = np.array(extremes).T
    clear = np.clip((highest - lowest - _OVERCAST_RANGE) / (_CLEAR_RANGE - _OVERCAST_RANGE), 0.0, 1.0)
    dew = np.array([celsius(value, TemperatureUnit.FAHRENHEIT) for value in lowest]) - _DRY_BY * clear
    clear, dew = np.interp(at, warmest, clear), np.interp(at, warmest, dew)
    by_day = np.maximum(np.cos(2.0 * np.pi * (at - warmest[0]) / _DAY.total_seconds()), 0.0)
    wind = (_OVERCAST_WIND + clear * (_CLEAR_WIND - _OVERCAST_WIND)) * (1.0 + _STRONGER_BY_DAY * by_day)
    return {
        "dew_point_temperature": np.minimum(np.round(dew + _DAMPER_BY_DAY * by_day, 1)[np.newaxis, :], air),
        "wind_speed": np.round(wind, 1)[np.newaxis, :],
        "cloud_area_fraction": np.round(100.0 * (1.0 - clear))[np.newaxis, :],
    }


def _daily_extremes(days: list[date], random: np.random.RandomState) -> list[Extremes]:
    """Return the extremes of each day [°F]: as scripted, or by chance around the ordinary course of the year."""
    chance = _DAILY_DEVIATION * _persistent(random.standard_normal((len(days), 1)), _DAILY_PERSISTENCE)[:, 0]
    ranges = np.maximum(_DAILY_RANGE + _RANGE_DEVIATION * random.standard_normal(len(days)), _SMALLEST_RANGE)
    ordinals = np.array([float(day.toordinal()) for day in days])
    means = np.interp(ordinals, *_columns(tuple((float(day.toordinal()), mean) for day, mean in DAILY_MEANS)))
    floors = np.interp(ordinals, *_columns(tuple((float(day.toordinal()), low) for day, low in QUIET_NIGHTS)))
    extremes = []
    for day, mean, width, floor in zip(days, means + chance, ranges, floors, strict=True):
        lowest = floor + _softened(mean - width / 2.0 - floor)
        ordinary = Extremes(lowest, max(mean + width / 2.0, lowest + _SMALLEST_RANGE))
        extremes.append(SCRIPTED_DAYS.get(day, ordinary))
    return extremes


def _softened(excess: float) -> float:
    """Return an excess that never falls below zero, without an edge [°F]."""
    width = 3.0
    return float(width * np.log1p(np.exp(min(excess, 60.0) / width)))


def _turning_points(days: list[date], extremes: list[Extremes]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return when [s since 1970] the temperature turns, and at what value [°C]."""
    instants, values = [], []
    for day, extreme in zip(days, extremes, strict=True):
        sunrise = daylight(LATITUDE, LONGITUDE, day).sunrise or local_midnight(day)
        warmest = as_utc(datetime.combine(day, _WARMEST, tzinfo=TIME_ZONE))
        instants += [sunrise.timestamp(), warmest.timestamp()]
        values += [celsius(value, TemperatureUnit.FAHRENHEIT) for value in extreme]
    return np.array(instants), np.array(values)


def _half_waves(
    at: NDArray[np.float64], instants: NDArray[np.float64], values: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return values that go from one turning point to the next in half a cosine."""
    place = np.searchsorted(instants, at, side="right") - 1
    share = (at - instants[place]) / (instants[place + 1] - instants[place])
    weight = (1.0 - np.cos(np.pi * share)) / 2.0
    return np.asarray(values[place] + weight * (values[place + 1] - values[place]), dtype=np.float64)


def _persistent(noise: NDArray[np.float64], persistence: float) -> NDArray[np.float64]:
    """Return noise of which each row keeps a share of the row before, with the same deviation."""
    rows = noise.copy()
    fresh = (1.0 - persistence**2) ** 0.5
    for row in range(1, len(rows)):
        rows[row] = persistence * rows[row - 1] + fresh * noise[row]
    return rows


def _between_nodes(nodes: NDArray[np.float64], at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return values that go from one node to the next in half a cosine."""
    place = at.astype(np.int64)
    weight = (1.0 - np.cos(np.pi * (at - place))) / 2.0
    return np.asarray(nodes[place] + weight * (nodes[place + 1] - nodes[place]), dtype=np.float64)


def _bust_in_run(reference: datetime) -> float:
    """Return how much of the scripted error a run has: growing in within two days, then all, then none."""
    if reference > BUST.last_run:
        return 0.0
    return float(np.clip(1.0 - (BUST.first_run - reference) / (2 * _DAY), 0.0, 1.0))


def _bust_at(times: NDArray[np.datetime64]) -> NDArray[np.float64]:
    """Return the shape of the scripted error in valid time: 1 at the night, nothing a day away."""
    distance = (times - to_datetime64(BUST.night)) / np.timedelta64(BUST.reach)
    return np.asarray(np.exp(-(distance**2)), dtype=np.float64)


def _columns(points: tuple[tuple[float, float], ...]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the points of a line as two arrays."""
    table = np.array(points)
    return table[:, 0], table[:, 1]
