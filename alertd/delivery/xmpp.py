"""Whether an XMPP server has really taken a message.

The library calls a send a success when the connection has ended and the password was not refused. So it takes a
certificate that is not trusted, or a server that goes away, for a success. Here the client also asks the server for a
sign of life after the message. Servers work through a stream in its order (RFC 6120 section 10.1, from memory), so any
answer to that question proves that the message was taken; and what comes back before it, like a recipient whom the
server does not know, is heard.
"""

from __future__ import annotations

import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from .verdict import Outcome, Phrase, Verdict, verdict_of_error

if TYPE_CHECKING:
    from collections.abc import Iterator

#: Schemas of the services that speak XMPP.
XMPP_SCHEMAS = frozenset({"xmpp", "xmpps"})

#: Kinds of error after which the same message may be taken later (RFC 6120 section 8.3.2, from memory).
_TEMPORARY = "wait"


class Conversation:
    """What was heard from the server during one send."""

    def __init__(self) -> None:
        self._failure: Verdict | None = None
        self._has_sent = False
        self._is_confirmed = False

    def note_message(self) -> None:
        """Note that the message was handed over to the connection."""
        self._has_sent = True

    def note_answer(self) -> None:
        """Note that the server has answered what it was asked after the message."""
        self._is_confirmed = self._has_sent

    def note_failure(self, verdict: Verdict) -> None:
        """Note what went wrong; the first failure is the cause of later ones."""
        self._failure = self._failure or verdict

    @property
    def verdict(self) -> Verdict | None:
        """Why the message cannot count as accepted, or None if it can, or if no cause is known."""
        if self._failure is not None:
            return self._failure
        if self._is_confirmed:
            return None
        if self._has_sent:
            return Verdict(Outcome.UNKNOWN, Phrase.CONNECTION_LOST)
        return Verdict(Outcome.UNAVAILABLE, Phrase.CONNECTION_LOST)


@contextmanager
def listening_to_server(service: Any, patience: float) -> Iterator[Conversation]:  # noqa: ANN401 - the library has no types
    """Let the service's client tell what it hears.

    Parameters
    ----------
    service : apprise.NotifyBase
        Speaks XMPP.
    patience : float
        How long to wait for the server's answer [s].

    Yields
    ------
    Conversation
        To be judged after the send.
    """
    conversation = Conversation()
    library = sys.modules[type(service).__module__.rpartition(".")[0] + ".adapter"].slixmpp
    before = library.ClientXMPP
    library.ClientXMPP = _attentive(before, conversation, patience)
    try:
        yield conversation
    finally:
        library.ClientXMPP = before


def _attentive(base: Any, conversation: Conversation, patience: float) -> Any:  # noqa: ANN401, C901 - a class that hangs on an optional package
    class AttentiveClient(base):  # type: ignore[misc]
        def __init__(self, *arguments: Any, **options: Any) -> None:  # noqa: ANN401 - passed through
            super().__init__(*arguments, **options)
            self.register_plugin("xep_0199")
            self.add_event_handler("connection_failed", self._note_connection)
            self.add_event_handler("failed_auth", self._note_login)
            self.add_event_handler("message_error", self._note_bounce)
            self._is_asking = False

        def send_message(self, *arguments: Any, **options: Any) -> None:  # noqa: ANN401 - passed through
            super().send_message(*arguments, **options)
            conversation.note_message()
            self._is_asking = True

        def disconnect(self, *arguments: Any, **options: Any) -> Any:  # noqa: ANN401 - passed through
            if not self._is_asking:
                return super().disconnect(*arguments, **options)
            self._is_asking = False
            return self.loop.create_task(self._ask_and_disconnect())

        async def _ask_and_disconnect(self) -> None:
            errors = sys.modules[f"{base.__module__.partition('.')[0]}.exceptions"]
            try:
                await self["xep_0199"].send_ping(self.boundjid.domain, timeout=patience)
            except errors.IqTimeout:
                conversation.note_failure(Verdict(Outcome.UNKNOWN, Phrase.TIMED_OUT))
            except errors.IqError:  # also an answer
                conversation.note_answer()
            else:
                conversation.note_answer()
            await super().disconnect()

        def _note_connection(self, problem: object) -> None:
            is_error = isinstance(problem, Exception)
            named = verdict_of_error(problem) if is_error else None  # type: ignore[arg-type]
            conversation.note_failure(named or Verdict(Outcome.UNAVAILABLE, Phrase.HOST_NOT_FOUND))

        def _note_login(self, _stanza: object) -> None:
            conversation.note_failure(Verdict(Outcome.REFUSED, Phrase.LOGIN))

        def _note_bounce(self, stanza: Any) -> None:  # noqa: ANN401 - the library's own type
            may_come_later = stanza["error"]["type"] == _TEMPORARY
            outcome = Outcome.UNAVAILABLE if may_come_later else Outcome.REFUSED
            conversation.note_failure(Verdict(outcome, Phrase.SERVICE_FAILED))

    return AttentiveClient
