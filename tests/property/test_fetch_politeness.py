"""Whatever services answer and clocks do, no request is made too early, and polling never stops for good.

The model knows only what a service may expect: from each answer it takes the earliest and the latest time of the next
request. The fetcher is restarted now and then, with nothing but its stored answers.
"""

import random
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from alertd.core import SourceMalformed, SourceUnavailable
from alertd.sources import Fetcher, MemoryAnswers, Request, read_json
from tests.fakes.http_servers import http_date
from tests.fakes.transport import LOST, TOO_SLOW, reply

NOON = datetime(2026, 1, 23, 12, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
HOUR = timedelta(hours=1)
PAUSE = 30 * MINUTE
TOLERANCE = 5 * MINUTE
SPREAD = MINUTE
DAY = timedelta(hours=24)

REQUESTS = (
    Request("a", "https://north.example.org/a", pause=PAUSE),
    Request("b", "https://north.example.org/b", pause=PAUSE),
    Request("c", "https://south.example.org/c", pause=PAUSE),
)

SECONDS = st.integers(0, 100_000)
OUTCOMES = st.one_of(
    st.tuples(st.just("good"), st.one_of(st.none(), SECONDS)),
    st.tuples(st.just("expires"), SECONDS),
    st.tuples(st.just("same"), st.one_of(st.none(), SECONDS)),
    st.tuples(st.just("older"), st.one_of(st.none(), SECONDS)),
    st.tuples(st.just("malformed"), st.none()),
    st.tuples(st.just("lost"), st.none()),
    st.tuples(st.just("slow"), st.none()),
    st.tuples(st.sampled_from([400, 404, 500, 502, 503, 504, 403, 429]), st.none()),
    st.tuples(st.sampled_from([429, 503]), SECONDS),
)


def made_at(parsed):
    """Return when a forecast was made, by its own word."""
    return datetime(2000, 1, 1, tzinfo=UTC) + parsed[0] * HOUR


@dataclass
class Limits:
    """When a key or a host may and must be asked again, and when that was noted."""

    noted: datetime
    earliest: datetime
    latest: datetime
    failures: int = 0


@dataclass
class Service:
    """The network: gives the next outcome, and holds every request against the model."""

    now: datetime = NOON
    outcome: tuple = ("good", None)
    limits: dict[str, Limits] = field(default_factory=dict)
    good: dict[str, Limits] = field(default_factory=dict)
    held: dict[str, tuple[int, datetime]] = field(default_factory=dict)
    asked: list[str] = field(default_factory=list)

    def known(self, name):
        return self._believed(self.limits.get(name))

    def fresh(self, key):
        """A failure at a clock that was set back does not spoil the answer from before it: time comes there again."""
        return self._believed(self.good.get(key))

    def _believed(self, limits):
        return None if limits is None or limits.noted > self.now + TOLERANCE else limits

    def get(self, url, headers, _seconds):
        key, host = url[-1], url.split("/")[2]
        for name in (key, host):
            limits = self.known(name)
            assert limits is None or self.now >= limits.earliest or self.asked == [url], f"{name} is asked too early"
        self.asked.append(url)
        assert len(self.asked) <= 2
        return self.answer(key, host, *self.outcome, is_conditional="If-None-Match" in headers)

    def answer(self, key, host, kind, seconds, *, is_conditional):
        named = {} if seconds is None else {"Cache_Control": f"max-age={seconds}"}
        if kind == "same" and is_conditional:
            self.note_good(key, host, seconds, self.held[key][0])
            return reply(304, b"", **named)
        if kind in {"good", "same"}:
            self.note_good(key, host, seconds, 1)
            return reply(body=b"[1]", ETag='"a"', **named)
        if kind == "older":
            body, retrieved = self.held.get(key, (0, self.now))
            if body == 1 and retrieved <= self.now + TOLERANCE:
                is_believable = seconds is not None and timedelta(seconds=seconds) <= DAY
                self.note_bad(key, min(timedelta(seconds=seconds), HOUR) if is_believable else timedelta(0))
            else:
                self.note_good(key, host, seconds, 0)
            return reply(body=b"[0]", ETag='"b"', **named)
        if kind == "expires":
            self.note_good(key, host, seconds, 1)
            return reply(body=b"[1]", ETag='"a"', Expires=http_date(self.now + timedelta(seconds=seconds)))
        pause = timedelta(0) if seconds is None else min(timedelta(seconds=seconds), 6 * HOUR)
        if kind == 403:
            pause = 6 * HOUR
        self.note_bad(host if kind == 429 or seconds is not None else key, pause)
        if kind in {"lost", "slow"}:
            raise (LOST if kind == "lost" else TOO_SLOW).with_traceback(None)
        if kind == "malformed":
            return reply(body=b"[1, 2")
        return reply(kind, **({} if seconds is None else {"Retry_After": str(seconds)}))

    def note_good(self, key, host, seconds, body):
        self.held[key] = (body, self.now)
        self.limits.pop(host, None)
        good_for = PAUSE if not seconds or timedelta(seconds=seconds) > DAY else timedelta(seconds=seconds)
        until = self.now + max(good_for, MINUTE)
        self.limits[key] = self.good[key] = Limits(self.now, until - timedelta(seconds=1), until + SPREAD)

    def note_bad(self, name, pause):
        # a second try is part of the same failure
        before = self.known(name)
        is_second = len(self.asked) == 2
        failures = (before.failures if before else 0) + (0 if is_second else 1)
        backoff = min(MINUTE * 2 ** max(failures - 1, 0), HOUR)
        self.limits[name] = Limits(
            self.now, self.now + max(pause, 0.79 * backoff), self.now + max(pause, 1.21 * backoff), failures
        )


class Polling(RuleBasedStateMachine):
    @initialize(seed=st.integers(0, 1000))
    def start(self, seed):
        self.service = Service()
        self.answers = MemoryAnswers()
        self.seed = seed
        self.restart()

    @rule()
    def restart(self):
        self.seed += 1
        self.fetcher = Fetcher(
            "alertd", self.answers, random=random.Random(self.seed), transport=self.service, sleep=lambda _seconds: None
        )

    @rule(seconds=st.one_of(st.integers(1, 300), st.integers(1, 8000), st.integers(1, 200_000)))
    def pass_time(self, seconds):
        self.service.now += timedelta(seconds=seconds)

    @rule(seconds=st.one_of(st.integers(1, 299), st.integers(1, 200_000)))
    def set_clock_back(self, seconds):
        self.service.now -= timedelta(seconds=seconds)

    @rule(request=st.sampled_from(REQUESTS), outcome=OUTCOMES)
    def ask(self, request, outcome):
        service = self.service
        service.outcome, service.asked = outcome, []
        limits = [service.known(request.key), service.known(request.host), service.fresh(request.key)]
        must_ask = all(known is None or service.now >= known.latest for known in limits)
        had_answer = request.key in service.held
        try:
            parsed, answer = self.fetcher.fetch_and_parse(request, service.now, read_json, made_at)
        except (SourceMalformed, SourceUnavailable):
            assert not had_answer
        else:
            assert (parsed[0], answer.retrieved) == service.held[request.key]
            if service.asked and not answer.problem:
                assert answer.retrieved == service.now
        assert service.asked or not must_ask, "polling is frozen"

    @invariant()
    def nothing_is_lost(self):
        for key, (body, retrieved) in getattr(self, "service", Service()).held.items():
            answer = self.answers.answer(key)
            assert (answer.body, answer.retrieved) == (b"[%d]" % body, retrieved)


def test_an_answer_from_before_the_clock_was_set_back_is_good_again_when_time_has_come_there():
    polling, (request, *_) = Polling(), REQUESTS
    polling.start(seed=0)
    for outcome, seconds in ((("good", None), -301), (("malformed", None), 73), (("good", None), 3600)):
        polling.ask(request, outcome)
        polling.service.now += timedelta(seconds=seconds)
    assert polling.service.asked == []
    polling.ask(request, ("good", None))
    assert polling.service.asked == [request.url]


Polling.TestCase.settings = settings(max_examples=150, stateful_step_count=40)
test_no_request_is_too_early_and_polling_never_freezes = Polling.TestCase
