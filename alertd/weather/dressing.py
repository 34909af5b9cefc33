"""One forecast becomes many: the error that such forecasts have shown, put around it.

The realizations are the forecast shifted by the quantiles of a normal error that grows with lead time. The
error of one realization has the same sign at all times: what decides is the minimum of a night and the
length of a spell, and errors that changed from hour to hour would average out over a spell (the pessimistic
edge: the coldest realization is cold throughout), and would make every night's minimum colder than any hour
of the forecast says.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import to_datetime64
from alertd.core.temperature import FAHRENHEIT_PER_CELSIUS

from .series import Series

if TYPE_CHECKING:
    from datetime import datetime

    from numpy.typing import ArrayLike, NDArray

    from .series import Forecast

#: Standard deviation of the error of a forecast night's minimum [°C] by lead time [h]. 10 to 46 h:
#: 3.5, 3.7, 4.0 and 4.0 °F, computed from archived US National Weather Service forecasts of cold nights
#: (32 °F or below) in 164 cities, January to September 2021 (seen). 0 h and beyond 46 h: assumed;
#: constant after the last.
ERROR_BY_LEAD_TIME = (
    (0.0, 1.0),
    (10.0, 3.5 / FAHRENHEIT_PER_CELSIUS),
    (22.0, 3.7 / FAHRENHEIT_PER_CELSIUS),
    (34.0, 4.0 / FAHRENHEIT_PER_CELSIUS),
    (46.0, 4.0 / FAHRENHEIT_PER_CELSIUS),
    (120.0, 3.5),
    (240.0, 5.0),
)

#: Realizations of a dressed forecast. Assumed: as many as large ensembles have; odd, so that the middle one
#: is the forecast itself.
DRESSED_REALIZATIONS = 51

#: A source's own word on its error counts down to this share of the default error. Assumed: such words describe the
#: model's air over a grid cell, not a garden's hollow, and ensembles are known to spread too little; but a source
#: that is good may be twice as good as the archived forecasts were.
SMALLEST_ERROR_SHARE = 0.5


def default_error(lead_hours: ArrayLike) -> NDArray[np.float64]:
    """Return the standard deviation of a temperature forecast's error before a site has shown its own.

    Parameters
    ----------
    lead_hours : array_like
        Lead time [h], any shape; negative ones count as 0.

    Returns
    -------
    numpy.ndarray
        [°C] Same shape; linear between the points of `ERROR_BY_LEAD_TIME`.

    Examples
    --------
    >>> default_error([10.0, 240.0, 999.0]).round(2).tolist()
    [1.94, 5.0, 5.0]
    """
    hours, errors = zip(*ERROR_BY_LEAD_TIME, strict=True)
    return np.asarray(np.interp(np.asarray(lead_hours, dtype=np.float64), hours, errors), dtype=np.float64)


@lru_cache(maxsize=8)
def _normal_quantiles(count: int) -> NDArray[np.float64]:
    """Return the quantiles (k + 0.5) / count of the standard normal distribution, shape (count, 1)."""
    normal = NormalDist()
    quantiles = np.array([[normal.inv_cdf((place + 0.5) / count)] for place in range(count)])
    quantiles.flags.writeable = False
    return quantiles


def dress_forecast(forecast: Forecast, n_realizations: int = DRESSED_REALIZATIONS) -> Forecast:
    """Return a forecast of one realization as many; others pass through unchanged.

    Parameters
    ----------
    forecast : Forecast
        Any. An ensemble says its own spread and is not dressed.
    n_realizations : int
        Odd.

    Returns
    -------
    Forecast
        Dressed with the forecast's own error where that is finite, but at least with half of the default error;
        with the default error elsewhere. A dressed forecast has no error of its own any more.

    Raises
    ------
    ValueError
        If a single forecast is to be dressed and `n_realizations` is not odd and positive.
    """
    if forecast.series.n_realizations != 1:
        return forecast
    series = dress(forecast.series, forecast.forecast_reference_time, n_realizations, forecast.error)
    return replace(forecast, series=series, error=None)


def dress(
    series: Series,
    forecast_reference_time: datetime,
    n_realizations: int = DRESSED_REALIZATIONS,
    error: NDArray[np.float64] | None = None,
) -> Series:
    """Return a single forecast as many realizations, coldest first.

    Parameters
    ----------
    series : Series
        Of one realization.
    forecast_reference_time : datetime
        Aware; lead times count from it.
    n_realizations : int
        Odd.
    error : numpy.ndarray or None
        shape (n_times,): standard deviation of the error by the source's own word [°C]; NaN where it says nothing.

    Returns
    -------
    Series
        Air temperature shifted by ``sigma(lead) * z_k``, with z_k the normal quantile (k + 0.5) / n; the
        median is the forecast. The dew point is shifted alike but never above the air temperature. The
        other variables are the same in all realizations.

    Raises
    ------
    ValueError
        If the series has several realizations already, which say their own spread, or `n_realizations`
        is not odd and positive.
    """
    if series.n_realizations != 1:
        message = f"only a single forecast can be dressed, not one of {series.n_realizations} realizations"
        raise ValueError(message)
    if n_realizations < 1 or n_realizations % 2 == 0:
        message = f"the number of realizations must be odd, so that the median is the forecast, not {n_realizations}"
        raise ValueError(message)
    lead_hours = (series.times - to_datetime64(forecast_reference_time)) / np.timedelta64(1, "h")
    shift = _error(lead_hours, error) * _normal_quantiles(n_realizations)
    variables = {name: np.repeat(values, n_realizations, axis=0) for name, values in series.variables.items()}
    air_temperature = series.air_temperature + shift
    variables["air_temperature"] = air_temperature
    if "dew_point_temperature" in variables:
        shifted = series.variables["dew_point_temperature"] + shift
        variables["dew_point_temperature"] = np.where(shifted > air_temperature, air_temperature, shifted)
    return Series(series.times, variables)


def _error(lead_hours: NDArray[np.float64], own: NDArray[np.float64] | None) -> NDArray[np.float64]:
    """Return the error to dress with [°C]: the source's own where it has one, never far below the default."""
    default = default_error(lead_hours)
    if own is None:
        return default
    return np.where(np.isfinite(own), np.maximum(own, SMALLEST_ERROR_SHARE * default), default)
