"""From the bytes of a MET Norway Locationforecast 2.0 to a checked hourly series. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import to_datetime64
from alertd.sources.minima import believable_minima
from alertd.sources.position import great_circle_distance
from alertd.weather import PHYSICAL_RANGE, PeriodMinimum, QualitySettings, Series, check_quality

from .hourly import filled, filled_axis, spread_amounts
from .steps import read_steps, refuse

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from numpy.typing import NDArray

    from alertd.weather import Finding

    from .steps import Steps

#: [m] An answer for a place further away is not the one asked for. Assumed: positions are asked with four decimals,
#: 11 m, and a service may round to two, 0.8 km.
LARGEST_DISTANCE = 2_000.0

#: [m] An answer for a place that much higher or lower is not the one asked for. Assumed: 0.65 °C.
LARGEST_CLIMB = 100.0

#: Standard deviations from the 10th to the 90th percentile of a normal distribution, 2 · 1.2816. From memory.
DEVIATIONS_BETWEEN_PERCENTILES = 2.0 * 1.2816

_SIX_HOURS = timedelta(hours=6)
_HOUR_SECONDS, _SIX_HOURS_SECONDS = 3600, 6 * 3600

#: Later steps are six hours apart by design, so that only larger gaps are worth a word.
_QUALITY = QualitySettings(gap_time=_SIX_HOURS)

_STATES = ("air_temperature", "dew_point_temperature", "wind_speed", "cloud_area_fraction")
_AMOUNT = "precipitation_amount"


@dataclass(frozen=True, slots=True)
class LocationForecast:
    """A forecast of MET Norway, checked.

    Parameters
    ----------
    updated : datetime
        Aware UTC: when it was updated, by its own word.
    series : Series
        One realization, hourly as far as steps are at most six hours apart.
    minima : tuple of PeriodMinimum
        Of the six hours after each step that states one.
    error : numpy.ndarray or None
        shape (n_times,): standard deviation of the air temperature [°C], NaN where no percentiles are given; ``None``
        if there are none at all.
    findings : tuple of Finding
        What quality control found.
    """

    updated: datetime
    series: Series
    minima: tuple[PeriodMinimum, ...]
    error: NDArray[np.float64] | None
    findings: tuple[Finding, ...]


def parse_locationforecast(body: bytes, latitude: float, longitude: float, altitude: float) -> LocationForecast:
    """Return what an answer of Locationforecast 2.0 (`complete` or `compact`) says about a place.

    Steps are hourly for two to three days and six-hourly after them. The six-hourly part is filled to whole hours,
    linearly between instants at most six hours apart, so that nights are seen at all. The instants miss the real
    minimum by up to 2.3 °C (measured on two recorded answers), and so does the line between them: what binds it is
    `minima`, the lowest temperature over (t, t + 6 h] that the forecast itself states beside the instants. The
    forecast is made for the altitude asked, so it is not brought to another one.

    Parameters
    ----------
    body : bytes
        The answer.
    latitude, longitude : float
        [degrees north, degrees east] that were asked for.
    altitude : float
        [m] that was asked for.

    Returns
    -------
    LocationForecast
        Values that cannot be true are missing. `error` is (p90 - p10) / 2.5632, the standard deviation of a normal
        distribution with these percentiles.

    Raises
    ------
    SourceMalformed
        If the body is no such answer, states an error, speaks of another place or in other units, or fails quality
        control.

    References
    ----------
    MET Norway, Locationforecast 2.0 data model and recorded answers of 2020, 2022 and 2024, *seen*.
    """
    steps = read_steps(body)
    _check_place(steps, latitude, longitude, altitude)
    seconds = np.array([to_datetime64(time) for time in steps.times]).astype("datetime64[s]")
    report = check_quality(_at_instants(seconds, steps.values), _QUALITY)
    if not report.is_usable:
        refuse(report.reason.partition(";")[0])
    minima, findings = believable_minima(_minima(steps), report.series)
    axis = filled_axis(seconds.astype(np.int64))
    series = _filled_series(report.series, steps.values, axis)
    stated = _error(steps.values)
    error = None if np.isnan(stated).all() else filled(seconds.astype(np.int64), stated, axis)
    return LocationForecast(steps.updated, series, minima, error, report.findings + findings)


def _check_place(steps: Steps, latitude: float, longitude: float, altitude: float) -> None:
    """Refuse an answer for another place than the one asked for."""
    distance = great_circle_distance(latitude, longitude, steps.latitude, steps.longitude)
    if distance > LARGEST_DISTANCE:
        refuse(
            f"the answer speaks of latitude {steps.latitude:g}, longitude {steps.longitude:g}, "
            f"{distance / 1000.0:.0f} km from the place asked for"
        )
    if steps.altitude is not None and abs(steps.altitude - altitude) > LARGEST_CLIMB:
        refuse(f"the answer speaks of {steps.altitude:g} m above the sea, not of {altitude:g} m as asked for")


def _at_instants(times: NDArray[np.datetime64], values: Mapping[str, NDArray[np.float64]]) -> Series:
    """Return the values at the instants, for quality control; the amount of a step is what falls *after* it."""
    variables = {name: values[name][np.newaxis] for name in _STATES}
    variables[_AMOUNT] = _amounts(values)[np.newaxis]
    present = {name: rows for name, rows in variables.items() if not np.isnan(rows).all() or name == "air_temperature"}
    return Series(times, present)


def _amounts(values: Mapping[str, NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return the precipitation [kg/m2] of the hour after each step, else that of the six hours after it."""
    hourly = values["precipitation_1_hour"]
    return np.where(np.isnan(hourly), values["precipitation_6_hours"], hourly)


def _filled_series(checked: Series, values: Mapping[str, NDArray[np.float64]], axis: NDArray[np.int64]) -> Series:
    """Return the checked values on the filled axis, with precipitation since the time before."""
    seconds = checked.times.astype(np.int64)
    is_six_hourly = np.isnan(values["precipitation_1_hour"])
    lengths = np.where(is_six_hourly, _SIX_HOURS_SECONDS, _HOUR_SECONDS)
    variables = {
        name: (spread_amounts(seconds, rows[0], lengths, axis) if name == _AMOUNT else filled(seconds, rows[0], axis))[
            np.newaxis
        ]
        for name, rows in checked.variables.items()
    }
    return Series(axis.astype("datetime64[s]"), variables)


def _minima(steps: Steps) -> list[PeriodMinimum]:
    """Return the minima of the six hours after the steps.

    Each begins with its own step, the first one with the hour in which the forecast is given (seen), so that none
    speaks of a dawn that the series does not show. Of a stored forecast all values are kept, so that a minimum belongs
    to the coldest of them even if that is over by then.
    """
    return [
        PeriodMinimum(time, time + _SIX_HOURS, float(value))
        for time, value in zip(steps.times, steps.values["minimum_6_hours"], strict=True)
        if not np.isnan(value)
    ]


def _error(values: Mapping[str, NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return the standard deviation [°C] at the instants, NaN where the percentiles are absent or cannot be true."""
    lowest, highest = PHYSICAL_RANGE["air_temperature"]
    low, high = values["percentile_10"], values["percentile_90"]
    is_believable = (lowest <= low) & (low <= high) & (high <= highest)
    return np.where(is_believable, (high - low) / DEVIATIONS_BETWEEN_PERCENTILES, np.nan)
