"""Root balls as they stood at an earlier look, from which they can go on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .forcing import Forcing
    from .pots import Pot
    from .root_zone import RootState

#: Hours before the state that must each still be told as they were.
_COMPARED = 24

#: [K] By how much the air of any of these hours may be told otherwise by now; and how much on the mean, of them and of
#: all hours before that are still known. Assumed.
_AIR, _AIR_ON_MEAN = 1.0, 0.25

_HOUR = np.timedelta64(3600, "s")


@dataclass(frozen=True, slots=True)
class KeptRoots:
    """Root balls at one instant of the past.

    Parameters
    ----------
    pot : Pot
        Of which kind.
    time : numpy.datetime64
        When, ``datetime64[s]``, UTC.
    air : numpy.ndarray
        [°C] Of the hours before, at least 24; shape (n_hours,).
    state : RootState
        A member with the usual numbers, then one for each edge of each assumed number.
    """

    pot: Pot
    time: np.datetime64
    air: NDArray[np.float64]
    state: RootState

    def place_in(self, pot: Pot, forcing: Forcing, first: int) -> int | None:
        """Return from which hour of a weather the root balls can go on.

        Parameters
        ----------
        pot : Pot
            What is asked for.
        forcing : Forcing
            The weather, with the days before.
        first : int
            The hour from which they would be computed otherwise.

        Returns
        -------
        int or None
            ``None`` if they are of another kind, stood so before that hour, or the weather before is told otherwise
            by now.
        """
        place = int((self.time - forcing.times[0]) // _HOUR)
        if not max(first, _COMPARED) <= place < forcing.n_before or self.pot != pot:
            return None
        n_known = min(place, self.air.size)
        away = np.abs(forcing.air_temperature[0, place - n_known : place] - self.air[-n_known:])
        of_last = away[-_COMPARED:]
        is_so = of_last.max() <= _AIR and of_last.mean() <= _AIR_ON_MEAN and away.mean() <= _AIR_ON_MEAN
        return place if is_so else None


def keep_roots(pot: Pot, forcing: Forcing, place: int, state: RootState) -> KeptRoots:
    """Return root balls as they stand at the beginning of an hour before the forecast."""
    return KeptRoots(pot, forcing.times[place], forcing.air_temperature[0, :place].copy(), state)
