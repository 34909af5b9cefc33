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

#: How long an answer of a model is good while the weather is told much as before. Assumed.
GOOD_FOR = timedelta(hours=6)

#: [K] Air and sky, [m/s] wind: by how much weather may be told otherwise in any hour of any realization and still count
#: as much the same; and [K] how much the air may be on the mean. Assumed: a tenth of what forecasts change by from
#: issue to issue.
_AIR, _SKY, _WIND, _AIR_ON_MEAN = 0.5, 3.0, 2.0, 0.1

#: [K] How far the air of an hour that has passed since may have been from the mean of what was forecast. Assumed.
_PASSED = 1.0

#: [m] How much more or less snow may lie. Assumed.
_SNOW = 0.02

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
    """

    group: TreeGroup
    sensor: float | None
    forcing: Forcing
    felt: Felt | None


@dataclass(slots=True)
class ModelMemory:
    """What is remembered from look to look; what is asked for fills it.

    Parameters
    ----------
    reach : timedelta
        How far ahead the models are to look, at least; they compute `GOOD_FOR` beyond it.
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
        if known is not None and known.group == group and _is_near(known.sensor, sensor):
            if is_much_the_same(known.forcing, forcing, self.reach):
                return None if known.felt is None else at_times(known.felt, times)
        felt = compute()
        self._answers[key] = _Answer(group, sensor, forcing, felt)
        return None if felt is None else at_times(felt, times)


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
    later = (now.times[now.n_before] - before.times[before.n_before]) // _HOUR
    ahead = min(now.times.size - now.n_before, reach // timedelta(hours=1) + 1)
    start = int(before.n_before + later)
    if not 0 <= later <= GOOD_FOR // timedelta(hours=1) or before.n_members != now.n_members:
        return False
    if start + ahead > before.times.size or before.missing != now.missing:
        return False
    old, new = slice(start, start + ahead), slice(now.n_before, now.n_before + ahead)
    passed = now.air_temperature[0, now.n_before - int(later) : now.n_before]
    away = np.abs(passed - before.air_temperature[:, before.n_before : start].mean(axis=0))
    if (before.is_known[:, old] != now.is_known[:, new]).any() or away.max(initial=0.0) > _PASSED:
        return False
    air = np.abs(now.air_temperature[:, new] - before.air_temperature[:, old])
    return bool(
        air.max() <= _AIR
        and air.mean() <= _AIR_ON_MEAN
        and np.abs(now.sky_temperature[:, new] - before.sky_temperature[:, old]).max() <= _SKY
        and np.abs(now.wind_speed[:, new] - before.wind_speed[:, old]).max() <= _WIND
        and np.abs(now.snow[:, new] - before.snow[:, old]).max() <= _SNOW
    )


def _is_near(before: float | None, now: float | None) -> bool:
    """Return whether a thermometer says much the same as before."""
    if before is None or now is None:
        return before is now
    return abs(before - now) <= _SENSOR
