"""What a model says a tissue will feel, and how far it is to be believed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from .exposure import Exposure

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from .exposure import Tissue
    from .parameters import Parameter

#: Into so many the uncertainty of a model splits each realization of the weather. Assumed: their standard deviation
#: is 0.88 of the model's.
DRAWS = 5

_PERCENTILES = (5.0, 50.0, 95.0)


class Model(StrEnum):
    """Which model speaks."""

    ROOT_BALL = "root_ball"
    BARE_WOOD = "bare_wood"
    WRAPPED_WOOD = "wrapped_wood"
    MULCHED_STEMS = "mulched_stems"
    STORE_ROOM = "store_room"


@dataclass(frozen=True, slots=True)
class Used:
    """A number that a model went by.

    Parameters
    ----------
    parameter : Parameter
        With its value, and how well it is known.
    share : float
        [K] What not knowing it better adds to the uncertainty (1 sd) at the coldest hour.
    """

    parameter: Parameter
    share: float


@dataclass(frozen=True, slots=True)
class Felt:
    """What a model says a tissue will feel.

    Parameters
    ----------
    model : Model
        Which.
    exposure : Exposure
        Temperature [°C] on the times of the forecast, each realization repeated `DRAWS` times with the model's own
        uncertainty.
    minimum, minimum_low, minimum_high : float
        [°C] Lowest of all times: median, 5th and 95th percentile.
    coldest : numpy.datetime64
        When the median is lowest, UTC.
    spread : float
        [K] The model's own uncertainty then, 1 sd.
    used : tuple of Used
        Numbers that it went by, those that matter most first.
    medians : mapping of str to numpy.ndarray
        Further figures on the times of the exposure, shape (n_times,): ``shell`` and ``core`` [°C], ``frozen_share``
        of a root ball [1], ``air`` under a wrap or in store [°C], ``gain`` [K].
    missing : tuple of str
        CF names of weather that no source told, and that was assumed.
    remarks : tuple of str
        What people must know beside the numbers, each a sentence.
    is_bound : bool
        Whether nothing was computed, because the temperature cannot fall below what stands here.
    """

    model: Model
    exposure: Exposure
    minimum: float
    minimum_low: float
    minimum_high: float
    coldest: np.datetime64
    spread: float
    used: tuple[Used, ...]
    medians: Mapping[str, NDArray[np.float64]]
    missing: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    is_bound: bool = False

    @property
    def assumed(self) -> tuple[Used, ...]:
        """The numbers among them that nobody has measured."""
        return tuple(each for each in self.used if each.parameter.is_assumed)


def with_spread(temperature: NDArray[np.float64], spread: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return temperatures with the uncertainty of a model.

    Parameters
    ----------
    temperature : numpy.ndarray
        [°C] shape (n_realizations, n_times).
    spread : numpy.ndarray
        [K] 1 sd, shape (n_times,), or one row for each realization.

    Returns
    -------
    numpy.ndarray
        [°C] shape (n_realizations * DRAWS, n_times), coldest draw of a realization first; errors are the same at all
        times of a draw, as a wrong number of a pot is wrong all night.
    """
    rows = np.broadcast_to(spread, temperature.shape)
    shifted = temperature[:, None, :] + _draws()[None, :, None] * rows[:, None, :]
    return np.asarray(shifted.reshape(-1, temperature.shape[1]))


def felt_of(
    model: Model,
    tissue: Tissue,
    times: NDArray[np.datetime64],
    temperature: NDArray[np.float64],
    spread: NDArray[np.float64],
    used: tuple[Used, ...],
    medians: Mapping[str, NDArray[np.float64]],
    missing: tuple[str, ...] = (),
    remarks: tuple[str, ...] = (),
) -> Felt:
    """Return what a model says, with its lowest temperatures.

    Parameters
    ----------
    model, tissue : Model, Tissue
        Which, and for what.
    times : numpy.ndarray
        shape (n_times,), ``datetime64[s]``, UTC; at least one.
    temperature : numpy.ndarray
        [°C] shape (n_realizations, n_times); NaN where unknown, but not everywhere.
    spread : numpy.ndarray
        [K] 1 sd, shape (n_times,), or one row for each realization; the median of them is told.
    used : tuple of Used
        Numbers that it went by.
    medians : mapping of str to numpy.ndarray
        Further figures, shape (n_times,) each.
    missing, remarks : tuple of str
        As `Felt` has them.

    Returns
    -------
    Felt
        Its exposure has the spread in it.
    """
    drawn = with_spread(temperature, spread)
    known = ~np.isnan(drawn).all(axis=1)
    low, middle, high = np.percentile(np.nanmin(drawn[known], axis=1), _PERCENTILES)
    seen = ~np.isnan(temperature).all(axis=0)
    place = int(np.flatnonzero(seen)[np.argmin(_median(temperature[:, seen]))])
    return Felt(
        model=model,
        exposure=Exposure(tissue, times, drawn, 0.0, DRAWS),
        minimum=float(middle),
        minimum_low=float(low),
        minimum_high=float(high),
        coldest=times[place],
        spread=float(np.median(spread[..., place])),
        used=tuple(sorted(used, key=lambda each: -each.share)),
        medians=medians,
        missing=missing,
        remarks=remarks,
    )


def at_times(felt: Felt, times: NDArray[np.datetime64]) -> Felt:
    """Return what a model said some hours ago, for the times that count now.

    Parameters
    ----------
    felt : Felt
        What it said.
    times : numpy.ndarray
        shape (n_times,), ``datetime64[s]``, UTC; at least one of them among those of the exposure or later.

    Returns
    -------
    Felt
        At each time what was said of the latest one up to it (or of the first, if that is yet to come), where that is
        less than an hour away; otherwise nothing.
    """
    before = felt.exposure.times
    place = np.clip(np.searchsorted(before, times, side="right") - 1, 0, before.size - 1)
    is_told = np.abs(times - before[place]) < np.timedelta64(3600, "s")
    temperature = np.where(is_told, felt.exposure.temperature[:, place], np.nan)
    medians = {name: np.where(is_told, values[place], np.nan) for name, values in felt.medians.items()}
    known = ~np.isnan(temperature).all(axis=1)
    low, middle, high = np.percentile(np.nanmin(temperature[known], axis=1), _PERCENTILES)
    coldest = felt.coldest
    if not times[0] <= coldest <= times[-1]:
        columns = np.flatnonzero(~np.isnan(temperature).all(axis=0))
        coldest = times[columns[np.argmin(_median(temperature[:, columns]))]]
    return replace(
        felt,
        exposure=replace(felt.exposure, times=times, temperature=temperature),
        minimum=float(middle),
        minimum_low=float(low),
        minimum_high=float(high),
        coldest=coldest,
        medians=medians,
    )


def felt_bound(
    model: Model,
    tissue: Tissue,
    times: NDArray[np.datetime64],
    bound: NDArray[np.float64],
    missing: tuple[str, ...] = (),
) -> Felt:
    """Return that a tissue cannot get colder than a bound, where that is all that has to be known.

    Parameters
    ----------
    model, tissue : Model, Tissue
        Which, and for what.
    times : numpy.ndarray
        shape (n_times,), ``datetime64[s]``, UTC; at least one.
    bound : numpy.ndarray
        [°C] shape (n_realizations, n_times).
    missing : tuple of str
        CF names of weather that was assumed.

    Returns
    -------
    Felt
        Without a spread.
    """
    nothing = np.zeros(times.size)
    whole = felt_of(model, tissue, times, bound, nothing, (), {}, missing)
    exposure = Exposure(tissue, times, bound, 0.0)
    return Felt(
        model=model,
        exposure=exposure,
        minimum=whole.minimum,
        minimum_low=whole.minimum_low,
        minimum_high=whole.minimum_high,
        coldest=whole.coldest,
        spread=0.0,
        used=(),
        medians={},
        missing=missing,
        is_bound=True,
    )


def _median(temperature: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the median of what is known at each time; where all is, the quicker way."""
    median = np.nanmedian if np.isnan(temperature).any() else np.median
    return np.asarray(median(temperature, axis=0))


@lru_cache(maxsize=1)
def _draws() -> NDArray[np.float64]:
    """Return the middles of equally likely parts of the standard normal distribution, shape (DRAWS,)."""
    normal = NormalDist()
    return np.array([normal.inv_cdf((place + 0.5) / DRAWS) for place in range(DRAWS)])
