"""Weather as the models take it: whole hours, nothing missing, the days before in front."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.weather import Series, at_hours, with_hours

from .night import CLOUD_ERROR, cloud_or_assumed, dew_point_or_assumed
from .sky import sky_temperature
from .sun import solar_load

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .sun import SolarLoad

#: The models begin so long before the forecast: about as far back as the weather is remembered. Large root balls
#: remember longer (see `alertd.thermal.root_model`).
SPIN_UP = timedelta(days=10)

#: What is assumed where no source tells: wind at ten metres [m/s], cloud cover at most [1], how far the dew point lies
#: below the air at least [K]. Assumed: a light wind; half the sky, and less on days whose temperature ranges far (not
#: more on others: they may be even for their wind, and clear); air as moist as winter nights are, drier by day.
_WIND, _CLOUD, _DEW_POINT_DEPRESSION = 2.0, 0.5, 3.0

#: Values further apart say nothing of the time between them; the same in hours.
_LARGEST_STEP = timedelta(hours=6)
_LONGEST_GAP = _LARGEST_STEP // timedelta(hours=1)

_HOUR = np.timedelta64(3600, "s")

_NO_FORECAST = "there is no forecast of the air temperature on any whole hour"


@dataclass(frozen=True, slots=True)
class Forcing:
    """Weather on whole hours; arrays of shape (n_members, n_times), each value for the hour that begins at its time.

    Parameters
    ----------
    times : numpy.ndarray
        shape (n_times,), ``datetime64[s]``, UTC, hour by hour.
    n_before : int
        How many of them lie before the forecast.
    air_temperature, dew_point, sky_temperature : numpy.ndarray
        [°C]
    sky_spread : numpy.ndarray
        [K] How well the temperature of the sky is known, 1 sd.
    wind_speed : numpy.ndarray
        [m/s] At ten metres.
    cloud : numpy.ndarray
        [1] 0 to 1.
    snow : numpy.ndarray
        [m]
    sun : SolarLoad
        [W/m2] On a flat top and on the mean of a standing wall, without shade.
    is_known : numpy.ndarray
        Whether the air temperature was told and not taken from other realizations; True for the hours before the
        forecast, which are the same for all.
    missing : tuple of str
        CF names of what no source tells of the hours ahead.
    is_guessed : numpy.ndarray
        shape (n_times,), whether nothing is known of an hour before the forecast.
    """

    times: NDArray[np.datetime64]
    n_before: int
    air_temperature: NDArray[np.float64]
    dew_point: NDArray[np.float64]
    sky_temperature: NDArray[np.float64]
    sky_spread: NDArray[np.float64]
    wind_speed: NDArray[np.float64]
    cloud: NDArray[np.float64]
    snow: NDArray[np.float64]
    sun: SolarLoad
    is_known: NDArray[np.bool_]
    missing: tuple[str, ...]
    is_guessed: NDArray[np.bool_]

    @property
    def n_guessed(self) -> int:
        """How many hours before the forecast nothing is known of."""
        return int(self.is_guessed.sum())

    @property
    def n_members(self) -> int:
        """How many members."""
        return int(self.air_temperature.shape[0])


def forcing_of(latitude: float, longitude: float, ahead: Series, past: Series | None) -> Forcing:
    """Return weather as the models take it.

    Parameters
    ----------
    latitude, longitude : float
        [degrees north, degrees east]
    ahead : Series
        The forecast; at least one time with an air temperature.
    past : Series or None
        Weather of the days before, shape (1, n_times).

    Returns
    -------
    Forcing
        From `SPIN_UP` before the forecast's first hour to its last; the hours before are the same for all members.
        Where a realization says nothing, the mean of the others stands in and it is not known. Before the forecast,
        what is missing for longer than six hours is guessed: the weather of each such hour is taken to have been like
        that of the same hour of the day after.

    Raises
    ------
    ValueError
        If there is no air temperature on any whole hour ahead, or the past has several realizations.
    """
    if past is not None and past.n_realizations != 1:
        message = f"the days before have {past.n_realizations} realizations; they happened only once"
        raise ValueError(message)
    if ahead.n_times == 0:
        raise ValueError(_NO_FORECAST)
    first = ahead.times[0].astype("datetime64[h]").astype("datetime64[s]")
    n_before = SPIN_UP // timedelta(hours=1)
    n_ahead = int((ahead.times[-1] - first) // _HOUR) + 1
    times = (first + np.arange(-n_before, n_ahead) * _HOUR).astype("datetime64[s]")
    after = at_hours(with_hours(ahead), times[n_before:], _LARGEST_STEP)
    if np.isnan(after.air_temperature).all():
        raise ValueError(_NO_FORECAST)
    before = None if past is None else at_hours(with_hours(past), times[:n_before], _LARGEST_STEP)

    def placed(name: str) -> NDArray[np.float64]:
        values = np.full((ahead.n_realizations, times.size), np.nan)
        if name in after.variables:
            values[:, n_before:] = after.variables[name]
        if before is not None and name in before.variables:
            values[:, :n_before] = before.variables[name]
        return values

    raw = placed("air_temperature")
    source = _sources(np.asarray(~np.isnan(raw).all(axis=0)), n_before)
    air = _complete(raw, source)
    told = [name for name in _NEEDED if name in ahead.variables and not np.isnan(ahead.variables[name]).all()]
    wind = np.maximum(_or_assumed(placed("wind_speed"), _WIND, source), 0.0)
    cover, minimum = (
        _alike_before(found(air, None)[0], n_before) for found in (cloud_or_assumed, dew_point_or_assumed)
    )
    is_assumed = "cloud_area_fraction" not in told
    cloud = np.clip(_or_assumed(placed("cloud_area_fraction") / 100.0, np.minimum(cover, _CLOUD), source), 0.0, 1.0)
    dry = np.maximum(air - minimum, _DEW_POINT_DEPRESSION)
    depression = _or_assumed(air - placed("dew_point_temperature"), dry, source)
    dew = np.minimum(air - depression, air)
    snow = np.maximum(_or_assumed(placed("surface_snow_thickness"), 0.0, source), 0.0)
    sky, sky_spread = sky_temperature(air, dew, cloud)
    if is_assumed:
        sky_spread = np.hypot(sky_spread, _by_cloud(air, dew, cloud))
    return Forcing(
        times=times,
        n_before=n_before,
        air_temperature=air,
        dew_point=dew,
        sky_temperature=sky,
        sky_spread=sky_spread,
        wind_speed=wind,
        cloud=cloud,
        snow=snow,
        sun=solar_load(times, latitude, longitude, cloud),
        is_known=~np.isnan(raw) | (np.arange(times.size) < n_before),
        missing=tuple(name for name in _NEEDED if name not in told),
        is_guessed=source != np.arange(times.size),
    )


#: What the models want beside the air temperature.
_NEEDED = ("wind_speed", "cloud_area_fraction", "dew_point_temperature")


def _sources(is_known: NDArray[np.bool_], n_before: int) -> NDArray[np.intp]:
    """Return from which hour each one has its weather: its own, or for a guess before the forecast a later one."""
    known, places = np.flatnonzero(is_known), np.arange(is_known.size)
    after = np.searchsorted(known, places)
    left = np.where(after > 0, known[np.maximum(after - 1, 0)], -_LONGEST_GAP)
    right = known[np.minimum(after, known.size - 1)]
    is_guessed = ~is_known & (places < n_before) & (right - left > _LONGEST_GAP)
    source = places.copy()
    # From the forecast backwards, so that a guess may rest on a guess; a forecast of less than a day has no day after.
    for place in np.flatnonzero(is_guessed)[::-1]:
        source[place] = source[min(place + 24, known[-1])]
    return np.asarray(source, dtype=np.intp)


def _complete(values: NDArray[np.float64], source: NDArray[np.intp]) -> NDArray[np.float64]:
    """Return air temperatures of all members and hours."""
    shared = _mean(values)
    known = np.flatnonzero(~np.isnan(shared))
    whole = np.interp(np.arange(shared.size), known, shared[known])[source]
    return np.where(np.isnan(values), whole, values)


def _alike_before(values: NDArray[np.float64], n_before: int) -> NDArray[np.float64]:
    """Return values whose hours before the forecast are the mean of all members: those hours happened once."""
    ahead, before = values[:, n_before:], values[:, :n_before].mean(axis=0, keepdims=True)
    return np.concatenate([np.repeat(before, len(values), axis=0), ahead], axis=1)


def _by_cloud(air: NDArray[np.float64], dew: NDArray[np.float64], cloud: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return what it adds to the uncertainty of the sky [K], 1 sd, that its clouds are assumed."""
    less, more = (
        sky_temperature(air, dew, np.clip(cloud + error, 0.0, 1.0))[0] for error in (-CLOUD_ERROR, CLOUD_ERROR)
    )
    return np.asarray((more - less) / 2.0)


def _or_assumed(
    values: NDArray[np.float64], assumed: float | NDArray[np.float64], source: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Return values with the mean of the members where one is missing, the assumed one where all are."""
    shared = _mean(values)
    whole = np.where(np.isnan(shared), assumed, shared)[..., source]
    is_guessed = source != np.arange(source.size)
    return np.where(np.isnan(values) | is_guessed, whole, values)


def _mean(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the mean of the members that are known, shape (n_times,); NaN where none is."""
    known = ~np.isnan(values)
    count = known.sum(axis=0)
    total = np.where(known, values, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)
