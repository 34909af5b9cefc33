"""One request at a time, and no more than a service allows."""

from __future__ import annotations

import threading
from collections import defaultdict
from contextlib import contextmanager
from typing import TYPE_CHECKING

from .quota import Quota, Spent, refusal

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime, timedelta

    from .request import Request


class Turns:
    """Who may ask which host now. Any thread may use it.

    Parameters
    ----------
    quotas : tuple of Quota
        Domains that count calls; their hosts are asked one at a time together.
    longest_wait : timedelta
        For another request to end.
    """

    def __init__(self, quotas: tuple[Quota, ...], longest_wait: timedelta) -> None:
        self._quotas = quotas
        self._longest_wait = longest_wait
        self._lock = threading.Lock()
        self._turns: defaultdict[str, threading.Lock] = defaultdict(threading.Lock)
        self._spent: defaultdict[str, Spent] = defaultdict(Spent)

    @contextmanager
    def turn(self, request: Request) -> Iterator[bool]:
        """Wait until no other request runs at the same host, or hosts that share a quota.

        Parameters
        ----------
        request : Request
            Names the host.

        Yields
        ------
        bool
            Whether it is this request's turn; not if another one runs for too long.
        """
        quota = self._quota(request)
        with self._lock:
            turn = self._turns[request.host if quota is None else quota.domain]
        is_ours = turn.acquire(timeout=self._longest_wait.total_seconds())
        try:
            yield is_ours
        finally:
            if is_ours:
                turn.release()

    def spend(self, request: Request, now: datetime) -> str:
        """Count a request that is about to be made.

        Parameters
        ----------
        request : Request
            Names the host and what it costs.
        now : datetime
            Aware, UTC.

        Returns
        -------
        str
            Why it may not be made, or ``""``.
        """
        quota = self._quota(request)
        if quota is None:
            return ""
        with self._lock:
            spent = self._spent[quota.domain]
            reason = refusal(quota, spent, request.weight, now)
            if not reason:
                self._spent[quota.domain] = spent.at(quota, now).plus(request.weight)
        return reason

    def _quota(self, request: Request) -> Quota | None:
        return next((quota for quota in self._quotas if quota.covers(request.host)), None)
