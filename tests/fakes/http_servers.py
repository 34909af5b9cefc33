"""A web server on loopback that misbehaves as it is told, and records every request.

::

    with HttpServer() as server:
        server.script("/forecast", Behaviour(status=500), json_answer({"ok": True}, {"Cache-Control": "max-age=60"}))
        server.script("/points", lambda seen: json_answer({"lat": seen.query["lat"]}))
        ... ask server.url + "/forecast" ...
        assert [seen.path for seen in server.seen] == ["/forecast", "/forecast"]

Each path has a list of behaviours, used one after the other, the last one for ever. A behaviour may be a function of
the request. Paths without a script get 404. The server closes the connection after each answer.
"""

from __future__ import annotations

import contextlib
import gzip
import http
import json
import socket
import socketserver
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Self
from urllib.parse import parse_qs, urlsplit

from requests.structures import CaseInsensitiveDict

if TYPE_CHECKING:
    import ssl

#: [bytes] Longest head of a request that the server takes.
LONGEST_HEAD = 65536


@dataclass(frozen=True)
class Seen:
    """One request as it came in."""

    method: str
    path: str  # without the query
    query: dict[str, str]  # the last value of each parameter
    headers: CaseInsensitiveDict[str]
    target: str  # path and query as sent
    at: float  # [s] monotonic clock when its head was complete
    ended: float | None = None  # [s] monotonic clock when it was answered or given up


@dataclass(frozen=True)
class Behaviour:
    """What the server does with one request."""

    status: int = 200
    body: bytes = b""
    headers: Mapping[str, str] = field(default_factory=dict)
    pause: float = 0.0  # [s] before the status line
    drip_head: float = 0.0  # [s] between two bytes of status line and headers
    drip_body: float = 0.0  # [s] between two bytes of the body
    chunked: bool = False  # no Content-Length, but chunks
    gzipped: bool = False  # compress the body, if the client accepts that
    claimed_length: int | None = None  # Content-Length, if not the true one; -1 sends none
    cut_after: int | None = None  # bytes of the body after which the connection is closed
    hang: bool = False  # take the request and never answer
    hang_up: bool = False  # close the connection without a word
    raw: bytes | None = None  # send exactly this instead of an answer
    raw_repeats: int = 1  # how often


Handler = Callable[[Seen], Behaviour]


def json_answer(document: object, headers: Mapping[str, str] | None = None, **options) -> Behaviour:
    """Return a behaviour that answers a JSON document; `options` are those of `Behaviour`."""
    named = {"Content-Type": "application/json", **(headers or {})}
    return Behaviour(body=json.dumps(document).encode(), headers=named, **options)


def conditional(behaviour: Behaviour) -> Handler:
    """Return a function that answers 304 to whoever holds the version of a behaviour's ETag or Last-Modified."""
    named = CaseInsensitiveDict(behaviour.headers)

    def answer(seen: Seen) -> Behaviour:
        has_etag = "ETag" in named and seen.headers.get("If-None-Match") == named["ETag"]
        has_time = "Last-Modified" in named and seen.headers.get("If-Modified-Since") == named["Last-Modified"]
        return replace(behaviour, status=304, body=b"") if has_etag or has_time else behaviour

    return answer


class HttpServer:
    """The server; `tls` makes it speak TLS, `address` may be another loopback address, `port` 0 is any free one."""

    def __init__(self, *, tls: ssl.SSLContext | None = None, address: str = "127.0.0.1", port: int = 0) -> None:
        self.seen: list[Seen] = []
        self.connections = 0
        self.most_at_once = 0
        self._at_once = 0
        self._scripts: dict[str, list[Behaviour | Handler]] = {}
        self._lock = threading.Lock()
        self._closing = threading.Event()
        self._server = _TcpServer((address, port), self._serve, tls)
        self.port: int = self._server.server_address[1]
        self.url = f"{'http' if tls is None else 'https'}://{address}:{self.port}"
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.02})

    def script(self, path: str, *behaviours: Behaviour | Handler) -> None:
        """Set what happens on a path, from the next request on."""
        with self._lock:
            self._scripts[path] = list(behaviours)

    def requests(self, path: str) -> list[Seen]:
        """Return the requests on a path."""
        with self._lock:
            return [seen for seen in self.seen if seen.path == path]

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_failure: object) -> None:
        self._closing.set()
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()

    def _take(self, seen: Seen) -> tuple[int, Behaviour]:
        with self._lock:
            self.seen.append(seen)
            index = len(self.seen) - 1
            script = self._scripts.get(seen.path)
            chosen = Behaviour(404, b"no script") if not script else script.pop(0) if len(script) > 1 else script[0]
        return index, chosen if isinstance(chosen, Behaviour) else chosen(seen)

    def _count(self, step: int) -> None:
        with self._lock:
            self.connections += max(step, 0)
            self._at_once += step
            self.most_at_once = max(self.most_at_once, self._at_once)

    def _serve(self, connection: socket.socket) -> None:
        self._count(+1)
        try:
            connection.settimeout(30.0)
            head = _read_head(connection)
            if not head:
                return
            index, behaviour = self._take(_parsed(head))
            try:
                self._give(connection, behaviour, self.seen[index])
            finally:
                with self._lock:
                    self.seen[index] = replace(self.seen[index], ended=time.monotonic())
        except OSError:  # the client has gone, or broke off the handshake
            pass
        finally:
            self._count(-1)

    def _give(self, connection: socket.socket, behaviour: Behaviour, seen: Seen) -> None:
        if behaviour.hang:
            self._wait_for_end(connection)
        if behaviour.hang or behaviour.hang_up or self._closing.wait(behaviour.pause):
            return
        if behaviour.raw is not None:
            for _repeat in range(behaviour.raw_repeats):
                connection.sendall(behaviour.raw)
            return
        head, body = _rendered(behaviour, seen)
        self._send(connection, head, behaviour.drip_head)
        self._send(connection, body, behaviour.drip_body)
        with contextlib.suppress(OSError):
            connection.shutdown(socket.SHUT_WR)

    def _wait_for_end(self, connection: socket.socket) -> None:
        """Return once the client has closed the connection, or the server ends."""
        connection.settimeout(0.05)
        while not self._closing.is_set():
            try:
                if not connection.recv(1024):
                    return
            except TimeoutError:
                continue

    def _send(self, connection: socket.socket, data: bytes, drip: float) -> None:
        if not drip:
            connection.sendall(data)
            return
        for number in data:
            connection.sendall(bytes([number]))
            if self._closing.wait(drip):
                return


class _TcpServer(socketserver.ThreadingTCPServer):
    daemon_threads = False
    allow_reuse_address = True
    request_queue_size = 64

    def __init__(self, address, serve, tls) -> None:
        self._serve = serve
        self._tls = tls
        super().__init__(address, socketserver.BaseRequestHandler)

    def finish_request(self, request, _client_address) -> None:
        if self._tls is None:
            self._serve(request)
            return
        with contextlib.suppress(OSError), self._tls.wrap_socket(request, server_side=True) as wrapped:
            self._serve(wrapped)


def _read_head(connection: socket.socket) -> bytes:
    """Return the head of a request, or nothing if the client leaves before its end."""
    head = b""
    while b"\r\n\r\n" not in head and len(head) < LONGEST_HEAD:
        part = connection.recv(4096)
        if not part:
            return b""
        head += part
    return head


def _parsed(head: bytes) -> Seen:
    first, *lines = head.partition(b"\r\n\r\n")[0].decode("latin-1").split("\r\n")
    method, target, _version = first.split(" ")
    pairs = [line.partition(":") for line in lines]
    headers = CaseInsensitiveDict({name: value.strip() for name, _colon, value in pairs})
    parts = urlsplit(target)
    query = {name: values[-1] for name, values in parse_qs(parts.query, keep_blank_values=True).items()}
    return Seen(method, parts.path, query, headers, target, time.monotonic())


def _rendered(behaviour: Behaviour, seen: Seen) -> tuple[bytes, bytes]:
    """Return head and body as they go over the wire."""
    named = {"Connection": "close", **behaviour.headers}
    body = behaviour.body
    if behaviour.gzipped and "gzip" in seen.headers.get("Accept-Encoding", ""):
        named["Content-Encoding"] = "gzip"
        body = gzip.compress(body)
    if behaviour.status == http.HTTPStatus.NOT_MODIFIED:
        body = b""
    elif behaviour.chunked:
        named["Transfer-Encoding"] = "chunked"
        body = b"".join(b"%x\r\n%s\r\n" % (len(part), part) for part in _parts(body)) + b"0\r\n\r\n"
    elif behaviour.claimed_length != -1:
        named["Content-Length"] = str(len(body) if behaviour.claimed_length is None else behaviour.claimed_length)
    try:
        phrase = http.HTTPStatus(behaviour.status).phrase
    except ValueError:
        phrase = "Unknown"
    lines = [f"HTTP/1.1 {behaviour.status} {phrase}", *(f"{name}: {value}" for name, value in named.items())]
    head = "\r\n".join([*lines, "", ""]).encode("latin-1")
    return head, body if behaviour.cut_after is None else body[: behaviour.cut_after]


def _parts(body: bytes) -> list[bytes]:
    size = max(len(body) // 3, 1)
    return [body[start : start + size] for start in range(0, len(body), size)]


def http_date(instant: datetime) -> str:
    """Return an instant in the form of HTTP headers."""
    return instant.astimezone(UTC).strftime("%a, %d %b %Y %H:%M:%S GMT")


class FullServer:
    """Listens, but its queue is full: whoever connects waits for ever."""

    def __init__(self) -> None:
        self._listening = socket.create_server(("127.0.0.1", 0), backlog=0)
        self.port: int = self._listening.getsockname()[1]
        self._waiting: list[socket.socket] = []

    def __enter__(self) -> Self:
        while True:
            client = socket.socket()
            client.settimeout(0.3)
            self._waiting.append(client)
            try:
                client.connect(("127.0.0.1", self.port))
            except TimeoutError:
                return self

    def __exit__(self, *_failure: object) -> None:
        for client in self._waiting:
            client.close()
        self._listening.close()
