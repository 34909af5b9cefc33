"""Send one letter through one channel, within a deadline."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from contextlib import suppress
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from .channel import ChannelKind
from .job import Job, decode_verdict, encode_job
from .letterbox import file_letter, show_letter
from .mail import mail_headers
from .verdict import Outcome, Phrase, Verdict

if TYPE_CHECKING:
    from typing import TextIO

    from alertd.messages import Letter

    from .channel import Channel

#: How often a send in flight looks whether it shall stop [s].
_GLANCE = 0.1

#: How the sending process is started; ``-P`` keeps the working directory out of the search for modules.
_CHILD = ("-P", "-m", "alertd.delivery.child")

#: What the sending process does not inherit: settings and secrets of the daemon, its ties to the service manager,
#: and switches of the services' library.
_PRIVATE_PREFIXES = ("ALERTD_", "APPRISE_", "LISTEN_", "WATCHDOG_")
_PRIVATE_NAMES = frozenset({"CREDENTIALS_DIRECTORY", "NOTIFY_SOCKET"})


@dataclass(frozen=True, slots=True)
class SendResult:
    """What became of one try.

    Parameters
    ----------
    outcome : Outcome
        What is known.
    reason : str
        A phrase of a fixed vocabulary, with a code where there is one; never a secret.
    retry_after : timedelta or None
        When the channel wants to be asked again.
    elapsed : timedelta
        How long the try took.
    """

    outcome: Outcome
    reason: str
    retry_after: timedelta | None
    elapsed: timedelta


def send(
    channel: Channel,
    letter: Letter,
    *,
    site_slug: str,
    deadline: timedelta,
    stop: threading.Event | None = None,
    stream: TextIO | None = None,
) -> SendResult:
    """Send a letter once.

    Parameters
    ----------
    channel : Channel
        Where to.
    letter : Letter
        What.
    site_slug : str
        Short name of the site, for the threads of mails.
    deadline : timedelta
        After this the try is ended and its outcome unknown.
    stop : threading.Event, optional
        Ends the try early when set.
    stream : file, optional
        What a ``terminal:`` channel writes to; standard output by default.

    Returns
    -------
    SendResult
        Whatever the channel does, nothing is raised.
    """
    started = time.monotonic()
    match channel.kind:
        case ChannelKind.TERMINAL:
            verdict = show_letter(letter, sys.stdout if stream is None else stream)
        case ChannelKind.FILE:
            verdict = _send_to_file(channel, letter)
        case ChannelKind.SERVICE:
            verdict = _send_in_child(_job(channel, letter, site_slug, deadline), started, deadline, stop)
    return SendResult(
        outcome=verdict.outcome,
        reason=verdict.reason,
        retry_after=None if verdict.retry_after is None else timedelta(seconds=verdict.retry_after),
        elapsed=timedelta(seconds=time.monotonic() - started),
    )


def _send_to_file(channel: Channel, letter: Letter) -> Verdict:
    try:
        directory = channel.directory
    except ValueError:
        return Verdict(Outcome.REFUSED, Phrase.NOT_UNDERSTOOD)
    return file_letter(letter, directory)


def _job(channel: Channel, letter: Letter, site_slug: str, deadline: timedelta) -> Job:
    return Job(
        url=channel.url,
        reference=letter.reference,
        subject=letter.subject,
        short=letter.short,
        text=letter.text,
        html=letter.html,
        mail_headers=mail_headers(letter, site_slug),
        deadline=deadline.total_seconds(),
    )


def _send_in_child(job: Job, started: float, deadline: timedelta, stop: threading.Event | None) -> Verdict:
    try:
        process = subprocess.Popen(
            [sys.executable, *_CHILD],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env=child_environment(),
            start_new_session=True,
        )
    except OSError:
        return Verdict(Outcome.UNAVAILABLE, Phrase.NO_PROCESS)
    with process:
        writer = _start_writing(process, encode_job(job))
        try:
            return _answer(process, started + deadline.total_seconds(), stop)
        finally:
            _end(process)
            writer.join()


def _start_writing(process: subprocess.Popen[bytes], job: bytes) -> threading.Thread:
    """Write the job while others wait for the answer; ``communicate`` forgets the rest of it after a timeout."""
    pipe, process.stdin = process.stdin, None

    def write() -> None:
        with suppress(BrokenPipeError), pipe as file:  # type: ignore[union-attr]
            file.write(job)

    writer = threading.Thread(target=write, name="job")
    writer.start()
    return writer


def _answer(process: subprocess.Popen[bytes], end: float, stop: threading.Event | None) -> Verdict:
    while True:
        if stop is not None and stop.is_set():
            return Verdict(Outcome.UNKNOWN, Phrase.STOPPED)
        remaining = end - time.monotonic()
        if remaining <= 0:
            return Verdict(Outcome.UNKNOWN, Phrase.DEADLINE)
        with suppress(subprocess.TimeoutExpired):
            answer, _nothing = process.communicate(timeout=min(_GLANCE, remaining))
            return decode_verdict(answer)


def _end(process: subprocess.Popen[bytes]) -> None:
    """Kill the process group, unless the process has ended: then its number may belong to somebody else."""
    if process.poll() is None:
        with suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)


def child_environment() -> dict[str, str]:
    """Return the environment for a process that meets services: without what is private to the daemon."""
    return {
        name: value
        for name, value in os.environ.items()
        if name not in _PRIVATE_NAMES and not name.startswith(_PRIVATE_PREFIXES)
    }
