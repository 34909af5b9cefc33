"""Nights of which little is forecast: their minimum, how they cool, and what to assume for what is missing.

Services differ in what they state. Where cloud cover or dew point is missing it is assumed from the air temperatures,
with a spread of one standard deviation that belongs into the uncertainty of whatever is computed from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from .parameters import Parameter
from .sky import CLOUD_CLOSES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import Numbers

#: From this long after sunset on a night cools with the square root of time [h]. Source: FAO frost book, chapter 5,
#: from memory.
HOURS_UNTIL_TREND = 2.0

#: Hours of a day [1]: window in which the range and the minimum of the temperature are looked for.
_DAY = 24

#: Error of a missing cloud cover that is assumed from the daily range of the temperature [1], 1 sd. Assumed.
CLOUD_ERROR = 0.3

#: What is assumed where a service does not say.
NIGHT_PARAMETERS = (
    Parameter(
        "dew_point_below_minimum",
        0.0,
        -2.0,
        2.0,
        "K",
        "how far a missing dew point is taken below the coming minimum of the air",
        "assumed: common practice takes the dew point as the minimum of the night, in dry places 2 K below",
    ),
    Parameter(
        "cloud_error",
        0.0,
        -CLOUD_ERROR,
        CLOUD_ERROR,
        "1",
        "error of a missing cloud cover, assumed from the daily range of the temperature",
        "assumed: fronts change the temperature without the sun",
    ),
)


@dataclass(frozen=True, slots=True)
class MinimumRegression:
    """How the minimum of a night follows from the evening, at one place.

    Parameters
    ----------
    temperature_slope, dew_point_slope : float
        [1]
    intercept : float
        [K]
    spread : float
        [K] Root mean square of what the regression missed in the nights that it was made from.
    """

    temperature_slope: float
    dew_point_slope: float
    intercept: float
    spread: float

    def minimum(self, air_temperature: Numbers, dew_point: Numbers) -> NDArray[np.float64]:
        """Return the minimum of the night [°C] from air temperature and dew point two hours after sunset [°C]."""
        air = np.asarray(air_temperature, dtype=np.float64)
        return self.temperature_slope * air + self.dew_point_slope * dew_point + self.intercept


def fit_minimum_regression(
    air_temperature: NDArray[np.float64], dew_point: NDArray[np.float64], minimum: NDArray[np.float64]
) -> MinimumRegression:
    """Learn from clear calm nights how the minimum follows from the evening.

    Parameters
    ----------
    air_temperature, dew_point : numpy.ndarray
        [°C] shape (n_nights,): two hours after sunset.
    minimum : numpy.ndarray
        [°C] shape (n_nights,): of the night that follows.

    Returns
    -------
    MinimumRegression
        In two steps: the minimum on the temperature, then what is left on the dew point.

    Raises
    ------
    ValueError
        If the shapes differ, there are fewer than three nights, a value is not finite, or all nights have the same
        temperature or the same dew point.

    References
    ----------
    Snyder & de Melo-Abreu 2005, Frost Protection, FAO, chapter 5, from memory; the two steps give the output of a
    published statistics package on the book's example (seen).
    """
    together = (air_temperature, dew_point, minimum)
    if any(values.shape != (minimum.size,) for values in together) or minimum.size < 3:  # noqa: PLR2004
        message = f"a regression wants three nights or more, not {[values.shape for values in together]}"
        raise ValueError(message)
    if not all(np.isfinite(values).all() for values in together):
        message = "a regression wants finite temperatures"
        raise ValueError(message)
    temperature_slope, first = _line(air_temperature, minimum)
    residual = minimum - temperature_slope * air_temperature - first
    dew_point_slope, second = _line(dew_point, residual)
    missed = residual - dew_point_slope * dew_point - second
    return MinimumRegression(temperature_slope, dew_point_slope, first + second, float(np.sqrt((missed**2).mean())))


def _line(given: NDArray[np.float64], wanted: NDArray[np.float64]) -> tuple[float, float]:
    """Return slope and intercept of the line of least squares."""
    from_mean = given - given.mean()
    variation = float(from_mean @ from_mean)
    if variation == 0.0:
        message = f"a regression wants nights that differ, not {given[0]} °C in all of them"
        raise ValueError(message)
    slope = float(from_mean @ wanted) / variation
    return slope, float(wanted.mean()) - slope * float(given.mean())


def cooling_trend(
    air_temperature: Numbers, minimum: Numbers, hours_of_night: Numbers, hours_after_sunset: Numbers
) -> NDArray[np.float64]:
    """Return how the air cools in a clear calm night.

    Parameters
    ----------
    air_temperature : float or numpy.ndarray
        [°C] Two hours after sunset.
    minimum : float or numpy.ndarray
        [°C] At sunrise.
    hours_of_night : float or numpy.ndarray
        [h] From sunset to sunrise, more than 2.
    hours_after_sunset : float or numpy.ndarray
        [h] 2 to `hours_of_night`; outside, the value at that end is returned.

    Returns
    -------
    numpy.ndarray
        [°C]

    Raises
    ------
    ValueError
        If a night lasts no more than 2 h.

    References
    ----------
    Snyder & de Melo-Abreu 2005, Frost Protection, FAO, chapter 5, from memory; it gives the output of a published
    statistics package (seen).
    """
    lasting = np.asarray(hours_of_night, dtype=np.float64) - HOURS_UNTIL_TREND
    if (lasting <= 0.0).any():
        message = f"a night of {float(lasting.min()) + HOURS_UNTIL_TREND} h is too short to cool with the root of time"
        raise ValueError(message)
    share = np.clip((np.asarray(hours_after_sunset, dtype=np.float64) - HOURS_UNTIL_TREND) / lasting, 0.0, 1.0)
    start = np.asarray(air_temperature, dtype=np.float64)
    return start + (minimum - start) * np.sqrt(share)


def dew_point_or_assumed(
    air_temperature: NDArray[np.float64], dew_point: NDArray[np.float64] | None, *, dew_point_below_minimum: float = 0.0
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return dew points, assumed where they are missing: the coming minimum of the air.

    Parameters
    ----------
    air_temperature : numpy.ndarray
        [°C] shape (..., n_times), hourly; NaN where unknown.
    dew_point : numpy.ndarray or None
        [°C] Same shape, NaN where missing; None where a service has none.
    dew_point_below_minimum : float
        [K] How far below the lowest temperature of the coming 24 h it is assumed.

    Returns
    -------
    dew_point : numpy.ndarray
        [°C] NaN only where no air temperature is known either.
    is_assumed : numpy.ndarray
        Same shape.
    """
    # A day that runs past the end of the series is moved back to end with it.
    minimum = _of_days(np.fmin, air_temperature, 0)
    assumed = np.minimum(minimum - dew_point_below_minimum, air_temperature)
    return _or_assumed(dew_point, assumed)


def cloud_or_assumed(
    air_temperature: NDArray[np.float64], cloud: NDArray[np.float64] | None, *, cloud_error: float = 0.0
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return cloud covers, assumed where they are missing: the less the temperature ranges in a day, the more cloud.

    Parameters
    ----------
    air_temperature : numpy.ndarray
        [°C] shape (..., n_times), hourly; NaN where unknown.
    cloud : numpy.ndarray or None
        [1] Same shape, 0 to 1, NaN where missing; None where a service has none.
    cloud_error : float
        [1] Added to what is assumed.

    Returns
    -------
    cloud : numpy.ndarray
        [1] 0 to 1; NaN only where no air temperature is known either.
    is_assumed : numpy.ndarray
        Same shape.

    Notes
    -----
    The share of the clear sky's irradiance by the daily range, 0.16 sqrt(range) / 0.75, gives with the cloudiness
    factor of net long-wave radiation, 1.35 share - 0.35, the cover that dampens it as much: 0 from a range of 22 K on,
    0.24 at 16 K, 0.84 at 5 K.

    References
    ----------
    Allen et al. 1998, FAO Irrigation and Drainage Paper 56, equations 39 (seen) and 50 (from memory); Unsworth &
    Monteith 1975 (from memory); their combination is derived here.
    """
    warmest, coldest = (_of_days(extreme, air_temperature, _DAY // 2) for extreme in (np.fmax, np.fmin))
    daily_range = warmest - coldest
    clearness = np.minimum(0.16 * np.sqrt(daily_range) / 0.75, 1.0)
    assumed = np.clip(1.35 * (1.0 - clearness) / CLOUD_CLOSES + cloud_error, 0.0, 1.0)
    return _or_assumed(cloud, assumed)


def _of_days(extreme: np.ufunc, values: NDArray[np.float64], before: int) -> NDArray[np.float64]:
    """Return for each hour the extreme of the 24 h around it that begin `before` hours earlier, within the series."""
    length = values.shape[-1]
    width = min(_DAY, length)
    starts = np.clip(np.arange(length) - before, 0, length - width)
    found = values[..., starts]
    for hour in range(1, width):  # a window at a time would hold all values 24 times
        extreme(found, values[..., starts + hour], out=found)
    return found


def _or_assumed(
    known: NDArray[np.float64] | None, assumed: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return what is known, else what is assumed, and where."""
    if known is None:
        return assumed, np.ones(assumed.shape, dtype=np.bool_)
    is_missing = np.isnan(known)
    return np.where(is_missing, assumed, known), is_missing
