"""One connection of a device that sends observations."""

from __future__ import annotations

import hmac
import json
import logging
import math
import time
from http import HTTPStatus
from typing import TYPE_CHECKING

from alertd.core import StoreError
from alertd.sources.small_connection import Listener, SmallConnection

from .push_body import Refused, observations_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from .keeping import KeepObservations
    from .push_settings import PushSettings
    from .rate import RateLimit

_logger = logging.getLogger(__name__)

#: Where observations are posted.
PATH = "/observations"


class DeviceListener(Listener):
    """What a connection needs to know of its server."""

    settings: PushSettings
    keep: KeepObservations
    clock: Callable[[], datetime]
    rate: RateLimit


class Connection(SmallConnection):
    """One request of one connection."""

    server: DeviceListener

    def do_POST(self) -> None:  # noqa: N802 - the name that the library calls
        """Take observations."""
        if self.path != PATH:
            self._answer(HTTPStatus.NOT_FOUND, f"there is only {PATH}")
            return
        wait = self.server.rate.wait(self.client_address[0], time.monotonic())
        if wait > 0.0:
            seconds = str(math.ceil(wait))
            self._answer(HTTPStatus.TOO_MANY_REQUESTS, f"wait {seconds} s", {"Retry-After": seconds})
        elif not self._has_token():
            text = "the token is missing or wrong; send the header Authorization: Bearer TOKEN"
            self._answer(HTTPStatus.UNAUTHORIZED, text, {"WWW-Authenticate": "Bearer"})
        else:
            self._take(self.headers.get_all("Content-Length", []))

    def _has_token(self) -> bool:
        scheme, _, token = (self.headers.get("Authorization") or "").partition(" ")
        given = token.strip().encode("utf-8", "replace")
        return hmac.compare_digest(given, self.server.settings.token.encode()) and scheme.lower() == "bearer"

    def _take(self, lengths: list[str]) -> None:
        if len(lengths) != 1 or not (lengths[0].isascii() and lengths[0].isdigit()):
            self._answer(HTTPStatus.BAD_REQUEST, "send the body's length as Content-Length")
            return
        largest = self.server.settings.largest_body
        digits = lengths[0].lstrip("0")
        if len(digits) > len(str(largest)) or int(digits or "0") > largest:
            self._answer(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, f"send at most {largest} bytes at once")
            return
        length = int(digits or "0")
        body = self.rfile.read(length)
        if len(body) < length:
            self._answer(HTTPStatus.BAD_REQUEST, "the body is shorter than its Content-Length")
            return
        self._keep(body)

    def _keep(self, body: bytes) -> None:
        server = self.server
        now = server.clock()
        try:
            observations = observations_of(body, now, server.settings.stations)
            kept = server.keep(observations, now)
        except Refused as error:
            self._answer(HTTPStatus.BAD_REQUEST, str(error))
        except StoreError as error:
            _logger.error("observations are not kept: %s", error)  # noqa: TRY400 - the text says it all
            self._answer(HTTPStatus.SERVICE_UNAVAILABLE, "the observations cannot be kept now; send them again later")
        else:
            self._write(HTTPStatus.OK, {"received": len(observations), "new": kept}, {})

    def _answer(self, status: HTTPStatus, error: str, headers: dict[str, str] | None = None) -> None:
        self._write(status, {"error": error}, headers or {})

    def _write(self, status: HTTPStatus, document: dict[str, object], headers: dict[str, str]) -> None:
        self.write(status, json.dumps(document).encode() + b"\n", "application/json", headers)

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """Answer what is no request for us, as the class above finds it, in one line of JSON."""
        del message, explain
        status = HTTPStatus(code)
        if status is HTTPStatus.NOT_IMPLEMENTED:
            self._answer(HTTPStatus.METHOD_NOT_ALLOWED, f"only POST {PATH} is understood", {"Allow": "POST"})
        else:
            self._answer(status, status.phrase.lower())
