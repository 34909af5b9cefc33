"""A mail and a web server in a process of their own, so that what they hold is not taken for memory of the program."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import asdict
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fakes.servers import MailServer, WebAnswer, WebServer


class ServersApart:
    """The servers, from the outside; to be closed."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, __file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        self.mail_port, self.web_port = self._told()

    def mail_is(self, **settings: object) -> None:
        """Set attributes of the mail server."""
        self._ask("mail", settings)

    def web_is(self, answer: WebAnswer) -> None:
        """Let the web server answer so from now on."""
        self._ask("web", {**asdict(answer), "body": answer.body.decode()})

    def received(self) -> tuple[list[str], list[str]]:
        """Return the references of all mails that were accepted, and of all web requests that were made."""
        mails, requests = self._ask("received", {})
        return mails, requests

    def close(self) -> None:
        """End them."""
        self._process.communicate(timeout=60.0)
        assert self._process.returncode == 0

    def _ask(self, what: str, settings: dict[str, object]) -> object:
        assert self._process.stdin is not None
        print(json.dumps([what, settings]), file=self._process.stdin, flush=True)
        return self._told()

    def _told(self) -> list:
        assert self._process.stdout is not None
        return json.loads(self._process.stdout.readline())


def main() -> None:
    """Serve, and do as standard input tells, until it ends."""
    with MailServer() as mail, WebServer() as web:
        print(json.dumps([mail.port, web.port]), flush=True)
        for line in sys.stdin:
            answer: list[list[str]] = []
            match json.loads(line):
                case ["mail", settings]:
                    for name, value in settings.items():
                        setattr(mail, name, value)
                case ["web", settings]:
                    web.answers = [WebAnswer(**{**settings, "body": settings["body"].encode()})]
                case ["received", _]:
                    answer = [
                        [each["X-Alertd-Reference"] for each in mail.received],
                        [each.headers["X-Alertd-Reference"] for each in web.requests],
                    ]
            print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
