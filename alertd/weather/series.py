"""Weather on a time axis."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import to_datetime64

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from numpy.typing import NDArray

    from .public_warning import PublicWarning
    from .soil import SoilTemperatures

#: CF standard names that alertd knows, with the canonical unit of each as a UCUM code.
CANONICAL_UNITS = {
    "air_temperature": "Cel",
    "dew_point_temperature": "Cel",
    "wind_speed": "m/s",
    "cloud_area_fraction": "%",
    "precipitation_amount": "kg/m2",
    "surface_snow_thickness": "m",
}


@dataclass(frozen=True, slots=True)
class Series:
    """Values of CF variables on one time axis, in canonical units.

    Parameters
    ----------
    times : numpy.ndarray
        shape (n_times,), ``datetime64[s]``, UTC, strictly increasing.
    variables : mapping of str to numpy.ndarray
        By CF standard name; each shape (n_realizations, n_times), ``float64``, NaN where missing.
        ``air_temperature`` is always there.

    Raises
    ------
    ValueError
        If the shapes do not fit, the times do not increase, a name is unknown or air temperature is absent.
    """

    times: NDArray[np.datetime64]
    variables: Mapping[str, NDArray[np.float64]]

    def __post_init__(self) -> None:
        """Refuse what is no series."""
        if self.times.ndim != 1 or self.times.dtype != np.dtype("datetime64[s]"):
            message = f"times must be datetime64[s] of one dimension, not {self.times.dtype} of {self.times.ndim}"
            raise ValueError(message)
        if np.any(np.diff(self.times) <= np.timedelta64(0, "s")):
            message = "times must increase strictly"
            raise ValueError(message)
        unknown = set(self.variables) - set(CANONICAL_UNITS)
        if unknown:
            message = f"unknown variables {sorted(unknown)}"
            raise ValueError(message)
        if "air_temperature" not in self.variables:
            message = "air_temperature is missing"
            raise ValueError(message)
        shape = (self.n_realizations, self.times.size)
        for name, values in self.variables.items():
            if values.shape != shape:
                message = f"{name} has shape {values.shape}, not {shape}"
                raise ValueError(message)

    @property
    def air_temperature(self) -> NDArray[np.float64]:
        """Air temperature at two metres [°C], shape (n_realizations, n_times)."""
        return self.variables["air_temperature"]

    @property
    def n_realizations(self) -> int:
        """How many realizations."""
        return int(self.variables["air_temperature"].shape[0])

    @property
    def n_times(self) -> int:
        """How many times."""
        return int(self.times.size)

    def window(self, start: datetime, end: datetime) -> Series:
        """Return the part with start <= time < end.

        Parameters
        ----------
        start, end : datetime
            Aware.

        Returns
        -------
        Series
            Possibly without any time; arrays are views.
        """
        first, last = np.searchsorted(self.times, [to_datetime64(start), to_datetime64(end)], side="left")
        return Series(self.times[first:last], {name: values[:, first:last] for name, values in self.variables.items()})


@dataclass(frozen=True, slots=True)
class PeriodMinimum:
    """The lowest air temperature of a period, where a source states it beside its hourly values.

    Parameters
    ----------
    start, end : datetime
        Aware; the period is start < t <= end.
    air_temperature : float
        Lowest air temperature at two metres over the period [°C].

    Raises
    ------
    ValueError
        If the period does not end after its start, an edge is naive or the temperature is not finite.
    """

    start: datetime
    end: datetime
    air_temperature: float

    def __post_init__(self) -> None:
        """Refuse what is no minimum of a period."""
        if to_datetime64(self.start) >= to_datetime64(self.end):
            message = f"the period from {self.start.isoformat()} does not end later, but {self.end.isoformat()}"
            raise ValueError(message)
        if not math.isfinite(self.air_temperature):
            message = f"the minimum until {self.end.isoformat()} is {self.air_temperature}, no temperature"
            raise ValueError(message)


@dataclass(frozen=True, slots=True)
class Forecast:
    """A forecast of one source.

    Parameters
    ----------
    source : str
        Name of the source, as in the configuration.
    forecast_reference_time : datetime
        Aware UTC: the instant from which the forecast was made, by its own word.
    retrieved : datetime
        Aware UTC: when alertd got it.
    series : Series
        The values.
    credits : str
        Attribution that must be shown.
    problem : str
        Why this is the stored last good answer of the source and not a new one; empty if it is new.
    minima : tuple of PeriodMinimum
        Lowest air temperatures of periods that the source states beside its values.
    error : numpy.ndarray or None
        shape (n_times,): standard deviation of each time's air temperature by the source's own word [°C], NaN
        where it says nothing.
    weight : float
        How much this source counts beside the others; any unit, above 0.
    warnings : tuple of PublicWarning or None
        What the service warns of at the site; ``None`` if that was not asked or could not be learnt.
    soil : SoilTemperatures or None
        Temperatures of the ground by the same model, as it has them.

    Raises
    ------
    ValueError
        If the weight is not finite or not above 0, or the error does not fit the series.
    """

    source: str
    forecast_reference_time: datetime
    retrieved: datetime
    series: Series
    credits: str = ""
    problem: str = ""
    minima: tuple[PeriodMinimum, ...] = ()
    error: NDArray[np.float64] | None = None
    weight: float = 1.0
    warnings: tuple[PublicWarning, ...] | None = None
    soil: SoilTemperatures | None = None

    def __post_init__(self) -> None:
        """Refuse what is no forecast."""
        if not (math.isfinite(self.weight) and self.weight > 0.0):
            message = f"the weight of {self.source} is {self.weight}; it must be above 0"
            raise ValueError(message)
        if self.error is not None and self.error.shape != self.series.times.shape:
            message = f"the error of {self.source} has shape {self.error.shape}, its times {self.series.times.shape}"
            raise ValueError(message)

    def window(self, start: datetime, end: datetime) -> Forecast:
        """Return the forecast with the part of its series where start <= time < end.

        Parameters
        ----------
        start, end : datetime
            Aware.

        Returns
        -------
        Forecast
            Its error is cut alike; its minima are all kept.
        """
        first, last = np.searchsorted(self.series.times, [to_datetime64(start), to_datetime64(end)], side="left")
        error = None if self.error is None else self.error[first:last]
        return replace(self, series=self.series.window(start, end), error=error)
