"""Whether an MQTT broker has really taken a message.

By default the library asks for no acknowledgement, and then calls a message that was written into a connection a
success, also where the broker stands still. So an acknowledgement is always asked for, and a broker that does not let
the client in is heard at once.
"""

from __future__ import annotations

from typing import Any

from .verdict import Outcome, Phrase, Verdict

#: Schemas of the services that speak MQTT.
MQTT_SCHEMAS = frozenset({"mqtt", "mqtts"})

#: Quality of service from which on a broker acknowledges a message (MQTT 3.1.1 section 4.3, from memory).
_ACKNOWLEDGED = 1

#: Names that the client library gives to codes of a refused login (MQTT 5 section 3.2.2.2, from memory).
_LOGIN = frozenset({"Bad user name or password", "Not authorized", "Client identifier not valid", "Banned"})


class BrokerListener:
    """Hears what a broker answers during one send.

    Parameters
    ----------
    service : apprise.NotifyBase
        Speaks MQTT; it is made to ask for an acknowledgement.
    """

    def __init__(self, service: Any) -> None:  # noqa: ANN401 - the library has no types
        self._service = service
        self._failure: Verdict | None = None
        self._is_connected = False
        self._is_confirmed = False
        service.qos = max(service.qos, _ACKNOWLEDGED)
        service.client.on_connect = self._note_connection
        service.client.on_publish = self._note_acknowledgement

    @property
    def verdict(self) -> Verdict | None:
        """Why the message cannot count as accepted; None if the broker has acknowledged it, or was not reached."""
        if self._failure is not None:
            return self._failure
        if self._is_connected and not self._is_confirmed:
            return Verdict(Outcome.UNKNOWN, Phrase.TIMED_OUT)
        return None

    def _note_connection(self, _client: Any, _data: Any, _flags: Any, code: Any, _more: Any) -> None:  # noqa: ANN401
        if not code.is_failure:
            self._is_connected = True
            return
        is_login = str(code) in _LOGIN
        self._failure = (
            Verdict(Outcome.REFUSED, Phrase.LOGIN) if is_login else Verdict(Outcome.UNAVAILABLE, Phrase.SERVICE_FAILED)
        )
        self._service.socket_read_timeout = 0.0  # what the library waits for will not come

    def _note_acknowledgement(self, _client: Any, _data: Any, _number: Any, code: Any, _more: Any) -> None:  # noqa: ANN401
        if code.is_failure:
            self._failure = Verdict(Outcome.REFUSED, Phrase.SERVICE_FAILED)
        self._is_confirmed = True
