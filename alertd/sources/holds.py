"""Which requests and hosts must not be asked for a while, and why; kept with the answers, to outlive a restart."""

from __future__ import annotations

import json
import logging
import threading
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from alertd.core import Answer, StoreError

from .answer import MemoryAnswers
from .politeness import is_noted_in_future

if TYPE_CHECKING:
    from datetime import datetime

    from .answer import AnswerStore

_logger = logging.getLogger(__name__)


class Shelf:
    """An answer store that goes on in memory while the store behind it fails.

    Parameters
    ----------
    store : AnswerStore
        Where answers are kept.
    """

    def __init__(self, store: AnswerStore) -> None:
        self._store = store
        self._unwritten = MemoryAnswers()

    def answer(self, key: str) -> Answer | None:
        """Return the answer kept under a key, or ``None``."""
        unwritten = self._unwritten.answer(key)
        if unwritten is not None:
            return unwritten
        try:
            return self._store.answer(key)
        except StoreError as error:
            _logger.warning("stored answers cannot be read: %s", error)
            return None

    def keep_answer(self, key: str, answer: Answer) -> None:
        """Keep an answer in place of the one under the same key."""
        answer = replace(answer, problem="")
        try:
            self._store.keep_answer(key, answer)
        except StoreError as error:
            _logger.warning("an answer is kept in memory only: %s", error)
            self._unwritten.keep_answer(key, answer)
        else:
            self._unwritten.forget_answer(key)

    def forget_answer(self, key: str) -> None:
        """Drop the answer under a key, if there is one."""
        self._unwritten.forget_answer(key)
        try:
            self._store.forget_answer(key)
        except StoreError as error:
            _logger.warning("a stored answer cannot be dropped: %s", error)


@dataclass(frozen=True, slots=True)
class Hold:
    """Why something is not asked, and until when.

    Parameters
    ----------
    since, until : datetime
        Aware, UTC.
    reason : str
        One phrase for a person.
    failures : int
        In a row, up to this one.
    question : str
        Whatever, changed by a person, makes the hold void.
    is_malformed : bool
        Whether the service did answer, but not what can be trusted.
    """

    since: datetime
    until: datetime
    reason: str
    failures: int
    question: str
    is_malformed: bool = False


class Holds:
    """All holds, each under a name. Any thread may use them.

    Parameters
    ----------
    shelf : Shelf
        Where they are kept, as answers under keys that begin with ``hold:``.
    """

    def __init__(self, shelf: Shelf) -> None:
        self._shelf = shelf
        self._holds: dict[str, Hold | None] = {}
        self._lock = threading.Lock()

    def last(self, name: str, now: datetime, question: str = "") -> Hold | None:
        """Return the last hold under a name since it was dropped, even if it is over.

        Parameters
        ----------
        name : str
            Of a request or a host.
        now : datetime
            Aware, UTC; what was noted after it, before the clock was set back, does not count.
        question : str
            A hold on another question does not count.
        """
        with self._lock:
            if name not in self._holds:
                self._holds[name] = _hold(self._shelf.answer(f"hold:{name}"))
            hold = self._holds[name]
        is_void = hold is None or hold.question != question or is_noted_in_future(hold.since, now)
        return None if is_void else hold

    def active(self, name: str, now: datetime, question: str = "") -> Hold | None:
        """Return the hold under a name if it is not over yet; see `last`."""
        hold = self.last(name, now, question)
        return hold if hold is not None and now < hold.until else None

    def failures(self, name: str, now: datetime, question: str = "") -> int:
        """Return how often something has failed in a row; see `last`."""
        hold = self.last(name, now, question)
        return 0 if hold is None else hold.failures

    def put(self, name: str, hold: Hold) -> None:
        """Hold something for a while.

        Parameters
        ----------
        name : str
            Of a request or a host.
        hold : Hold
            Why, and until when.
        """
        with self._lock:
            self._holds[name] = hold
            self._shelf.keep_answer(f"hold:{name}", _answer(name, hold))

    def drop(self, name: str) -> None:
        """Forget that something ever failed."""
        with self._lock:
            if self._holds.get(name) is not None:
                self._shelf.forget_answer(f"hold:{name}")
            self._holds[name] = None


def _answer(name: str, hold: Hold) -> Answer:
    body = {
        "reason": hold.reason,
        "failures": hold.failures,
        "question": hold.question,
        "malformed": hold.is_malformed,
    }
    return Answer(name, 0, json.dumps(body).encode(), hold.since, hold.until, None, None, "application/json")


def _hold(answer: Answer | None) -> Hold | None:
    """Return the hold that was kept as an answer; nothing if it is none of ours."""
    if answer is None or answer.expires is None:
        return None
    try:
        body = json.loads(answer.body)
        return Hold(
            answer.retrieved,
            answer.expires,
            str(body["reason"]),
            int(body["failures"]),
            str(body["question"]),
            is_malformed=bool(body["malformed"]),
        )
    except (ValueError, KeyError, TypeError):
        return None
