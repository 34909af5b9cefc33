"""Answers of services, and where they are kept."""

from __future__ import annotations

import threading
from typing import Protocol

from alertd.core import Answer

__all__ = ["Answer", "AnswerStore", "MemoryAnswers"]


class AnswerStore(Protocol):
    """Something that keeps the last good answer under each key. Any thread may use it."""

    def answer(self, key: str) -> Answer | None:
        """Return the answer kept under a key.

        Parameters
        ----------
        key : str
            Any.

        Returns
        -------
        Answer or None
            ``None`` if there is none.

        Raises
        ------
        StoreError
            If the store cannot be read.
        """
        ...

    def keep_answer(self, key: str, answer: Answer) -> None:
        """Keep an answer in place of the one under the same key.

        Parameters
        ----------
        key : str
            Any.
        answer : Answer
            Its ``problem`` is not kept.

        Raises
        ------
        StoreError
            If the store cannot be written.
        """
        ...

    def forget_answer(self, key: str) -> None:
        """Drop the answer under a key, if there is one.

        Parameters
        ----------
        key : str
            Any.

        Raises
        ------
        StoreError
            If the store cannot be written.
        """
        ...


class MemoryAnswers:
    """Answers that are forgotten when the program ends.

    Examples
    --------
    >>> MemoryAnswers().answer("north") is None
    True
    """

    def __init__(self) -> None:
        self._answers: dict[str, Answer] = {}
        self._lock = threading.Lock()

    def answer(self, key: str) -> Answer | None:
        """Return the answer kept under a key, or ``None``."""
        with self._lock:
            return self._answers.get(key)

    def keep_answer(self, key: str, answer: Answer) -> None:
        """Keep an answer in place of the one under the same key."""
        with self._lock:
            self._answers[key] = answer

    def forget_answer(self, key: str) -> None:
        """Drop the answer under a key, if there is one."""
        with self._lock:
            self._answers.pop(key, None)
