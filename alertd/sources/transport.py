"""One GET over the network: bounded in time and size, within one host, without a memory."""

from __future__ import annotations

import http
import http.client
import logging
import ssl
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol
from urllib.parse import urljoin, urlsplit

import requests
import urllib3
from requests.adapters import HTTPAdapter
from requests.utils import get_environ_proxies

from .deadline import Deadline, LookUpFailed

if TYPE_CHECKING:
    import socket
    from collections.abc import Iterator, Mapping

# Warnings of this library hold whole URLs, and with them keys; what matters is told by `TransportFailure`.
logging.getLogger("urllib3").setLevel(logging.CRITICAL)

#: Longest chain of redirects that is followed: services redirect once for decimals and once for a new path. Assumed.
LONGEST_CHAIN = 3

#: [bytes] What is kept of the body of a failing answer: enough for every reason on record. Assumed.
LONGEST_REASON = 64 * 1024

#: [bytes] Read at a time.
_PART = 64 * 1024

_GOOD = (http.HTTPStatus.OK, http.HTTPStatus.NON_AUTHORITATIVE_INFORMATION)
_REDIRECTS = (301, 302, 303, 307, 308)
_PORTS = {"http": 80, "https": 443}

#: What a library may raise when a server or the network misbehaves.
_NETWORK_ERRORS = (
    OSError,
    EOFError,
    ValueError,
    zlib.error,
    http.client.HTTPException,
    urllib3.exceptions.HTTPError,
    requests.RequestException,
)


_LEADS_AWAY = "redirects to another host, which is not followed; check base_url"

_TOO_SLOW = "did not answer completely in time; it is asked again later"

#: What errors mean, and whether a second try may help; the first that fits counts.
_MEANINGS: tuple[tuple[tuple[type[BaseException], ...], str, bool], ...] = (
    (
        (LookUpFailed,),
        "is a name that cannot be looked up; check base_url and the network of this machine",
        False,
    ),
    ((TimeoutError, requests.Timeout), _TOO_SLOW, False),
    (
        (ssl.SSLCertVerificationError,),
        "has a TLS certificate that is not trusted; check base_url and the clock of this machine",
        False,
    ),
    ((ConnectionRefusedError,), "refuses connections; it is asked again later, check base_url", True),
    (
        (EOFError, http.client.IncompleteRead, urllib3.exceptions.IncompleteRead),
        "broke off in the middle of its answer; it is asked again later",
        True,
    ),
    ((zlib.error,), "sends a body that cannot be unpacked; it is asked again later", False),
    (
        (urllib3.exceptions.InvalidHeader,),
        "sends headers that contradict each other; it is asked again later",
        False,
    ),
    (
        (requests.exceptions.InvalidHeader,),
        "cannot be asked with such headers; check the contact and the keys",
        False,
    ),
)


class TransportFailure(Exception):
    """No usable answer came.

    Parameters
    ----------
    reason : str
        One phrase for a person, without the host: what, and how to mend it.
    is_lost : bool
        Whether the connection was lost or refused, so that a second try may help.
    """

    def __init__(self, reason: str, *, is_lost: bool = False) -> None:
        super().__init__(reason)
        self.reason = reason
        self.is_lost = is_lost


@dataclass(frozen=True, slots=True)
class Reply:
    """What a server answered.

    Parameters
    ----------
    status : int
        HTTP status, never a redirect that was followed.
    headers : mapping of str to str
        Names in any case.
    body : bytes
        Decompressed. Of a failing status only the start, as far as it came.
    """

    status: int
    headers: Mapping[str, str]
    body: bytes


class Transport(Protocol):
    """Something that performs one GET."""

    def get(self, url: str, headers: Mapping[str, str], seconds: float) -> Reply:
        """Ask once.

        Parameters
        ----------
        url : str
            With query.
        headers : mapping of str to str
            All that are sent, besides those of the connection.
        seconds : float
            [s] Hard limit.

        Returns
        -------
        Reply
            Of whatever status.

        Raises
        ------
        TransportFailure
            If there is none.
        """
        ...


class WebTransport:
    """GET by HTTP/1.1, each on a connection of its own; no cookies, no netrc, no redirect to another host.

    Parameters
    ----------
    max_bytes : int
        [bytes] Longest body, decompressed.
    proxies_from_environment : bool
        Whether ``HTTPS_PROXY`` and its like are used.
    """

    def __init__(self, max_bytes: int, *, proxies_from_environment: bool = False) -> None:
        self._max_bytes = max_bytes
        self._proxies_from_environment = proxies_from_environment

    def get(self, url: str, headers: Mapping[str, str], seconds: float) -> Reply:
        """Ask once, and follow at most `LONGEST_CHAIN` redirects; see `Transport.get`."""
        with Deadline(seconds) as deadline:
            for _redirect in range(LONGEST_CHAIN + 1):
                reply = self._get_once(url, headers, deadline)
                if reply.status not in _REDIRECTS or "Location" not in reply.headers:
                    return reply
                url = _next_url(url, reply.headers["Location"])
        message = f"redirects more than {LONGEST_CHAIN} times; check base_url"
        raise TransportFailure(message)

    def _get_once(self, url: str, headers: Mapping[str, str], deadline: Deadline) -> Reply:
        try:
            with requests.Session() as session:
                session.trust_env = False
                session.headers.clear()
                for scheme in ("http://", "https://"):
                    session.mount(scheme, _BoundedAdapter(deadline))
                proxies = get_environ_proxies(url) if self._proxies_from_environment else {}
                time_limit = max(deadline.left, 0.001)
                with session.get(
                    url,
                    headers={**headers, "Accept-Encoding": "gzip", "Connection": "close"},
                    allow_redirects=False,
                    stream=True,
                    timeout=(time_limit, time_limit),
                    proxies=proxies,
                ) as response:
                    body = self._body(response, deadline)
                    return Reply(response.status_code, response.headers, body)
        except _NETWORK_ERRORS as error:
            failure = _failure(error, deadline)
        raise failure  # outside: the errors of libraries hold URLs, and with them keys

    def _body(self, response: requests.Response, deadline: Deadline) -> bytes:
        """Return the decompressed body; of a failing status whatever came of it."""
        is_good = response.status_code in _GOOD
        most = self._max_bytes if is_good else LONGEST_REASON
        body = bytearray()
        try:
            for part in _decompressed(response, most):
                body += part
                if len(body) > most:
                    break
        except (*_NETWORK_ERRORS, TransportFailure):
            if is_good:
                raise
        if not is_good:
            return bytes(body[:most])
        if deadline.is_over:
            raise TimeoutError
        if len(body) > most:
            message = f"sends more than {most / 1e6:.1f} MB; check base_url and what is asked"
            raise TransportFailure(message)
        return bytes(body)


class _BoundedAdapter(HTTPAdapter):
    """Opens its connections under a deadline, and never tries twice by itself."""

    def __init__(self, deadline: Deadline) -> None:
        self._bounded = _bounded_pools(deadline)
        super().__init__(max_retries=0)

    def init_poolmanager(self, *arguments: Any, **named: Any) -> None:  # noqa: ANN401 - as in the base class
        super().init_poolmanager(*arguments, **named)
        self.poolmanager.pool_classes_by_scheme = self._bounded

    def proxy_manager_for(self, proxy: Any, **named: Any) -> Any:  # noqa: ANN401 - as in the base class
        manager = super().proxy_manager_for(proxy, **named)
        manager.pool_classes_by_scheme = self._bounded
        return manager


def _bounded_pools(deadline: Deadline) -> dict[str, type[urllib3.HTTPConnectionPool]]:
    """Return pool classes whose connections are opened under a deadline."""

    class PlainConnection(urllib3.connection.HTTPConnection):
        def _new_conn(self) -> socket.socket:
            return deadline.connect(self._dns_host, self.port, self.socket_options or ())

    class SecureConnection(urllib3.connection.HTTPSConnection):
        def _new_conn(self) -> socket.socket:
            return deadline.connect(self._dns_host, self.port, self.socket_options or ())

    class PlainPool(urllib3.HTTPConnectionPool):
        ConnectionCls = PlainConnection

    class SecurePool(urllib3.HTTPSConnectionPool):
        ConnectionCls = SecureConnection

    return {"http": PlainPool, "https": SecurePool}


def _decompressed(response: requests.Response, most: int) -> Iterator[bytes]:
    """Yield the body in parts of which none is much longer than what was read, however well it was compressed."""
    encoding = response.headers.get("Content-Encoding", "identity").strip().lower()
    raw = response.raw.stream(_PART, decode_content=False)
    if encoding in {"", "identity"}:
        yield from raw
        return
    if encoding not in {"gzip", "x-gzip"}:
        message = "compresses its answer in a way that was not asked for; check any proxy in between"
        raise TransportFailure(message)
    unpacker = zlib.decompressobj(wbits=31)
    for packed in raw:
        data = packed
        while data and not unpacker.eof:
            yield unpacker.decompress(data, most + 1)
            data = unpacker.unconsumed_tail
    if not unpacker.eof:
        raise EOFError


def _next_url(url: str, location: str) -> str:
    """Return where a redirect leads, if that may be followed."""
    try:
        target = urljoin(url, location)
        old, new = urlsplit(url), urlsplit(target)
        old_port, new_port = old.port or _PORTS[old.scheme], new.port or _PORTS.get(new.scheme)
    except ValueError:  # an address that is none
        raise TransportFailure(_LEADS_AWAY) from None
    is_same = new_port == old_port and new.scheme == old.scheme
    is_upgrade = old.scheme == "http" and new.scheme == "https" and new_port in {old_port, _PORTS["https"]}
    if new.hostname != old.hostname or "@" in new.netloc or not (is_same or is_upgrade):
        raise TransportFailure(_LEADS_AWAY)
    return target


def _failure(error: Exception, deadline: Deadline) -> TransportFailure:
    """Return what an error of the network means to a person. Texts of libraries are not used: they hold URLs."""
    chain = _chain(error)
    if deadline.is_over and not any(isinstance(cause, LookUpFailed) for cause in chain):
        return TransportFailure(_TOO_SLOW)
    for kinds, reason, is_lost in _MEANINGS:
        if any(isinstance(cause, kinds) for cause in chain):
            return TransportFailure(reason, is_lost=is_lost)
    return TransportFailure("lost the connection; it is asked again later, check this machine's network", is_lost=True)


def _chain(error: BaseException) -> list[BaseException]:
    """Return an error, its causes, and errors among its arguments."""
    found: list[BaseException] = []
    waiting: list[BaseException | None] = [error]
    while waiting:
        current = waiting.pop()
        if current is None or any(current is known for known in found):
            continue
        found.append(current)
        waiting += [current.__cause__, current.__context__]
        waiting += [argument for argument in current.args if isinstance(argument, BaseException)]
        reason = getattr(current, "reason", None)
        if isinstance(reason, BaseException):
            waiting.append(reason)
    return found
