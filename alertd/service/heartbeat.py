"""The heartbeat: an address that is called after each good cycle, so that somebody outside notices a dead daemon.

The outside checker expects a call every so often and tells people when none comes. So a call is made only when all is
well: the evaluation worked, a forecast could be used, and messages are moving. Calls are made in a thread of their own
and never delay a cycle; a stop does not wait for them.
"""

from __future__ import annotations

import logging
import threading
import time
from collections import Counter
from http import HTTPStatus
from typing import TYPE_CHECKING

from alertd.core import AlertdError
from alertd.sources import TransportFailure
from alertd.watch import note_trouble

from .logs import error_text

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime, timedelta

    from alertd.sources import Transport
    from alertd.store import Store

_logger = logging.getLogger(__name__)

#: Pauses before further tries [s]: where cycles are hours apart, one lost call must not alarm anybody. Assumed.
_PAUSES = (10.0, 60.0)

#: [s] How long a stop waits for a call that is under way; the process may end without it.
_STOP_PATIENCE = 0.5


class Heartbeat:
    """Calls an address when it is told of a good cycle.

    Parameters
    ----------
    url : str
        Of http or https; a secret that is never shown.
    transport : Transport
        Performs the call; follows no redirect to another host.
    user_agent : str
        Name under which it calls.
    store : Store
        Takes a note while calls fail, which `alertd status` tells.
    clock : callable
        Returns the present as aware UTC.
    deadline : timedelta
        For one call.
    pauses : tuple of float
        [s] Before each further try.
    calls : collections.Counter, optional
        Goes on from what an earlier one has counted.

    Attributes
    ----------
    calls : collections.Counter
        Since the start: accepted or failed.
    """

    def __init__(
        self,
        url: str,
        transport: Transport,
        user_agent: str,
        store: Store,
        clock: Callable[[], datetime],
        *,
        deadline: timedelta,
        pauses: tuple[float, ...] = _PAUSES,
        calls: Counter[str] | None = None,
    ) -> None:
        self._url = url
        self._transport = transport
        self._headers = {"User-Agent": user_agent, "Accept": "*/*"}
        self._store = store
        self._clock = clock
        self._deadline = deadline
        self._pauses = pauses
        self._changed = threading.Condition()
        self._is_due = False
        self._is_over = False
        self._trouble: str | None = None  # of the time before the start nothing is known
        self._thread = threading.Thread(target=self._go_on, name="heartbeat", daemon=True)
        self.calls = Counter({"accepted": 0, "failed": 0}) if calls is None else calls

    def start(self) -> None:
        """Make calls from now on."""
        self._thread.start()

    def stop(self) -> None:
        """Make no more calls; one that is under way is left behind."""
        with self._changed:
            self._is_over = True
            self._changed.notify_all()
        if self._thread.is_alive():
            self._thread.join(_STOP_PATIENCE)

    def is_due(self) -> None:
        """Ask for a call; returns at once."""
        with self._changed:
            self._is_due = True
            self._changed.notify_all()

    def _go_on(self) -> None:
        while self._is_wanted():
            trouble = self._call()
            for pause in self._pauses:
                if not trouble or self._has_news_within(pause):
                    break
                trouble = self._call()
            self._tell(trouble)

    def _is_wanted(self) -> bool:
        """Wait for a good cycle or the end; return whether it is not the end."""
        with self._changed:
            self._changed.wait_for(lambda: self._is_due or self._is_over)
            self._is_due = False
            return not self._is_over

    def _has_news_within(self, seconds: float) -> bool:
        """Wait; return whether a further good cycle or the end came meanwhile."""
        with self._changed:
            return self._changed.wait_for(lambda: self._is_due or self._is_over, seconds)

    def _call(self) -> str:
        """Call once; return what was wrong."""
        began = time.monotonic()
        try:
            status = self._transport.get(self._url, self._headers, self._deadline.total_seconds()).status
            trouble = "" if status // 100 == HTTPStatus.OK // 100 else f"the address answers with status {status}"
        except TransportFailure as error:
            trouble = f"the address {error.reason}".replace("base_url", "status.heartbeat")
        except Exception as error:  # noqa: BLE001 - a thread must not end in silence, and texts of others hold the URL
            trouble = f"the call failed ({error_text(error)})"
        self.calls["failed" if trouble else "accepted"] += 1
        _logger.debug("heartbeat: called in %.1f s", time.monotonic() - began)
        return trouble

    def _tell(self, trouble: str) -> None:
        """Log a trouble when it begins and when it ends, and note it."""
        if trouble == self._trouble or self._is_over:
            return
        if trouble and not self._trouble:
            _logger.warning("heartbeat: %s", trouble)
        elif self._trouble and not trouble:
            _logger.info("heartbeat: works again")
        self._trouble = trouble
        try:
            note_trouble(self._store, "heartbeat", trouble, self._clock())
        except AlertdError as error:
            _logger.error("heartbeat: %s", error_text(error))  # noqa: TRY400 - one line
