"""Mail through Postfix, a mail server that people really run, started here on a port of its own."""

from __future__ import annotations

import email
import email.policy
import os
import pwd
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path

import pytest

from alertd.delivery import Channel, Outcome, send

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fakes.letters import make_letter
from tests.fakes.servers import free_port

POSTFIX = shutil.which("postfix", path=f"{os.environ.get('PATH', '')}:/usr/sbin")

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(POSTFIX is None, reason="the program postfix is not installed"),
    pytest.mark.skipif(os.geteuid() != 0, reason="postfix can be started by root only"),
]

MAIN = """\
compatibility_level = 3.6
queue_directory = {folder}/queue
data_directory = {folder}/data
command_directory = /usr/sbin
daemon_directory = /usr/lib/postfix/sbin
mail_owner = postfix
setgid_group = postdrop
maillog_file = {folder}/log
maillog_file_prefixes = {folder}
inet_interfaces = 127.0.0.1
inet_protocols = ipv4
myhostname = mail.example.org
mydestination =
mynetworks =
alias_maps =
local_recipient_maps =
smtpd_relay_restrictions = reject_unauth_destination
smtpd_peername_lookup = no
virtual_mailbox_domains = example.org
virtual_mailbox_maps = inline:{{ {{ ann@example.org = ann/ }} }}
virtual_mailbox_base = {folder}/mail
virtual_minimum_uid = 1
virtual_uid_maps = static:{uid}
virtual_gid_maps = static:{gid}
"""

#: Services, none in a chroot: the mail server's own minimum for taking mail and putting it into a Maildir.
MASTER = """\
127.0.0.1:{port} inet n - n - - smtpd
pickup    unix  n - n 60 1 pickup
cleanup   unix  n - n - 0 cleanup
qmgr      unix  n - n 300 1 qmgr
rewrite   unix  - - n - - trivial-rewrite
bounce    unix  - - n - 0 bounce
defer     unix  - - n - 0 bounce
trace     unix  - - n - 0 bounce
verify    unix  - - n - 1 verify
flush     unix  n - n 1000? 0 flush
proxymap  unix  - - n - - proxymap
error     unix  - - n - - error
retry     unix  - - n - - error
virtual   unix  - n n - - virtual
anvil     unix  - - n - 1 anvil
showq     unix  n - n - - showq
postlog   unix-dgram n - n - 1 postlogd
"""


class Postfix:
    """One Postfix with everything of its own: configuration, queue, port, mailboxes."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port = free_port()
        owner = pwd.getpwnam("postfix")
        folder.chmod(0o755)
        for name in ("config", "queue", "data", "mail"):
            (folder / name).mkdir()
        os.chown(folder / "data", owner.pw_uid, owner.pw_gid)
        os.chown(folder / "mail", owner.pw_uid, owner.pw_gid)
        values = {"folder": folder, "port": self.port, "uid": owner.pw_uid, "gid": owner.pw_gid}
        (folder / "config" / "main.cf").write_text(MAIN.format(**values))
        (folder / "config" / "master.cf").write_text(MASTER.format(**values))

    def command(self, word: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [POSTFIX, "-c", str(self.folder / "config"), word], capture_output=True, text=True, timeout=60, check=False
        )

    def start(self) -> None:
        started = self.command("start")
        assert started.returncode == 0, started.stderr + self.log()
        for _ in range(200):
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=5).close()
            except ConnectionRefusedError:
                time.sleep(0.05)
            else:
                return
        pytest.fail(self.log())

    def log(self) -> str:
        path = self.folder / "log"
        return path.read_text() if path.exists() else ""

    def mails(self, number: int):
        """Return the mails in the mailbox once there are so many."""
        for _ in range(400):
            paths = sorted((self.folder / "mail" / "ann" / "new").glob("*"))
            if len(paths) >= number:
                return [email.message_from_bytes(path.read_bytes(), policy=email.policy.default) for path in paths]
            time.sleep(0.05)
        return pytest.fail(self.log())


@pytest.fixture(scope="module")
def postfix():
    folder = Path(tempfile.mkdtemp(prefix="alertd-postfix-"))
    server = Postfix(folder)
    try:
        server.start()
        yield server
    finally:
        server.command("stop")
        shutil.rmtree(folder)


def send_through(postfix, recipient, letter):
    url = f"mailto://127.0.0.1:{postfix.port}/?from=alertd@example.com&to={recipient}"
    return send(Channel("mail", url), letter, site_slug="north-garden", deadline=timedelta(seconds=20))


def test_a_mail_lands_in_the_mailbox_with_its_fields_and_both_forms(postfix):
    letter = make_letter(
        subject="Wrap 4 figs \N{EM DASH} start by 14:10",
        text="Wrap 4 figs.\n\n  expected   -11 \N{DEGREE SIGN}C\n.\nlast line\n",
        html="<html><body><p>Wrap 4 figs, -11 \N{DEGREE SIGN}C</p></body></html>",
        threads=("a7", "b2"),
    )
    result = send_through(postfix, "ann@example.org", letter)
    assert (result.outcome, result.reason) == (Outcome.ACCEPTED, "accepted by the channel")
    (mail,) = postfix.mails(1)
    assert mail["Subject"] == letter.subject
    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail["X-Alertd-Reference"] == "N7-1"
    assert mail["In-Reply-To"] == "<a7.north-garden@alertd.invalid>"
    assert mail["References"] == "<b2.north-garden@alertd.invalid> <a7.north-garden@alertd.invalid>"
    assert mail["Return-Path"] == "<alertd@example.com>"
    plain, html = mail.iter_parts()
    assert plain.get_content().rstrip("\n") == letter.text.rstrip("\n")
    assert html.get_content().rstrip("\n") == letter.html


def test_a_recipient_whom_the_server_does_not_know_is_refused(postfix):
    result = send_through(postfix, "nobody@example.org", make_letter())
    assert (result.outcome, result.reason) == (Outcome.REFUSED, "SMTP 550")


def test_mail_that_the_server_does_not_relay_is_refused(postfix):
    result = send_through(postfix, "ann@example.net", make_letter())
    assert (result.outcome, result.reason) == (Outcome.REFUSED, "SMTP 554")
