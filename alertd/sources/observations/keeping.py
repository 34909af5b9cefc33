"""Where observations go."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from alertd.weather import Observation


class KeepObservations(Protocol):
    """Something that keeps observations, like a store's ``keep_observations``."""

    def __call__(self, observations: Sequence[Observation], now: datetime, /) -> int:
        """Keep them all or none.

        Parameters
        ----------
        observations : sequence of Observation
            With times that can be used.
        now : datetime
            Aware.

        Returns
        -------
        int
            How many were new.

        Raises
        ------
        StoreError
            If they cannot be kept.
        """
        ...
