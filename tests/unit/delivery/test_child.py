from __future__ import annotations

import logging
from dataclasses import dataclass

import pytest
import requests

from alertd.delivery import Outcome, child
from alertd.delivery.job import Job
from alertd.delivery.service import open_service
from alertd.delivery.verdict import Phrase, Verdict

SMS = "httpsms://abcdefghij@15551231234/15551231234"
CHAT_WITHOUT_TITLES = "tgram://123456789:abcdefg_hijklmnop/12315544/"
WITH_TITLES = "ntfy://example.org/garden"


def make_job(url: str, **changes: object) -> Job:
    values = {"reference": "N7-1", "subject": "Wrap 4 figs", "short": "Wrap 4 figs by 14:10", "text": "long text",
              "html": "<p>long text</p>", "mail_headers": {}, "deadline": 5.0}  # fmt: skip
    return Job(url=url, **(values | changes))


def test_a_short_message_service_gets_the_short_form_with_the_reference_alone():
    title, body = child._title_and_body(open_service(SMS), make_job(SMS))
    assert (title, body) == ("", "Wrap 4 figs by 14:10 [N7-1]")


def test_a_reference_in_the_short_form_is_not_repeated():
    job = make_job(SMS, short="N7-1: wrap 4 figs")
    assert child._title_and_body(open_service(SMS), job) == ("", "N7-1: wrap 4 figs")


def test_a_reference_that_would_make_a_second_short_message_is_left_out():
    job = make_job(SMS, short="x" * 155)
    assert child._title_and_body(open_service(SMS), job) == ("", "x" * 155)


@pytest.mark.parametrize("url", [CHAT_WITHOUT_TITLES, WITH_TITLES])
def test_other_services_get_the_short_form_as_title(url):
    assert child._title_and_body(open_service(url), make_job(url)) == ("Wrap 4 figs by 14:10", "long text")


def test_a_url_that_nobody_understands_is_refused():
    assert child.perform(make_job("nosuchservice://x")) == Verdict(Outcome.REFUSED, Phrase.NOT_UNDERSTOOD)


def test_an_error_code_in_a_log_line_is_the_last_resort():
    with child._listening() as listener:
        logging.getLogger("apprise").warning("Failed to send: error=%d.", 503)
        logging.getLogger("apprise").warning("Failed to send: error=%d.", 404)
        logging.getLogger("apprise").warning("error=nothing to see, 404")
    assert listener.failures == [Verdict(Outcome.UNAVAILABLE, Phrase.HTTP, 503)]


def refuse():
    raise ConnectionRefusedError


def test_a_logged_exception_is_judged_as_the_object_that_it_is():
    with child._listening() as listener:
        try:
            refuse()
        except ConnectionRefusedError:
            logging.getLogger("apprise").debug("Socket Exception: secret")
    assert listener.failures == [Verdict(Outcome.UNAVAILABLE, Phrase.CONNECTION_REFUSED)]


def test_listening_leaves_everything_as_it_was():
    logger = logging.getLogger("apprise")
    before = (logger.level, logger.propagate, list(logger.handlers), requests.adapters.HTTPAdapter.send)
    with child._listening():
        assert requests.adapters.HTTPAdapter.send is not before[-1]
    assert (logger.level, logger.propagate, list(logger.handlers), requests.adapters.HTTPAdapter.send) == before


@dataclass
class Service:
    """A service that fails in its own way."""

    failure: Exception | None
    schema: str = "own"
    title_maxlen: int = 250
    body_maxlen: int = 1000
    request_rate_per_sec: float = 5.5

    def notify(self, **_letter: object) -> bool:
        if self.failure is not None:
            raise self.failure
        return False


@pytest.mark.parametrize(
    ("failure", "verdict"),
    [
        (None, Verdict(Outcome.UNAVAILABLE, Phrase.SERVICE_FAILED)),
        (RuntimeError("password"), Verdict(Outcome.UNAVAILABLE, Phrase.SERVICE_FAILED)),
        (TimeoutError(), Verdict(Outcome.UNAVAILABLE, Phrase.TIMED_OUT)),
    ],
)
def test_a_service_that_fails_without_a_word_is_unavailable(monkeypatch, failure, verdict):
    service = Service(failure)
    monkeypatch.setattr(child, "open_service", lambda _url: service)
    assert child.perform(make_job("own://")) == verdict
    assert service.request_rate_per_sec == 1.0
    assert service.optional is service.redirects is service.persistent_storage is False
