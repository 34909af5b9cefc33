"""What models computed at earlier looks, for as long as it holds.

A watch looks every hour or so, and most looks bring no news: computing every root ball anew from the weather of the
last days would be work for nothing. So what was computed is taken again while the weather is told much as before, and a
root ball goes on from where it was.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from .felt import at_times

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable

    from numpy.typing import NDArray

    from alertd.site import TreeGroup

    from .felt import Felt
    from .forcing import Forcing
    from .kept_roots import KeptRoots

#: How long an answer of a model is good while the weather is told much as before; and while it is told not so much
#: colder that it could matter. Assumed.
GOOD_FOR, FAR_FOR = timedelta(hours=6), timedelta(hours=18)

#: [K] Air and sky, [m/s] wind, [m] snow: by how much weather may be told otherwise in any hour of any realization and
#: still count as much the same; and [K] how much the air may be on the mean. Assumed: a tenth of what forecasts change
#: by from issue to issue.
_AIR, _SKY, _WIND, _SNOW, _AIR_ON_MEAN = 0.5, 3.0, 2.0, 0.02, 0.1

#: [K] How far the air of an hour that has passed since may have been from the mean of what was forecast. Assumed.
_PASSED = 1.0

#: By how much tissue gets colder at most: [K/K] for a colder sky, [K s/m] for less wind, [K] for a day of clouds.
#: Assumed, above what the models make of them.
_BY_SKY, _BY_WIND, _BY_CLOUD = 0.4, 0.5, 2.0

#: The part of a model's draws that need not be looked at to see how far it is from mattering; and the part of that
#: distance by which the weather may get colder before it is computed anew. Assumed.
_UNLIKELY, _TRUSTED = 5.0, 0.8

#: [K] What a thermometer in a store room may say otherwise. Assumed.
_SENSOR = 0.25

_HOUR = np.timedelta64(3600, "s")


@dataclass(frozen=True, slots=True)
class _Answer:
    """What a model said, and of what.

    Parameters
    ----------
    group : TreeGroup
        As it was configured.
    sensor : float or None
        [°C] What a thermometer of its own said.
    forcing : Forcing
        The weather.
    felt : Felt or None
        What the model said.
    room : float
        [K] How far it is from mattering.
    """

    group: TreeGroup
    sensor: float | None
    forcing: Forcing
    felt: Felt | None
    room: float

    def stands(self, forcing: Forcing, reach: timedelta) -> bool:
        """Return whether it is good for the weather as it is told now."""
        if is_much_the_same(self.forcing, forcing, reach):
            return True
        return colder_by(self.forcing, forcing, reach) < _TRUSTED * self.room


@dataclass(slots=True)
class ModelMemory:
    """What is remembered from look to look; what is asked for fills it.

    Parameters
    ----------
    reach : timedelta
        How far ahead the models are to look, at least; they compute `FAR_FOR` beyond it.
    roots : dict of str to KeptRoots
        Root balls as they last stood, by group and how many of them stand together.
    """

    reach: timedelta
    roots: dict[str, KeptRoots] = field(default_factory=dict)
    _answers: dict[tuple[str, Hashable], _Answer] = field(default_factory=dict)

    def felt(
        self,
        group: TreeGroup,
        question: Hashable,
        limit: float,
        forcing: Forcing,
        times: NDArray[np.datetime64],
        compute: Callable[[], Felt | None],
        sensor: float | None = None,
    ) -> Felt | None:
        """Return what a model said when it was last asked the same, or let it compute.

        Parameters
        ----------
        group : TreeGroup
            Whose.
        question : hashable
            What is asked of the model, the weather left out.
        limit : float
            [°C] What stays above it does not matter.
        forcing : Forcing
            The weather as it is told now.
        times : numpy.ndarray
            Those of the forecast, ``datetime64[s]``, UTC.
        compute : callable
            Asks the model.
        sensor : float or None
            [°C] What a thermometer of the group's own says.

        Returns
        -------
        Felt or None
            On the times; its figures may be some hours old.
        """
        key = (group.group_id, question)
        known = self._answers.get(key)
        if known is None or known.group != group or not _is_near(known.sensor, sensor):
            known = None
        if known is None or not known.stands(forcing, self.reach):
            felt = compute()
            room = np.inf if felt is None else _lowest_likely(felt) - limit
            known = self._answers[key] = _Answer(group, sensor, forcing, felt, float(room))
        return None if known.felt is None else at_times(known.felt, times)


def is_much_the_same(before: Forcing, now: Forcing, reach: timedelta) -> bool:
    """Return whether what was computed from a weather may stand for another one, some hours later.

    Parameters
    ----------
    before : Forcing
        The weather as it was told.
    now : Forcing
        As it is told now.
    reach : timedelta
        How far ahead it matters.

    Returns
    -------
    bool
        Not if it is more than `GOOD_FOR` later, or the earlier weather does not reach far enough.
    """
    hours = _hours_of_both(before, now, reach, GOOD_FOR)
    if hours is None:
        return False
    old, new, later = hours
    away = np.abs(_warmer_than_expected(before, now, later))
    air = np.abs(now.air_temperature[:, new] - before.air_temperature[:, old])
    return bool(
        away.max(initial=0.0) <= _PASSED
        and air.max() <= _AIR
        and air.mean() <= _AIR_ON_MEAN
        and np.abs(now.sky_temperature[:, new] - before.sky_temperature[:, old]).max() <= _SKY
        and np.abs(now.wind_speed[:, new] - before.wind_speed[:, old]).max() <= _WIND
        and np.abs(now.snow[:, new] - before.snow[:, old]).max() <= _SNOW
    )


def colder_by(before: Forcing, now: Forcing, reach: timedelta) -> float:
    """Return how much colder tissue can be at most than it was computed from an earlier weather.

    Colder surroundings never warm what is in them, and make it colder by no more than they are themselves.

    Parameters
    ----------
    before : Forcing
        The weather as it was told.
    now : Forcing
        As it is told now.
    reach : timedelta
        How far ahead it matters.

    Returns
    -------
    float
        [K] Infinite if the earlier weather says nothing of the present one.
    """
    hours = _hours_of_both(before, now, reach, FAR_FOR)
    if hours is None:
        return np.inf
    old, new, later = hours
    if (before.snow[:, old] - now.snow[:, new]).max() > _SNOW:
        return np.inf
    air = np.maximum(before.air_temperature[:, old] - now.air_temperature[:, new], 0.0)
    sky = np.maximum(before.sky_temperature[:, old] - now.sky_temperature[:, new], 0.0)
    wind = np.maximum(before.wind_speed[:, old] - now.wind_speed[:, new], 0.0)
    cloud = np.maximum(now.cloud[:, new] - before.cloud[:, old], 0.0)
    ahead = float((air + _BY_SKY * sky + _BY_WIND * wind).max() + _BY_CLOUD * cloud.mean(axis=1).max())
    return max(ahead, float((-_warmer_than_expected(before, now, later)).max(initial=0.0)))


def _warmer_than_expected(before: Forcing, now: Forcing, later: int) -> NDArray[np.float64]:
    """Return by how much the air of the hours since was warmer than the mean of what was forecast [K]."""
    expected = before.air_temperature[:, before.n_before : before.n_before + later].mean(axis=0)
    return np.asarray(now.air_temperature[0, now.n_before - later : now.n_before] - expected)


def _hours_of_both(
    before: Forcing, now: Forcing, reach: timedelta, good_for: timedelta
) -> tuple[slice, slice, int] | None:
    """Return the hours ahead in two weathers, and how many hours later the second one begins."""
    later = int((now.times[now.n_before] - before.times[before.n_before]) // _HOUR)
    start = before.n_before + later
    ahead = min(now.times.size - now.n_before, reach // timedelta(hours=1) + 1)
    if not 0 <= later <= good_for // timedelta(hours=1) or start + ahead > before.times.size:
        return None
    if before.n_members != now.n_members or before.missing != now.missing:
        return None
    old, new = slice(start, start + ahead), slice(now.n_before, now.n_before + ahead)
    return None if (before.is_known[:, old] != now.is_known[:, new]).any() else (old, new, later)


def _lowest_likely(felt: Felt) -> float:
    """Return the lowest temperature that a model has any chance worth looking at for [°C]."""
    temperature = felt.exposure.temperature
    known = ~np.isnan(temperature).all(axis=1)
    return float(np.percentile(np.nanmin(temperature[known], axis=1), _UNLIKELY))


def _is_near(before: float | None, now: float | None) -> bool:
    """Return whether a thermometer says much the same as before."""
    if before is None or now is None:
        return before is now
    return abs(before - now) <= _SENSOR
