"""Judging the URLs of channels in a process of its own, which ends with what it has loaded.

The services' library loads all of its services to understand one URL, and a process never gives such memory back: a
daemon would hold it for months, for a question that is asked at the start and at reloads.
"""

from __future__ import annotations

import json
import subprocess
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

from .channel import ChannelKind
from .check import check_channel
from .send import child_environment

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator

    from .channel import Channel

#: How the judging process is started; ``-P`` keeps the working directory out of the search for modules.
_CHILD = ("-P", "-m", "alertd.delivery.judge_child")

#: How long the end of the process is waited for before it is killed [s], assumed; it takes 0.1 s when measured.
_PATIENCE = 10.0


@contextmanager
def judging_apart(sound: Collection[str] = ()) -> Iterator[Callable[[Channel], str | None]]:
    """Let another process judge channels; it is started for the first that needs it, and ends with the context.

    Parameters
    ----------
    sound : collection of str
        URLs that have been judged and are sound: nothing is started for them.

    Yields
    ------
    callable
        Like `check_channel`, which it falls back on where no process can be started.
    """
    judge = _Judge(frozenset(sound))
    try:
        yield judge.problem
    finally:
        judge.end()


class _Judge:
    def __init__(self, sound: frozenset[str]) -> None:
        self._sound = sound
        self._process: subprocess.Popen[bytes] | None = None

    def problem(self, channel: Channel) -> str | None:
        if channel.kind is ChannelKind.SERVICE and channel.url in self._sound:
            return None
        if channel.kind is not ChannelKind.SERVICE:
            return check_channel(channel)
        try:
            (problem,) = json.loads(self._answer(channel.url))
        except (OSError, ValueError):
            return check_channel(channel)
        return None if problem is None else str(problem)

    def _answer(self, url: str) -> bytes:
        """Return a line of the process; an empty one if it has ended."""
        if self._process is None:
            self._process = subprocess.Popen(
                [sys.executable, *_CHILD],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=child_environment(),
                start_new_session=True,
            )
        question, answer = self._process.stdin, self._process.stdout
        if question is None or answer is None:  # both are pipes
            return b""
        question.write(json.dumps(url).encode("ascii") + b"\n")
        question.flush()
        return answer.readline()

    def end(self) -> None:
        if self._process is None:
            return
        try:
            self._process.communicate(timeout=_PATIENCE)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.communicate()
