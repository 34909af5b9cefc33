"""Weather on a time axis."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import to_datetime64

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from numpy.typing import NDArray

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
    """

    source: str
    forecast_reference_time: datetime
    retrieved: datetime
    series: Series
    credits: str = ""
