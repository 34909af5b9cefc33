"""How often somebody may ask."""

from __future__ import annotations

import threading
from collections import OrderedDict

#: Addresses that are remembered; the one that asked longest ago is forgotten first. Assumed.
_MOST_ADDRESSES = 1024


class RateLimit:
    """A number of requests that refills with time, for each address.

    Parameters
    ----------
    count : int
        How many may come at once.
    period : float
        Time in which so many refill [s].
    """

    def __init__(self, count: int, period: float) -> None:
        self._count = count
        self._period = period
        self._levels: OrderedDict[str, tuple[float, float]] = OrderedDict()
        self._lock = threading.Lock()

    def wait(self, address: str, instant: float) -> float:
        """Count a request.

        Parameters
        ----------
        address : str
            Who asks.
        instant : float
            Reading of a monotonic clock [s].

        Returns
        -------
        float
            0 if the request is allowed; otherwise how long to wait before the next one is [s].
        """
        per_request = self._period / self._count
        with self._lock:
            level, last = self._levels.pop(address, (float(self._count), instant))
            level = min(self._count, level + (instant - last) / per_request)
            is_allowed = level >= 1.0
            self._levels[address] = (level - 1.0 if is_allowed else level, instant)
            if len(self._levels) > _MOST_ADDRESSES:
                self._levels.popitem(last=False)
            return 0.0 if is_allowed else (1.0 - level) * per_request
