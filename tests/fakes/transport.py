"""A network that answers as it is told, for tests that must not open connections."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from requests.structures import CaseInsensitiveDict

from alertd.sources.transport import Reply, TransportFailure

if TYPE_CHECKING:
    from collections.abc import Callable

LOST = TransportFailure("lost the connection; it is asked again later", is_lost=True)
TOO_SLOW = TransportFailure("did not answer completely in time; it is asked again later")


def reply(status=200, body=b"good", **headers):
    """Return a reply; underscores in names of headers stand for hyphens."""
    return Reply(status, CaseInsensitiveDict({name.replace("_", "-"): value for name, value in headers.items()}), body)


@dataclass
class ScriptedTransport:
    """Gives one reply or failure after the other, the last one for ever."""

    script: list[Reply | TransportFailure] = field(default_factory=lambda: [reply()])
    asked: list[tuple[str, CaseInsensitiveDict]] = field(default_factory=list)
    on_asking: Callable[[], None] = lambda: None

    def get(self, url, headers, seconds):
        assert seconds > 0.0
        self.asked.append((url, CaseInsensitiveDict(headers)))
        self.on_asking()
        outcome = self.script.pop(0) if len(self.script) > 1 else self.script[0]
        if isinstance(outcome, TransportFailure):
            raise outcome.with_traceback(None)
        return outcome
