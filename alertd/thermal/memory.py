"""What models computed at earlier looks, for as long as it holds.

A watch looks every hour or so, and most looks bring no news: computing every root ball anew from the weather of the
last days would be work for nothing. So what was computed is taken again while the weather is told much as before, and a
root ball goes on from where it was.
"""

from __future__ import annotations

import math
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

#: [K] Air and sky, [m1/2 s-1/2] root of the wind, [m] snow: by how much weather may be told otherwise in any hour of
#: any realization and still count as much the same; [W/m2] how much the sun of any day, [K] the air on the mean.
#: Assumed: each alone changes a root ball by about 1 K at most.
_AIR, _SKY, _WIND, _SNOW, _SUN, _AIR_ON_MEAN = 0.5, 3.0, 0.25, 0.02, 15.0, 0.1

#: And by how much of the spread of its realizations the air of an hour may be told otherwise; half as much on the mean.
#: Assumed: forecasts made six hours apart differ so, and a quarter of the spread moves a probability of 0.2 by 0.07.
_OF_SPREAD = 0.5

#: [K] How far the air of an hour before an answer may be from what was known of it then. Assumed.
_PASSED = 1.0

#: [K] The same of the hours since the answer, for which their own forecast counted; and how much on the mean. Assumed.
_SINCE, _SINCE_ON_MEAN = 1.5, 0.75

#: By how much tissue gets colder at most: [K/K] for colder air and sky, [K s1/2 m-1/2] for another root of the wind,
#: [K m2/W] for less sun on the mean of a day. More than 1 K/K, because a root ball whose water has just frozen through
#: gets colder by more than the weather does. Measured with the model, in 320 invented spells with pots of 3 to 60 L: in
#: none did it get colder by more than 1.25 times as much, for which `_TRUSTED` makes up.
_BY_AIR, _BY_SKY, _BY_WIND, _BY_SUN = 2.4, 0.4, 3.5, 0.06

#: The part of a model's draws that need not be looked at to see how far it is from mattering; and the part of that
#: distance by which the weather may get colder before it is computed anew. Assumed.
_UNLIKELY, _TRUSTED = 5.0, 0.8

#: [K] What a thermometer in a store room may say otherwise. Assumed.
_SENSOR = 0.25

_DAY = 24
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
        [K] How far it is from mattering; minus infinity if it is a bound, which is cheap to find anew and may end
        abruptly where the weather gets colder.
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
            self._forget(forcing)
            known = self._answers[key] = _Answer(group, sensor, forcing, felt, _room(felt, limit))
        return None if known.felt is None else at_times(known.felt, times)

    def _forget(self, forcing: Forcing) -> None:
        """Let go of answers that are too old to be taken again."""
        oldest = _begin_of(forcing) - FAR_FOR // timedelta(hours=1) * _HOUR
        self._answers = {key: each for key, each in self._answers.items() if _begin_of(each.forcing) >= oldest}


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
    told = _OF_SPREAD * before.air_temperature[:, old].std(axis=0)
    return bool(
        away[: away.size - later].max() <= _PASSED
        and away[: away.size - later].mean() <= _AIR_ON_MEAN
        and away[away.size - later :].max(initial=0.0) <= _SINCE
        and away[away.size - later :].sum() <= later * _SINCE_ON_MEAN
        and (air <= np.maximum(told, _AIR)).all()
        and air.mean() <= max(float(told.mean()) / 2.0, _AIR_ON_MEAN)
        and np.abs(now.sky_temperature[:, new] - before.sky_temperature[:, old]).max() <= _SKY
        and _change_of_wind(before, now, hours).max() <= _WIND
        and _most_in_a_day(np.abs(now.sun.top[:, new] - before.sun.top[:, old])) <= _SUN
        and np.abs(now.snow[:, new] - before.snow[:, old]).max() <= _SNOW
    )


def colder_by(before: Forcing, now: Forcing, reach: timedelta) -> float:
    """Return how much colder tissue may be at most than it was computed from an earlier weather.

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
        [K] Infinite if the earlier weather says nothing of the present one. Of the hours that have passed only the air
        counts.
    """
    hours = _hours_of_both(before, now, reach, FAR_FOR)
    if hours is None:
        return np.inf
    old, new, later = hours
    if (before.snow[:, old] - now.snow[:, new]).max() > _SNOW:
        return np.inf
    air = np.maximum(before.air_temperature[:, old] - now.air_temperature[:, new], 0.0)
    sky = np.maximum(before.sky_temperature[:, old] - now.sky_temperature[:, new], 0.0)
    sun = np.maximum(before.sun.top[:, old] - now.sun.top[:, new], 0.0)
    by_hours = _BY_AIR * air + _BY_SKY * sky + _BY_WIND * _change_of_wind(before, now, hours)
    ahead = float(by_hours.max()) + _BY_SUN * _most_in_a_day(sun)
    passed = _most_in_a_day(np.maximum(-_warmer_than_expected(before, now, later), 0.0)[None, :])
    return max(ahead, _BY_AIR * passed)


def _warmer_than_expected(before: Forcing, now: Forcing, later: int) -> NDArray[np.float64]:
    """Return by how much the air of the hours before was warmer than was known then, or forecast on the mean [K]."""
    known = before.air_temperature[0, later : before.n_before]
    forecast = before.air_temperature[:, before.n_before : before.n_before + later].mean(axis=0)
    expected = np.concatenate([known, forecast])
    return np.asarray(now.air_temperature[0, now.n_before - expected.size : now.n_before] - expected)


def _change_of_wind(before: Forcing, now: Forcing, hours: tuple[slice, slice, int]) -> NDArray[np.float64]:
    """Return by how much the root of the wind is told otherwise [m1/2 s-1/2], about as heat transfer goes with it.

    More wind takes more heat from what is still warm, and less lets the sky have it.
    """
    old, new, _ = hours
    return np.asarray(np.abs(np.sqrt(now.wind_speed[:, new]) - np.sqrt(before.wind_speed[:, old])))


def _most_in_a_day(values: NDArray[np.float64]) -> float:
    """Return the largest mean over 24 hours of values that are not below 0, of any member."""
    sums = np.concatenate([np.zeros((values.shape[0], 1)), np.cumsum(values, axis=1)], axis=1)
    last = np.arange(1, values.shape[1] + 1)
    return float((sums[:, last] - sums[:, np.maximum(last - _DAY, 0)]).max() / _DAY)


def _hours_of_both(
    before: Forcing, now: Forcing, reach: timedelta, good_for: timedelta
) -> tuple[slice, slice, int] | None:
    """Return the hours ahead in two weathers, and how many hours later the second one begins."""
    later = int((_begin_of(now) - _begin_of(before)) // _HOUR)
    start = before.n_before + later
    ahead = min(now.times.size - now.n_before, reach // timedelta(hours=1) + 1)
    if not 0 <= later <= good_for // timedelta(hours=1) or start + ahead > before.times.size:
        return None
    if before.n_members != now.n_members or before.missing != now.missing:
        return None
    old, new = slice(start, start + ahead), slice(now.n_before, now.n_before + ahead)
    return None if (before.is_known[:, old] != now.is_known[:, new]).any() else (old, new, later)


def _begin_of(forcing: Forcing) -> np.datetime64:
    """Return the first hour ahead."""
    begin: np.datetime64 = forcing.times[forcing.n_before]
    return begin


def _room(felt: Felt | None, limit: float) -> float:
    """Return how far what a model said, with any chance worth looking at, is above a limit [K]."""
    if felt is None:
        return math.inf
    if felt.is_bound:
        return -math.inf
    temperature = felt.exposure.temperature
    known = ~np.isnan(temperature).all(axis=1)
    return float(np.percentile(np.nanmin(temperature[known], axis=1), _UNLIKELY)) - limit


def _is_near(before: float | None, now: float | None) -> bool:
    """Return whether a thermometer says much the same as before."""
    if before is None or now is None:
        return before is now
    return abs(before - now) <= _SENSOR
