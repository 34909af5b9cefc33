"""Invented cold nights for models: mild days first, then cold nights."""

from __future__ import annotations

import numpy as np

from alertd.site import PotStanding
from alertd.thermal.forcing import forcing_of
from alertd.thermal.pots import Pot, container_of, pot_parameters
from alertd.thermal.root_model import roots_felt
from alertd.weather import Series

#: Noon at the meridian of Greenwich, where the nights lie.
NOON = np.datetime64("2026-01-10T12:00:00", "s")
HOUR = np.timedelta64(3600, "s")
LATITUDE, LONGITUDE = 40.0, 0.0

#: Mild days: minimum and maximum [°C].
_MILD = (0.0, 8.0)


def celsius(fahrenheit):
    return (fahrenheit - 32.0) / 1.8


def air_of_nights(minima, *, by_day=None, mild_days=5):
    """Return air temperatures [°C] hour by hour from noon: mild days, cold nights, one mild night.

    It falls along half a cosine from a maximum at 15:00 to a minimum at 06:00, and rises along another. After a cold
    night the day reaches `by_day`, or 16 °F more than the night.
    """
    lows = [_MILD[0]] * mild_days + list(minima) + [_MILD[0]]
    after = [low + 16.0 / 1.8 if by_day is None else by_day for low in minima]
    highs = [_MILD[1]] * (mild_days + 1) + after + [_MILD[1]]
    values = np.array([extreme for pair in zip(highs, [*lows, _MILD[0]], strict=True) for extreme in pair])
    at = np.array([24.0 * day + hour for day in range(len(highs)) for hour in (3.0, 18.0)])
    hours = np.arange(24.0 * len(lows))
    place = np.clip(np.searchsorted(at, hours, side="right") - 1, 0, None)
    share = np.clip((hours - at[place]) / (at[place + 1] - at[place]), 0.0, 1.0)
    return values[place] + (values[place + 1] - values[place]) * (1.0 - np.cos(np.pi * share)) / 2.0


def series_of(air, *, start=NOON, wind=2.0, cloud=0.2, dew_point_depression=3.0, snow=None):
    """Return weather on whole hours; air shape (n_times,) or (n_realizations, n_times)."""
    air = np.atleast_2d(np.asarray(air, dtype=np.float64))
    variables = {
        "air_temperature": air,
        "wind_speed": np.full(air.shape, wind),
        "cloud_area_fraction": np.full(air.shape, cloud * 100.0),
        "dew_point_temperature": air - dew_point_depression,
    }
    if snow is not None:
        variables["surface_snow_thickness"] = np.full(air.shape, snow)
    return Series(start + np.arange(air.shape[1]) * HOUR, variables)


def split(series, days):
    """Return what lies before and after so many days; the part before as past weather."""
    place = 24 * days
    return (
        Series(series.times[:place], {name: values[:1, :place] for name, values in series.variables.items()}),
        Series(series.times[place:], {name: values[:, place:] for name, values in series.variables.items()}),
    )


def forcing_of_nights(minima, *, offsets=(0.0,), by_day=None, mild_days=5, **weather):
    """Return the forcing and the times ahead.

    The first mild day has a light wind and half a sky of cloud, as those before it are guessed to have; the weather is
    that of all days after it. Realizations differ by offsets [K] from the last mild noon on.
    """
    air = air_of_nights(minima, by_day=by_day, mild_days=mild_days)
    first, past = series_of(air[:24], cloud=0.5), series_of(air, **weather)
    past, _ = split(past, mild_days)
    for name, values in past.variables.items():
        values[:, :24] = first.variables.get(name, np.zeros((1, 24)))
    ahead_air = air[24 * mild_days :] + np.array(offsets)[:, None]
    ahead = series_of(ahead_air, start=NOON + 24 * mild_days * HOUR, **weather)
    return forcing_of(LATITUDE, LONGITUDE, ahead, past), ahead.times


def pot_with(litres=25.0, neighbours=1, measured=None, **standing):
    """Return a pot."""
    how = PotStanding(**standing)
    return Pot(container_of(litres), how, pot_parameters(how, neighbours, measured), neighbours)


def felt_in(forcing, times, pot, *, limit=50.0, critical=-5.0, share=0.2):
    """Return what its roots feel; by the limit everything is computed."""
    return roots_felt(pot, forcing, times, limit=limit, critical=critical, share=share)
