"""Whether a channel's URL can be understood, told without its secrets."""

from __future__ import annotations

import logging
import re
import stat
from collections.abc import Sized
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from .channel import ChannelKind
from .service import MAIL_SCHEMAS, open_service

if TYPE_CHECKING:
    from collections.abc import Iterator

    from .channel import Channel

#: Two URLs in one text, with a comma or blanks between them.
_SEVERAL_URLS = re.compile(r"[,\s]\s*[A-Za-z][A-Za-z0-9+.-]*://")


def check_channel(channel: Channel) -> str | None:
    """Return what is wrong with a channel's URL, or None.

    Nothing is sent and no connection is opened.

    Parameters
    ----------
    channel : Channel
        The channel to judge.

    Returns
    -------
    str or None
        What is wrong and how to mend it, without any part of the URL; None if the URL can be used.
    """
    match channel.kind:
        case ChannelKind.TERMINAL:
            return _terminal_problem(channel)
        case ChannelKind.FILE:
            return _file_problem(channel)
        case ChannelKind.SERVICE:
            return _service_problem(channel)


def _terminal_problem(channel: Channel) -> str | None:
    if channel.url == ChannelKind.TERMINAL.value:
        return None
    return "has something after 'terminal:'; write 'terminal:' alone"


def _file_problem(channel: Channel) -> str | None:
    try:
        directory = channel.directory
    except ValueError:
        return "the directory is not absolute; write it like file:/var/lib/alertd/letters"
    try:
        is_directory = stat.S_ISDIR(directory.stat().st_mode)
    except FileNotFoundError:
        return None
    except (OSError, ValueError):
        return "the directory cannot be reached; check its path and its permissions"
    return None if is_directory else "the path is no directory; name a directory, it is created when missing"


def _service_problem(channel: Channel) -> str | None:
    if not channel.url.strip():
        return "is empty; give 'terminal:', 'file:/a/directory' or the URL of a service"
    if _SEVERAL_URLS.search(channel.url):
        return "holds more than one URL; give each its own channel"
    with _silenced():
        service = open_service(channel.url)
    if service is None:
        return (
            "no service understands this URL, a part of it is missing, or its service needs a package that is not "
            "installed; see the documentation of the service"
        )
    recipients = _number_of_recipients(service)
    if service.schema in MAIL_SCHEMAS:
        if not service.targets:
            return "holds no valid mail address to send to; name one with ?to="
        recipients = len(service.targets) + len(service.cc) + len(service.bcc)
    if recipients > 1:
        return f"names {recipients} recipients; give each its own channel, so that a repeat cannot reach one twice"
    return None


def _number_of_recipients(service: Any) -> int:  # noqa: ANN401 - the library has no types
    service.retry = 0  # a service counts its targets once for each try
    targets, channels, users = (
        len(value) if isinstance(value := getattr(service, name, None), Sized) else 0
        for name in ("targets", "channels", "users")
    )
    return max(len(service), targets, channels + users)  # some services do not count at all


@contextmanager
def _silenced() -> Iterator[None]:
    """Keep the lines of the services' library, which may quote the URL, out of our logs."""
    logger = logging.getLogger("apprise")
    before = logger.disabled
    logger.disabled = True
    try:
        yield
    finally:
        logger.disabled = before
