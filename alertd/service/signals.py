"""Signals of the operating system, taken one by one in the main thread."""

from __future__ import annotations

import queue
import signal
import threading
from typing import TYPE_CHECKING, Any, Self

if TYPE_CHECKING:
    from types import FrameType, TracebackType

#: What is heard.
HEARD = (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)


class Signals:
    """Puts signals into a queue while it is used in a ``with`` statement.

    A handler may interrupt anything, even a lock being taken; setting a `threading.Event` in one can therefore wait
    for ever. Putting into a `queue.SimpleQueue` is safe by its documentation. Outside the main thread, where Python
    hears no signals, nothing ever comes.
    """

    def __init__(self) -> None:
        self._queue: queue.SimpleQueue[signal.Signals] = queue.SimpleQueue()
        self._before: dict[signal.Signals, Any] = {}

    def wait(self, timeout: float) -> signal.Signals | None:
        """Wait for a signal.

        Parameters
        ----------
        timeout : float
            At most so long [s].

        Returns
        -------
        signal.Signals or None
            ``None`` if none came.
        """
        try:
            return self._queue.get(timeout=timeout)
        except queue.Empty:
            return None

    def _hear(self, number: int, _frame: FrameType | None) -> None:
        self._queue.put(signal.Signals(number))

    def __enter__(self) -> Self:
        if threading.current_thread() is threading.main_thread():
            self._before = {number: signal.signal(number, self._hear) for number in HEARD}
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for number, handler in self._before.items():
            signal.signal(number, handler)
