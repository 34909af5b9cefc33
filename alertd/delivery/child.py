"""The sending process: one letter to one service, then it ends.

It runs as ``python -m alertd.delivery.child``, reads a job as JSON from standard input and writes a verdict as
JSON to standard output. Services are reached with apprise. A process of its own for each letter is needed because
a hung service can only be ended by killing it, and because apprise's own pool of threads lets hung services delay
the healthy ones.

apprise tells only whether a send succeeded. So this process listens at two places: each HTTP exchange passes the
adapter of requests, which knows the status and ``Retry-After``; and while apprise logs an exception that it has
caught, that exception is the one being handled, so a log handler sees the object itself. Texts of log lines are
used for nothing but the ``error=NNN`` of services that do without requests.
"""

from __future__ import annotations

import logging
import math
import os
import re
import resource
import signal
import sys
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import requests
from apprise import NotifyFormat, NotifyType, OverflowMode

from alertd.delivery.irc import IRC_SCHEMAS, listening_to_replies
from alertd.delivery.job import decode_job, encode_verdict
from alertd.delivery.mqtt import MQTT_SCHEMAS, BrokerListener
from alertd.delivery.service import MAIL_SCHEMAS, WEBHOOK_SCHEMAS, open_service
from alertd.delivery.verdict import Outcome, Phrase, Verdict, verdict_of_error, verdict_of_http
from alertd.delivery.xmpp import XMPP_SCHEMAS, listening_to_server

if TYPE_CHECKING:
    from collections.abc import Iterator

    from alertd.delivery.job import Job

#: How long making an HTTP connection may take at most [s], assumed.
_CONNECT_PATIENCE = 10.0
#: Longest pause between two parts of one letter [s], assumed; the library's own, 5.5 s, outlasts the deadline.
_PAUSE_BETWEEN_PARTS = 1.0
#: Services without titles whose messages are shorter than this get the short form alone [characters], assumed.
_SHORT_MESSAGE = 500
_ERROR_CODE = re.compile(r"\berror=([3-5]\d\d)\b")


class _Listener(logging.Handler):
    """Collects what went wrong during one send, the last failure last."""

    def __init__(self) -> None:
        super().__init__(logging.DEBUG)
        self.failures: list[Verdict] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Note the exception that is being handled while this line is logged."""
        error = sys.exc_info()[1]
        if error is not None:
            self.failures.append(verdict_of_error(error))
            return
        match = _ERROR_CODE.search(record.getMessage())
        if match is not None and not any(failure.phrase is Phrase.HTTP for failure in self.failures):
            self.failures.append(verdict_of_http(int(match.group(1)), None, datetime.now(UTC)))

    def heard_answer(self, response: requests.Response) -> None:
        """Note an HTTP answer that is no success."""
        if not response.ok or response.is_redirect:
            wanted = response.headers.get("Retry-After")
            self.failures.append(verdict_of_http(response.status_code, wanted, datetime.now(UTC)))


def perform(job: Job) -> Verdict:
    """Send one letter.

    Parameters
    ----------
    job : Job
        What to send, and where.

    Returns
    -------
    Verdict
        Accepted only if the service said so.
    """
    with _listening() as listener:
        service = open_service(job.url)
        if service is None:
            return Verdict(Outcome.REFUSED, Phrase.NOT_UNDERSTOOD)
        try:
            is_accepted = _hand_over(service, job, listener)
        except Exception as error:  # noqa: BLE001 - more than a hundred services, each with its own exceptions
            return verdict_of_error(error)
    if is_accepted:
        return Verdict(Outcome.ACCEPTED, Phrase.ACCEPTED)
    if listener.failures:
        return listener.failures[-1]
    return Verdict(Outcome.UNAVAILABLE, Phrase.SERVICE_FAILED)


def _hand_over(service: Any, job: Job, listener: _Listener) -> bool:  # noqa: ANN401 - the library has no types
    service.retry = 0
    service.optional = False
    service.redirects = False
    service.persistent_storage = False
    service.socket_read_timeout = job.patience
    if service.schema in MAIL_SCHEMAS:
        service.socket_connect_timeout = job.patience  # the only one that mail uses, for reading too
        return _hand_over_mail(service, job)
    service.socket_connect_timeout = min(job.patience, _CONNECT_PATIENCE)
    service.overflow_mode = OverflowMode.SPLIT
    service.request_rate_per_sec = min(service.request_rate_per_sec, _PAUSE_BETWEEN_PARTS)
    if service.schema in WEBHOOK_SCHEMAS:
        service.headers["X-Alertd-Reference"] = job.reference
    if service.schema in MQTT_SCHEMAS:
        return _hand_over_mqtt(service, job, listener)
    if service.schema in IRC_SCHEMAS:
        return _hand_over_irc(service, job, listener)
    if service.schema in XMPP_SCHEMAS:
        return _hand_over_xmpp(service, job, listener)
    return _notify(service, job)


def _notify(service: Any, job: Job) -> bool:  # noqa: ANN401 - the library has no types
    title, body = _title_and_body(service, job)
    return bool(
        service.notify(body=body, title=title, notify_type=NotifyType.INFO, body_format=NotifyFormat.TEXT),
    )


def _hand_over_xmpp(service: Any, job: Job, listener: _Listener) -> bool:  # noqa: ANN401 - the library has no types
    service.socket_connect_timeout = job.patience  # for the whole conversation
    service.keepalive = False
    with listening_to_server(service, job.patience / 2) as conversation:
        is_accepted = _notify(service, job)
    verdict = conversation.verdict
    if verdict is None:
        return is_accepted
    if verdict.phrase is not Phrase.CONNECTION_LOST or not listener.failures:
        listener.failures.append(verdict)
    return False


def _title_and_body(service: Any, job: Job) -> tuple[str, str]:  # noqa: ANN401 - the library has no types
    if service.title_maxlen <= 0 and service.body_maxlen < _SHORT_MESSAGE:
        named = f"{job.short} [{job.reference}]"
        is_enough = job.reference in job.short or len(named) > service.body_maxlen
        return "", job.short if is_enough else named
    return job.short, job.text


def _hand_over_mqtt(service: Any, job: Job, listener: _Listener) -> bool:  # noqa: ANN401 - the library has no types
    broker = BrokerListener(service)
    is_accepted = _notify(service, job)
    verdict = broker.verdict
    if verdict is not None:
        listener.failures.append(verdict)
    return is_accepted and verdict is None


def _hand_over_irc(service: Any, job: Job, listener: _Listener) -> bool:  # noqa: ANN401 - the library has no types
    with listening_to_replies(service) as failures:
        is_accepted = _notify(service, job)
    listener.failures += failures
    return is_accepted and not failures


def _hand_over_mail(service: Any, job: Job) -> bool:  # noqa: ANN401 - the library has no types
    service.overflow_mode = OverflowMode.UPSTREAM
    service.headers.update(job.mail_headers)
    has_html = service.resolve_format(NotifyFormat.HTML) is NotifyFormat.HTML
    with _own_text_part(service, job.text):
        return bool(
            service.notify(
                body=job.html if has_html else job.text,
                title=job.subject,
                notify_type=NotifyType.INFO,
                body_format=NotifyFormat.HTML if has_html else NotifyFormat.TEXT,
            ),
        )


@contextmanager
def _own_text_part(service: Any, text: str) -> Iterator[None]:  # noqa: ANN401 - the library has no types
    """Make ``text`` the plain part of the mail.

    The mail plugin makes a ``multipart/alternative`` out of the HTML alone and has no way to be given the plain
    part: it converts the HTML, which loses the lines and tables of our text. The name of its converter is bound to
    our text for the length of one send. A test with a real mail server pins this.
    """
    plugin: Any = sys.modules[type(service).__module__]
    before = plugin.convert_between
    plugin.convert_between = lambda *_formats_and_body: text
    try:
        yield
    finally:
        plugin.convert_between = before


@contextmanager
def _listening() -> Iterator[_Listener]:
    listener = _Listener()
    logger = logging.getLogger("apprise")
    level, propagates = logger.level, logger.propagate
    logger.setLevel(logging.DEBUG)
    logger.propagate = False
    logger.addHandler(listener)
    exchange = requests.adapters.HTTPAdapter.send

    def observed_exchange(*arguments: Any, **options: Any) -> requests.Response:  # noqa: ANN401 - passed through
        try:
            response = exchange(*arguments, **options)
        except requests.RequestException as error:
            listener.failures.append(verdict_of_error(error))
            raise
        listener.heard_answer(response)
        return response

    requests.adapters.HTTPAdapter.send = observed_exchange  # type: ignore[method-assign]
    try:
        yield listener
    finally:
        requests.adapters.HTTPAdapter.send = exchange  # type: ignore[method-assign]
        logger.removeHandler(listener)
        logger.setLevel(level)
        logger.propagate = propagates


def main() -> None:
    """Read a job, send, answer, end.

    The process leaves no memory image behind when it crashes, and ends itself soon after the deadline if nobody
    is left to end it.
    """
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    answer = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # nothing that a service prints gets into the answer
    job = decode_job(sys.stdin.buffer.read())
    signal.alarm(math.ceil(job.deadline) + 1)
    os.write(answer, encode_verdict(perform(job)))


if __name__ == "__main__":
    main()
