"""Real servers on loopback that answer as they are told: mail, webhook, and one that never speaks."""

from __future__ import annotations

import asyncio
import email
import email.policy
import socket
import ssl
import threading
import time
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import TYPE_CHECKING, Self

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult

if TYPE_CHECKING:
    from email.message import EmailMessage

#: A self-signed certificate for 127.0.0.1 and localhost, with its key, that nobody trusts.
UNTRUSTED_CERTIFICATE = Path(__file__).with_name("untrusted_certificate.pem")


def free_port() -> int:
    """Return a port on loopback that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def untrusted_tls() -> ssl.SSLContext:
    """Return a server context with the certificate that nobody trusts."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(UNTRUSTED_CERTIFICATE)
    return context


class MailServer:
    """An SMTP server that keeps what it accepts.

    ``recipient_answer`` and ``data_answer`` are its replies, ``data_pause`` [s] passes before the reply to DATA.
    """

    def __init__(
        self,
        *,
        recipient_answer: str = "250 OK",
        data_answer: str = "250 OK",
        data_pause: float = 0.0,
        password: str | None = None,
        tls: ssl.SSLContext | None = None,
    ) -> None:
        self.recipient_answer = recipient_answer
        self.data_answer = data_answer
        self.data_pause = data_pause
        self.received: list[EmailMessage] = []
        self.recipients: list[list[str]] = []
        self.passwords: list[str] = []
        self._password = password
        self.port = free_port()
        options = {} if password is None else {"authenticator": self._authenticate, "auth_require_tls": False}
        self._controller = Controller(self, hostname="127.0.0.1", port=self.port, tls_context=tls, **options)

    def _authenticate(self, _server, _session, _envelope, _mechanism, data) -> AuthResult:
        self.passwords.append(data.password.decode())
        return AuthResult(success=data.password.decode() == self._password, handled=False)

    async def handle_RCPT(self, _server, _session, envelope, address, _options) -> str:  # noqa: N802
        if self.recipient_answer.startswith("2"):
            envelope.rcpt_tos.append(address)
        return self.recipient_answer

    async def handle_DATA(self, server, _session, envelope) -> str:  # noqa: N802
        if self.data_pause:
            await _pause(self.data_pause, server)
        if self.data_answer.startswith("2"):
            self.recipients.append(list(envelope.rcpt_tos))
            self.received.append(email.message_from_bytes(envelope.content, policy=email.policy.default))
        return self.data_answer

    def __enter__(self) -> Self:
        self._controller.start()
        return self

    def __exit__(self, *_failure: object) -> None:
        self._controller.stop()


async def _pause(seconds: float, server) -> None:
    """Wait, but no longer than the client does."""
    end = time.monotonic() + seconds
    while time.monotonic() < end and server.transport is not None and not server.transport.is_closing():  # noqa: ASYNC110
        await asyncio.sleep(0.05)


@dataclass
class WebAnswer:
    """What a web server does with one request."""

    status: int = 200
    headers: dict[str, str] = field(default_factory=dict)
    body: bytes = b"ok"
    pause: float = 0.0  # [s] before the answer
    drip: float = 0.0  # [s] between two bytes of the body
    hang_up: bool = False  # close the connection without a word


@dataclass(frozen=True)
class WebRequest:
    """What a web server was asked."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes


class WebServer:
    """An HTTP server that gives one answer after the other, the last one for ever."""

    def __init__(self, *answers: WebAnswer, tls: ssl.SSLContext | None = None) -> None:
        self.answers = list(answers) or [WebAnswer()]
        self.requests: list[WebRequest] = []
        self._closing = threading.Event()
        self._lock = threading.Lock()
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self._server.daemon_threads = False
        if tls is not None:
            self._server.socket = tls.wrap_socket(self._server.socket, server_side=True, do_handshake_on_connect=False)
        self.port = self._server.server_address[1]
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.02})

    def _take(self, request: WebRequest) -> WebAnswer:
        with self._lock:
            self.requests.append(request)
            return self.answers.pop(0) if len(self.answers) > 1 else self.answers[0]

    def _handler(self) -> type[BaseHTTPRequestHandler]:  # noqa: C901 - a class in a function
        owner = self

        class Handler(BaseHTTPRequestHandler):
            def answer(self) -> None:
                body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
                answer = owner._take(WebRequest(self.command, self.path, dict(self.headers), body))
                owner._closing.wait(answer.pause)
                if answer.hang_up:
                    self.close_connection = True
                    return
                try:
                    self.give(answer)
                except OSError:  # the client has gone; some tests kill it
                    self.close_connection = True

            def give(self, answer: WebAnswer) -> None:
                self.send_response(answer.status)
                for name, value in answer.headers.items():
                    self.send_header(name, value)
                self.send_header("Content-Length", str(len(answer.body)))
                self.end_headers()
                if not answer.drip:
                    self.wfile.write(answer.body)
                    return
                for number in answer.body:
                    if owner._closing.wait(answer.drip):
                        return
                    self.wfile.write(bytes([number]))
                    self.wfile.flush()

            do_GET = do_POST = do_PUT = answer  # noqa: N815

            def log_message(self, *_arguments: object) -> None:
                """Stay silent."""

            def handle(self) -> None:
                try:
                    super().handle()
                except OSError:  # a handshake that the client broke off
                    self.close_connection = True

        return Handler

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_failure: object) -> None:
        self._closing.set()
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()


class SilentServer:
    """Takes connections and never says a word."""

    def __init__(self) -> None:
        self._socket = socket.create_server(("127.0.0.1", 0))
        self._socket.settimeout(0.05)
        self.port = self._socket.getsockname()[1]
        self._closing = threading.Event()
        self._thread = threading.Thread(target=self._take)
        self.connected = threading.Event()

    def _take(self) -> None:
        taken: list[socket.socket] = []
        while not self._closing.is_set():
            try:
                connection, _address = self._socket.accept()
            except TimeoutError:
                continue
            taken.append(connection)
            self.connected.set()
        for connection in taken:
            connection.close()

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_failure: object) -> None:
        self._closing.set()
        self._thread.join()
        self._socket.close()
