"""What a model says in few numbers: the lowest, with its range and its hour, and further figures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from .exposure import Exposure
    from .felt import Felt

#: Figures of which the value at the coldest hour counts, and those of which the highest does.
_WHEN_COLDEST = frozenset({"gain"})
_SHARES = frozenset({"frozen_share"})

#: Figures that `hours_past` gives, too.
_SAID_OTHERWISE = frozenset({"hours_below"})

#: [s] By definition.
_HOUR = 3600.0


@dataclass(frozen=True, slots=True)
class Lowest:
    """How cold it gets.

    Parameters
    ----------
    temperature, low, high : float
        [°C] Lowest of all times: median, 5th and 95th percentile of the realizations.
    time : numpy.datetime64
        When the median is lowest, UTC.
    """

    temperature: float
    low: float
    high: float
    time: np.datetime64


def lowest_of(exposure: Exposure) -> Lowest | None:
    """Return how cold it gets in an exposure.

    Parameters
    ----------
    exposure : Exposure
        Of any length.

    Returns
    -------
    Lowest or None
        ``None`` if nothing is known of it.
    """
    is_known = ~np.isnan(exposure.temperature)
    rows = is_known.any(axis=1)
    if not rows.any():
        return None
    columns = np.flatnonzero(is_known.any(axis=0))
    low, middle, high = np.percentile(np.nanmin(exposure.temperature[rows], axis=1), [5.0, 50.0, 95.0])
    coldest = columns[np.argmin(np.nanmedian(exposure.temperature[:, columns], axis=0))]
    return Lowest(float(middle), float(low), float(high), exposure.times[coldest])


def lowest_median(
    felt: Felt, name: str, start: np.datetime64, end: np.datetime64
) -> tuple[float, np.datetime64] | None:
    """Return the lowest value of a further figure of a model, and when it has it.

    Parameters
    ----------
    felt : Felt
        What the model says.
    name : str
        Of the figure.
    start, end : numpy.datetime64
        First and last time that count.

    Returns
    -------
    tuple of (float, numpy.datetime64) or None
        In the figure's unit; ``None`` if the model does not give it or nothing is known of it then.
    """
    times = felt.exposure.times
    within = np.flatnonzero((times >= start) & (times <= end))
    if name not in felt.medians or within.size == 0:
        return None
    values = felt.medians[name][within]
    if np.isnan(values).all():
        return None
    place = int(np.nanargmin(values))
    return float(values[place]), times[within[place]]


def median_at(felt: Felt, name: str, time: np.datetime64) -> float | None:
    """Return a further figure of a model at a time.

    Parameters
    ----------
    felt : Felt
        What the model says.
    name : str
        Of the figure.
    time : numpy.datetime64
        One of those of the exposure.

    Returns
    -------
    float or None
        In the figure's unit; ``None`` if the model does not give it or nothing is known of it then.
    """
    found = lowest_median(felt, name, time, time)
    return None if found is None else found[0]


def figures_of(felt: Felt) -> dict[str, float]:
    """Return one number for each further figure of a model.

    Parameters
    ----------
    felt : Felt
        What the model says.

    Returns
    -------
    dict of str to float
        In the figures' units: of temperatures the lowest of all times, of shares the highest, of what a cover gains
        its value when it is coldest. What is not known is left out, and so are hours (see `hours_past`).
    """
    figures = {}
    for name, values in felt.medians.items():
        if name in _SAID_OTHERWISE:
            continue
        if name in _WHEN_COLDEST:
            value = median_at(felt, name, felt.coldest)
        else:
            known = values[~np.isnan(values)]
            value = None if known.size == 0 else float(known.max() if name in _SHARES else known.min())
        if value is not None:
            figures[name] = value
    return figures


def hours_past(exposure: Exposure, limit: float, *, at_or_below: bool) -> float:
    """Return for how long the median of an exposure passes a temperature.

    Parameters
    ----------
    exposure : Exposure
        Of at least one time.
    limit : float
        [°C]
    at_or_below : bool
        Whether the value itself already counts.

    Returns
    -------
    float
        [h] Each time stands for the stretch to the next one, the last for as much as the one before it.
    """
    is_known = ~np.isnan(exposure.temperature).all(axis=0)
    middle = np.nanmedian(exposure.temperature[:, is_known], axis=0)
    passes = middle <= limit if at_or_below else middle < limit
    seconds = np.diff(exposure.times).astype("timedelta64[s]").astype(np.float64)
    lengths = np.append(seconds, seconds[-1] if seconds.size else _HOUR)
    return float(lengths[is_known][passes].sum() / _HOUR)
