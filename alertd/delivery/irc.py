"""Whether an IRC server has really taken a message.

The library writes a message and calls that a success, also where the server then says that nobody of that name is
there, or says nothing any more. So the server is asked for a sign of life after the message; whatever it objects comes
before its answer.
"""

from __future__ import annotations

import sys
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from .verdict import Outcome, Phrase, Verdict

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Schemas of the services that speak IRC.
IRC_SCHEMAS = frozenset({"irc", "ircs"})

#: Replies that say that a message reached nobody: no such nick, no such channel, cannot send to channel
#: (RFC 2812 section 5.2, from memory).
_OBJECTIONS = frozenset({401, 403, 404})


@contextmanager
def listening_to_replies(service: Any) -> Iterator[list[Verdict]]:  # noqa: ANN401 - the library has no types
    """Let the service's client tell what a server objects to.

    Parameters
    ----------
    service : apprise.NotifyBase
        Speaks IRC.

    Yields
    ------
    list of Verdict
        Filled during the send; empty if the server has taken the message.
    """
    plugin = sys.modules[type(service).__module__]
    client, parse = plugin.IRCClient, sys.modules[plugin.IRCClient.__module__].parse_irc_line
    failures: list[Verdict] = []

    class AttentiveClient(client):  # type: ignore[misc, valid-type]
        def privmsg(self, target: str, message: str, timeout: float) -> None:
            for line in filter(str.strip, message.splitlines()):
                self._queue(f"PRIVMSG {target} :{line}")
            self._queue("PING :alertd")
            deadline = time.monotonic() + float(timeout)
            self._flush(deadline)
            while (line := self._read(deadline)) is not None:
                reply = parse(line)
                if reply.command.upper() == "PONG":
                    return
                if reply.command.upper() == "PING":
                    self._write(line.replace("PING", "PONG", 1), deadline)
                if reply.numeric in _OBJECTIONS:
                    failures.append(Verdict(Outcome.REFUSED, Phrase.SERVICE_FAILED))
            failures.append(Verdict(Outcome.UNKNOWN, Phrase.TIMED_OUT))

    plugin.IRCClient = AttentiveClient  # type: ignore[attr-defined]
    try:
        yield failures
    finally:
        plugin.IRCClient = client  # type: ignore[attr-defined]
