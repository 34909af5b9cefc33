"""Servers that people really run, from Debian, each with its own temporary configuration on a free port of loopback."""

from __future__ import annotations

import os
import queue
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING, Self

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fakes.servers import free_port

if TYPE_CHECKING:
    from collections.abc import Callable

_PROGRAMS = f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/bin"

#: [s] What a slow machine is given to start a server.
_PATIENCE = 60.0


def program(name: str) -> str | None:
    """Return where a program is, or None."""
    return shutil.which(name, path=_PROGRAMS)


def install(*names: str) -> None:
    """Install Debian packages that are named like their programs, without starting their services; or skip the test."""
    missing = [name for name in names if program(name) is None]
    if not missing:
        return
    if os.geteuid() != 0 or program("apt-get") is None:
        pytest.skip(f"not installed, and this is not root on Debian: {', '.join(missing)}")
    policy = Path("/usr/sbin/policy-rc.d")
    is_ours = not policy.exists()
    if is_ours:
        policy.write_text("#!/bin/sh\nexit 101\n")
        policy.chmod(0o755)
    environment = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    try:
        for command in (["update", "-qq"], ["install", "-qq", "--yes", "--no-install-recommends", *missing]):
            done = subprocess.run(
                ["apt-get", *command], env=environment, capture_output=True, text=True, timeout=900, check=False
            )
            if done.returncode:
                pytest.skip(f"{', '.join(missing)} cannot be installed: {done.stderr.strip()[-200:]}")
    finally:
        if is_ours:
            policy.unlink()


class Authority:
    """A certificate authority of our own, with one certificate for 127.0.0.1, localhost and example.org."""

    def __init__(self, folder: Path) -> None:
        self.certificate = folder / "ca.pem"
        self.server_certificate = folder / "server.pem"
        self.server_key = folder / "server.key"
        names = folder / "names"
        names.write_text("subjectAltName=IP:127.0.0.1,DNS:localhost,DNS:example.org,DNS:mail.example.org\n")
        key, request = folder / "ca.key", folder / "server.csr"
        _openssl(
            "req",
            "-x509",
            "-newkey",
            "rsa:2048",
            "-nodes",
            "-days",
            "30",
            "-subj",
            "/CN=Test Authority",
            "-addext",
            "keyUsage=critical,keyCertSign",
            "-keyout",
            key,
            "-out",
            self.certificate,
        )
        _openssl(
            "req",
            "-newkey",
            "rsa:2048",
            "-nodes",
            "-subj",
            "/CN=localhost",
            "-keyout",
            self.server_key,
            "-out",
            request,
        )
        _openssl(
            "x509",
            "-req",
            "-in",
            request,
            "-CA",
            self.certificate,
            "-CAkey",
            key,
            "-CAcreateserial",
            "-days",
            "30",
            "-extfile",
            names,
            "-out",
            self.server_certificate,
        )
        self.server_key.chmod(0o644)  # servers give up root before they read it


def _openssl(*arguments: object) -> None:
    subprocess.run(["openssl", *map(str, arguments)], check=True, capture_output=True)


class Peer:
    """A server in a process of its own, which does not leave the foreground."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(mode=0o755)
        self.folder = folder
        self.port = free_port()
        self._process: subprocess.Popen[bytes] | None = None

    def command(self) -> list[str]:
        """Write the configuration and return how the server is started."""
        raise NotImplementedError

    def log(self) -> str:
        """Return all that the server has said."""
        return (self.folder / "log").read_text(errors="replace")

    def __enter__(self) -> Self:
        command = self.command()
        with (self.folder / "log").open("wb") as log:
            self._process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        try:
            assert self.waits_until(self._is_listening), self.log()
        except BaseException:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_failure: object) -> None:
        if self._process is not None:
            self._process.terminate()
            try:
                self._process.wait(10)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait()

    def freeze(self) -> None:
        """Let the server stand still."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)

    def thaw(self) -> None:
        """Let the server go on."""
        assert self._process is not None
        self._process.send_signal(signal.SIGCONT)

    def waits_until(self, condition: Callable[[], object], patience: float = _PATIENCE) -> bool:
        """Return whether something comes true before the server ends or patience does."""
        end = time.monotonic() + patience
        while not condition():
            if time.monotonic() > end or (self._process is not None and self._process.poll() is not None):
                return False
            time.sleep(0.05)
        return True

    def _is_listening(self) -> bool:
        try:
            socket.create_connection(("127.0.0.1", self.port), timeout=5).close()
        except ConnectionRefusedError:
            return False
        return True


class Mosquitto(Peer):
    """An MQTT broker; with a password it lets only ``ann`` in."""

    def __init__(self, folder: Path, password: str | None = None, authority: Authority | None = None) -> None:
        super().__init__(folder)
        self._password = password
        self._authority = authority

    def command(self) -> list[str]:
        """Return how it is started."""
        lines = [f"listener {self.port} 127.0.0.1", "persistence false", "log_dest stderr", "user root"]
        if self._password is None:
            lines.append("allow_anonymous true")
        else:
            passwords = self.folder / "passwords"
            passwords.touch(mode=0o600)
            subprocess.run(
                [str(program("mosquitto_passwd")), "-b", str(passwords), "ann", self._password],
                check=True,
                capture_output=True,
            )
            lines += ["allow_anonymous false", f"password_file {passwords}"]
        if self._authority is not None:
            lines += [f"certfile {self._authority.server_certificate}", f"keyfile {self._authority.server_key}"]
        (self.folder / "conf").write_text("\n".join(lines) + "\n")
        return [str(program("mosquitto")), "-c", str(self.folder / "conf")]


class MqttReader:
    """Somebody who has subscribed to a topic and hears what is published there."""

    def __init__(self, port: int, topic: str) -> None:
        import paho.mqtt.client as mqtt  # noqa: PLC0415 - an optional package
        from paho.mqtt.enums import CallbackAPIVersion  # noqa: PLC0415

        self._heard: queue.Queue[str] = queue.Queue()
        subscribed = threading.Event()
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2)
        self._client.on_message = lambda _client, _data, message: self._heard.put(message.payload.decode())
        self._client.on_subscribe = lambda *_arguments: subscribed.set()
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        self._client.subscribe(topic, qos=1)
        assert subscribed.wait(_PATIENCE)

    def hears(self) -> str:
        """Return the first message; wait for it."""
        return self._heard.get(timeout=_PATIENCE)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_failure: object) -> None:
        self._client.disconnect()
        self._client.loop_stop()


class Prosody(Peer):
    """An XMPP server for ``example.org`` with the people ann and ben; it keeps messages to those who are away."""

    def __init__(self, folder: Path, password: str, authority: Authority) -> None:
        super().__init__(folder)
        self._password = password
        self._authority = authority

    def command(self) -> list[str]:
        """Return how it is started."""
        certificate, key = self._authority.server_certificate, self._authority.server_key
        (self.folder / "data").mkdir()
        configuration = self.folder / "prosody.cfg.lua"
        configuration.write_text(f"""\
modules_enabled = {{ "roster"; "saslauth"; "tls"; "disco"; "ping"; "offline"; "posix" }}
modules_disabled = {{ "s2s" }}
run_as_root = true
daemonize = false
pidfile = "{self.folder}/pid"
data_path = "{self.folder}/data"
authentication = "internal_plain"
c2s_require_encryption = true
c2s_ports = {{ {self.port} }}
interfaces = {{ "127.0.0.1" }}
log = {{ debug = "*console" }}
VirtualHost "example.org"
    ssl = {{ certificate = "{certificate}"; key = "{key}" }}
""")
        for name in ("ann", "ben"):
            folder = self.folder / "data" / "example%2eorg" / "accounts"
            folder.mkdir(parents=True, exist_ok=True)
            (folder / f"{name}.dat").write_text(f'return {{ ["password"] = "{self._password}"; }};\n')
        return [str(program("prosody")), "--config", str(configuration)]

    def kept_for(self, name: str) -> str:
        """Return the messages that wait for somebody, as the server keeps them."""
        path = self.folder / "data" / "example%2eorg" / "offline" / f"{name}.list"
        return path.read_text() if path.exists() else ""


class Ngircd(Peer):
    """An IRC server."""

    def __init__(self, folder: Path, password: str = "") -> None:
        super().__init__(folder)
        self._password = password

    def command(self) -> list[str]:
        """Return how it is started."""
        configuration = self.folder / "ngircd.conf"
        configuration.write_text(f"""\
[Global]
Name = irc.example.org
Info = Test
Listen = 127.0.0.1
Ports = {self.port}
Password = {self._password}
ServerUID = root
ServerGID = root
MotdPhrase = Hello
[Options]
DNS = no
Ident = no
PAM = no
[Channel]
Name = #garden
""")
        return [str(program("ngircd")), "--nodaemon", "--config", str(configuration)]


class IrcReader:
    """Somebody who sits in an IRC channel and hears what is said there."""

    def __init__(self, port: int, nick: str = "ben", password: str = "") -> None:
        self._socket = socket.create_connection(("127.0.0.1", port), timeout=60)
        self._buffer = b""
        first = f"PASS {password}\r\n" if password else ""
        self._say(f"{first}NICK {nick}\r\nUSER {nick} 0 * :Ben\r\n")
        self.hears(" 001 ")
        self._say("JOIN #garden\r\n")
        self.hears(" 366 ")

    def hears(self, words: str) -> str:
        """Return the first line with these words; wait for it."""
        while True:
            line, found, rest = self._buffer.partition(b"\r\n")
            if not found:
                part = self._socket.recv(4096)
                assert part, "the server has hung up"
                self._buffer += part
                continue
            self._buffer = rest
            text = line.decode()
            if text.startswith("PING"):
                self._say(text.replace("PING", "PONG", 1) + "\r\n")
            if words in text:
                return text

    def _say(self, text: str) -> None:
        self._socket.sendall(text.encode())

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_failure: object) -> None:
        self._socket.close()
