"""Postfix, a mail server that people really run, started on a port of its own with everything of its own."""

from __future__ import annotations

import email
import email.policy
import os
import pwd
import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fakes.servers import free_port

if TYPE_CHECKING:
    from tests.fakes.peers import Authority

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

#: STARTTLS, without which no mail is taken.
ENCRYPTION = """\
smtpd_tls_security_level = encrypt
smtpd_tls_cert_file = {authority.server_certificate}
smtpd_tls_key_file = {authority.server_key}
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
tlsmgr    unix  - - n 1000? 1 tlsmgr
anvil     unix  - - n - 1 anvil
showq     unix  n - n - - showq
postlog   unix-dgram n - n - 1 postlogd
"""


def find_postfix() -> str | None:
    """Return where the program is, or None."""
    return shutil.which("postfix", path=f"{os.environ.get('PATH', '')}:/usr/sbin")


class Postfix:
    """One Postfix with everything of its own: configuration, queue, port, mailboxes."""

    def __init__(self, folder: Path, authority: Authority | None = None) -> None:
        self.folder = folder
        self.port = free_port()
        owner = pwd.getpwnam("postfix")
        folder.chmod(0o755)
        for name in ("config", "queue", "data", "mail"):
            (folder / name).mkdir()
        os.chown(folder / "data", owner.pw_uid, owner.pw_gid)
        os.chown(folder / "mail", owner.pw_uid, owner.pw_gid)
        values = {"folder": folder, "port": self.port, "uid": owner.pw_uid, "gid": owner.pw_gid}
        encryption = "" if authority is None else ENCRYPTION.format(authority=authority)
        (folder / "config" / "main.cf").write_text(MAIN.format(**values) + encryption)
        (folder / "config" / "master.cf").write_text(MASTER.format(**values))

    def command(self, word: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [str(find_postfix()), "-c", str(self.folder / "config"), word],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
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
