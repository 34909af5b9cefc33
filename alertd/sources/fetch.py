"""Asking public services politely, and distrusting what they answer.

What a call does, in this order: it uses the stored answer while that is fresh; it does not ask while the request or its
host is held after a failure; it waits for its turn at the host; it counts the quota; it asks, with the version of the
stored answer. Only an answer that the caller's ``parse`` accepts, and that is no older forecast than the stored one, is
stored. After every failure the last good answer is returned with the reason as its ``problem``, or an error raised if
there is none.

Status 403 holds the request, not its host: one path may be forbidden while the others work.

An older forecast is held like a failure: mostly it comes from one of several servers that has fallen behind, so that
the next answer may be good. But it is an answer, and its own ``Expires`` is kept to as for any other, up to the longest
backoff; services ban those who do not (terms of MET Norway, seen).
"""

from __future__ import annotations

import hashlib
import random as random_module
import threading
import time
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from alertd.core import Answer, SourceMalformed, SourceUnavailable, as_utc

from .answer import AnswerStore, MemoryAnswers
from .exchange import Exchange, Failure
from .holds import Hold, Holds, Shelf
from .politeness import FetchSettings, backoff, believable_expiry, fresh_until, is_noted_in_future
from .reasons import one_line
from .reference_time import Reading, older_forecast
from .request import Request
from .transport import Transport, WebTransport
from .turns import Turns

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime, timedelta

__all__ = ["Answer", "AnswerStore", "FetchSettings", "Fetcher", "MemoryAnswers", "Request"]

T = TypeVar("T")

_DEFAULT_SETTINGS = FetchSettings()


class Fetcher:
    """Asks services, for all sources and threads of a program.

    Parameters
    ----------
    user_agent : str
        Program and contact, like ``alertd/0.3 kim@example.org``.
    answers : AnswerStore
        Where last good answers are kept; also what must not be asked for a while.
    settings : FetchSettings
        Limits.
    random : random.Random, optional
        For jitter.
    transport : Transport, optional
        What performs each GET; the network by default.
    sleep : callable
        Waits before a second try [s].

    Raises
    ------
    ValueError
        If `user_agent` is empty or cannot stand in a header.
    """

    def __init__(
        self,
        user_agent: str,
        answers: AnswerStore,
        settings: FetchSettings = _DEFAULT_SETTINGS,
        *,
        random: random_module.Random | None = None,
        transport: Transport | None = None,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._user_agent = user_agent
        self._settings = settings
        self._shelf = Shelf(answers)
        self._holds = Holds(self._shelf)
        self._random = random_module.Random() if random is None else random  # noqa: S311 - jitter is no secret
        self._lock = threading.Lock()
        self._spread: dict[str, timedelta] = {}
        self._turns = Turns(settings.quotas, settings.longest_wait)
        self._exchange = Exchange(
            user_agent,
            settings,
            transport or WebTransport(settings.max_bytes, proxies_from_environment=settings.proxies_from_environment),
            spend=self._turns.spend,
            uniform=self._drawn,
            sleep=sleep,
        )

    def fetch(self, request: Request, now: datetime) -> Answer:
        """Return the answer to a request, whatever is in it; see `fetch_and_parse`.

        Parameters
        ----------
        request : Request
            What to ask.
        now : datetime
            Aware.

        Returns
        -------
        Answer
            With a ``problem`` if it is the last good one instead of a new one.

        Raises
        ------
        SourceUnavailable
            If there is no answer, or none may be asked for now.
        SourceMalformed
            If the answer is empty and no other is stored.
        """
        return self.fetch_and_parse(request, now, bytes)[1]

    def fetch_and_parse(
        self,
        request: Request,
        now: datetime,
        parse: Callable[[bytes], T],
        made: Callable[[T], datetime] | None = None,
    ) -> tuple[T, Answer]:
        """Return what an answer says, and the answer.

        Parameters
        ----------
        request : Request
            What to ask.
        now : datetime
            Aware.
        parse : callable
            Makes something of a body; raises `SourceMalformed` if it cannot be trusted. Then the body is not stored,
            and the last good one is used, with a ``problem``.
        made : callable, optional
            Tells from what `parse` made when the forecast was made by its own word (aware). Then a body with an older
            forecast than the stored one's is not stored either; see `is_older` of :mod:`.reference_time`.

        Returns
        -------
        tuple
            What `parse` made, and the answer that it was made of.

        Raises
        ------
        SourceUnavailable
            If there is no answer, or none may be asked for now.
        SourceMalformed
            If the answer cannot be trusted and no other is stored.
        ValueError
            If `now` is naive.
        """
        now = as_utc(now)
        reading = Reading(parse, made)
        found = self._without_asking(request, now, parse)
        if found is not None:
            return found
        with self._turns.turn(request) as is_ours:
            if not is_ours:
                reason = f"{request.host} is busy with another request of ours; it is asked again later"
                return self._last_good(request, parse, Failure(reason))
            found = self._without_asking(request, now, parse)
            return found if found is not None else self._asked(request, now, reading)

    def forget(self, key: str) -> None:
        """Drop a stored answer.

        Parameters
        ----------
        key : str
            Of the request.
        """
        self._shelf.forget_answer(key)

    def reject(self, request: Request, reason: str) -> None:
        """Drop a stored answer that turned out malformed, and count a failure.

        Parameters
        ----------
        request : Request
            That it answers.
        reason : str
            One phrase for a person.
        """
        stored = self._stored(request)
        if stored is not None:
            self.forget(request.key)
            self._hold(request, stored.retrieved, Failure(reason, is_malformed=True))

    def _without_asking(self, request: Request, now: datetime, parse: Callable[[bytes], T]) -> tuple[T, Answer] | None:
        """Return what can be said without asking; nothing if it is time to ask."""
        stored = self._stored(request)
        if stored is not None and self._is_fresh(request, stored, now):
            try:
                return parse(stored.body), stored
            except SourceMalformed:  # a newer version of us reads more strictly
                self.forget(request.key)
        hold = self._holds.active(f"key:{request.key}", now, self._question(request)) or self._holds.active(
            f"host:{request.host}", now
        )
        if hold is None:
            return None
        return self._last_good(request, parse, Failure(hold.reason, is_malformed=hold.is_malformed))

    def _stored(self, request: Request) -> Answer | None:
        """Return the stored answer, if it answers the very same question."""
        stored = self._shelf.answer(request.key)
        return stored if stored is not None and stored.url == request.shown_url else None

    def _is_fresh(self, request: Request, stored: Answer, now: datetime) -> bool:
        if is_noted_in_future(stored.retrieved, now):
            return False
        with self._lock:
            if request.key not in self._spread:
                self._spread[request.key] = self._settings.spread * self._random.random()
            spread = self._spread[request.key]
        return now < fresh_until(stored, request.pause, self._settings, request.shortest_pause) + spread

    def _last_good(self, request: Request, parse: Callable[[bytes], T], failure: Failure) -> tuple[T, Answer]:
        stored = self._stored(request)
        if stored is not None:
            try:
                return parse(stored.body), replace(stored, problem=failure.reason)
            except SourceMalformed:
                self.forget(request.key)
        raise (SourceMalformed if failure.is_malformed else SourceUnavailable)(failure.reason)

    def _asked(self, request: Request, now: datetime, reading: Reading[T]) -> tuple[T, Answer]:
        reason = self._turns.spend(request, now)
        if reason:
            return self._last_good(request, reading.parse, Failure(reason))
        stored = self._stored(request)
        outcome = self._exchange.ask(request, stored, now)
        if isinstance(outcome, Failure):
            return self._failed(request, now, reading.parse, outcome)
        return self._accepted(request, now, reading, outcome)

    def _accepted(self, request: Request, now: datetime, reading: Reading[T], answer: Answer) -> tuple[T, Answer]:
        """Store an answer that can be parsed and is no older forecast."""
        try:
            if not answer.body:
                message = "the answer is empty; it is asked again later"
                raise SourceMalformed(message)  # noqa: TRY301 - handled as what `parse` raises
            parsed = reading.parse(answer.body)
            outdone = self._outdone(request, now, reading, answer, parsed)
        except SourceMalformed as error:
            return self._failed(request, now, reading.parse, Failure(f"{request.host}: {error}", is_malformed=True))
        except Exception:  # our own bug; even so the service must not be asked at every call
            self._hold(request, now, Failure(f"{request.host}: the answer could not be read; please report this"))
            raise
        if outdone is not None:
            return self._failed(request, now, reading.parse, outdone)
        with self._lock:
            self._spread.pop(request.key, None)
        self._holds.drop(f"key:{request.key}")
        self._holds.drop(f"host:{request.host}")
        self._shelf.keep_answer(request.key, answer)
        return parsed, answer

    def _outdone(
        self, request: Request, now: datetime, reading: Reading[T], answer: Answer, parsed: T
    ) -> Failure | None:
        """Return why an answer must not be stored, if the stored one has a newer forecast."""
        stored = self._stored(request)
        if stored is None or stored.body == answer.body or is_noted_in_future(stored.retrieved, now):
            return None
        made = reading.older(parsed, stored)
        if made is None:
            return None
        expires = believable_expiry(answer, self._settings) or now
        return Failure(older_forecast(request.host, made), min(expires - now, self._settings.longest_backoff))

    def _failed(
        self, request: Request, now: datetime, parse: Callable[[bytes], T], failure: Failure
    ) -> tuple[T, Answer]:
        """Hold what failed, and return the last good answer."""
        return self._last_good(request, parse, self._hold(request, now, failure))

    def _hold(self, request: Request, now: datetime, failure: Failure) -> Failure:
        """Ask no more for the pause that the failure names, and at least for the backoff; return it fit to be read."""
        failure = failure._replace(reason=one_line(request.without_secrets(failure.reason)))
        name, question = f"key:{request.key}", self._question(request)
        if failure.holds_host:
            name, question = f"host:{request.host}", ""
        failures = self._holds.failures(name, now, question) + 1
        until = now + max(backoff(failures, self._settings, self._drawn(0.0, 1.0)), failure.pause)
        self._holds.put(name, Hold(now, until, failure.reason, failures, question, is_malformed=failure.is_malformed))
        return failure

    def _drawn(self, least: float, most: float) -> float:
        with self._lock:
            return self._random.uniform(least, most)

    def _question(self, request: Request) -> str:
        """Return a mark of all that a person may mend: whoever corrects the contact need not wait for hours."""
        asked = repr((request.full_url, request.headers, self._user_agent))
        return hashlib.sha256(asked.encode()).hexdigest()[:8]
