from __future__ import annotations

import os
import signal
import threading

import pytest

from alertd.service.signals import HEARD, Signals


@pytest.mark.parametrize("number", HEARD)
def test_a_signal_is_heard_once_and_handlers_are_put_back(number):
    before = signal.getsignal(number)
    with Signals() as signals:
        os.kill(os.getpid(), number)
        assert signals.wait(5.0) is number
        assert signals.wait(0.01) is None
    assert signal.getsignal(number) is before


def test_outside_the_main_thread_nothing_is_heard_and_nothing_breaks():
    heard = []

    def listen() -> None:
        with Signals() as signals:
            heard.append(signals.wait(0.01))

    thread = threading.Thread(target=listen)
    thread.start()
    thread.join()
    assert heard == [None]
