"""A small Debian of its own for the long tests: its files, the program's packages, and booting it in a container."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

#: The checkout.
CHECKOUT = Path(__file__).parents[2]

#: [s] What slow machines and slow mirrors are given.
PATIENCE = 900.0

_PACKAGES = "systemd,systemd-sysv,dbus,python3,python3-venv,ca-certificates"
_PATH = "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin"


def need(**packages: str) -> None:
    """Have programs, by the Debian packages that bring them; install them as root, or skip and say what is missing."""
    if os.geteuid() != 0:
        pytest.skip("not root: systemd and images can only be tried by root")
    missing = {program: package for program, package in packages.items() if _which(program) is None}
    if not missing:
        return
    if shutil.which("apt-get") is None:
        pytest.skip(f"not installed, and no apt-get to install it: {', '.join(missing)}")
    environment = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    install = ["apt-get", "install", "--quiet", "--yes", "--no-install-recommends", *missing.values()]
    for command in (["apt-get", "update", "--quiet"], install):
        done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=PATIENCE, check=False)
        assert done.returncode == 0, done.stdout + done.stderr


def _which(program: str) -> str | None:
    return shutil.which(program.replace("_", "-"), path=f"{os.environ.get('PATH', '')}:/usr/sbin:/sbin")


def run(*command: str | Path, check: bool = True, **options: object) -> subprocess.CompletedProcess[str]:
    """Run a program; when it fails, its output is the message."""
    done = subprocess.run(
        [str(part) for part in command],
        capture_output=True,
        text=True,
        timeout=PATIENCE,
        check=False,
        stdin=subprocess.DEVNULL,
        **options,
    )
    assert not check or done.returncode == 0, f"{command}\n{done.stdout[-6000:]}\n{done.stderr[-6000:]}"
    return done


def make_debian(folder: Path) -> Path:
    """Return the root of a small Debian of this machine's release, made from this machine's own sources of packages."""
    release = dict(line.split("=", 1) for line in Path("/etc/os-release").read_text().splitlines() if "=" in line)
    if release.get("ID") != "debian":
        pytest.skip("this machine is no Debian, whose release and sources of packages the small one takes over")
    root = folder / "debian"
    include = f"--include={_PACKAGES}"
    run("mmdebstrap", "--quiet", "--variant=minbase", include, release["VERSION_CODENAME"].strip('"'), root)
    return root


def put_checkout(root: Path, place: str) -> None:
    """Put the files of the checkout that git knows or would know, as they are now, into a root."""
    listed = run("git", "-C", CHECKOUT, "ls-files", "-z", "--cached", "--others", "--exclude-standard").stdout
    for name in filter(None, listed.split("\0")):
        source, target = CHECKOUT / name, root / place.lstrip("/") / name
        if source.is_file():
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(source, target)


def put_packages(root: Path, place: str) -> None:
    """Put the pinned packages for the Python of a root into it; the network is used by this machine's pip alone."""
    ask = "import sys; print('.'.join(map(str, sys.version_info[:2])))"
    version = run("chroot", root, "python3", "-c", ask).stdout.strip()
    target = root / place.lstrip("/")
    options = ("--quiet", "--require-hashes", "--only-binary=:all:", f"--python-version={version}")
    pins = ("-r", CHECKOUT / "deploy" / "constraints.txt")
    run(sys.executable, "-m", "pip", "download", *options, *pins, "--dest", target, cwd=root)


class Machine:
    """A booted Debian."""

    def __init__(self, root: Path, process: subprocess.Popen[bytes], leader: int) -> None:
        self.root = root
        self._process = process
        self._leader = leader

    def run(self, *command: str, check: bool = True, folder: str = "/") -> subprocess.CompletedProcess[str]:
        """Run a program inside."""
        enter = ("nsenter", f"--target={self._leader}", "--mount", "--uts", "--ipc", "--pid", "--wd=/", "--")
        clean = ("env", "-i", f"--chdir={folder}", f"PATH={_PATH}", "HOME=/root", "LANG=C.UTF-8", "PIP_NO_INDEX=1")
        return run(*enter, *clean, "PIP_FIND_LINKS=/srv/packages", *command, check=check)

    def show(self, unit: str, name: str) -> str:
        """Return a property of a unit."""
        return self.run("systemctl", "show", f"--property={name}", "--value", unit).stdout.strip()

    def journal(self, unit: str) -> str:
        """Return the log of a unit."""
        return self.run("journalctl", "--unit", unit, "--no-pager", "--output=cat").stdout

    def path(self, inside: str) -> Path:
        """Return where a path inside is outside; links are not followed."""
        return self.root / inside.lstrip("/")


@contextmanager
def booted(root: Path) -> Iterator[Machine]:
    """Boot a root with systemd in a container; whatever happens, it is off afterwards."""
    if run("unshare", "--mount", "--pid", "--fork", "true", check=False).returncode != 0:
        pytest.skip("this machine lets nobody make containers, so systemd cannot be booted in one")
    console = root.parent / "console"
    command = ["systemd-nspawn", "--quiet", f"--directory={root}", "--machine=alertd-test", "--register=no"]
    command += ["--keep-unit", "--boot", "--console=pipe", "--resolv-conf=off", "--timezone=off"]
    with console.open("wb") as output:
        process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=output, stderr=output)
    leader = None
    try:
        leader = _wait_for_leader(process, console)
        machine = Machine(root, process, leader)
        assert wait_until(lambda: _has_started(machine), 120.0), console.read_text(errors="replace")
        yield machine
    finally:
        process.send_signal(signal.SIGTERM)  # an orderly end
        try:
            process.wait(60.0)
        except subprocess.TimeoutExpired:
            if leader is not None:
                os.kill(leader, signal.SIGKILL)
            process.kill()
            process.wait()


def _wait_for_leader(process: subprocess.Popen[bytes], console: Path) -> int:
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    assert wait_until(lambda: process.poll() is not None or children.read_text().split(), 60.0)
    assert process.poll() is None, console.read_text(errors="replace")
    return int(children.read_text().split()[0])


def _has_started(machine: Machine) -> bool:
    return machine.run("systemctl", "is-system-running", check=False).stdout.strip() in {"running", "degraded"}


def wait_until(condition, patience: float = 90.0) -> bool:
    """Return whether something comes true in time."""
    end = time.monotonic() + patience
    while not condition():
        if time.monotonic() > end:
            return False
        time.sleep(0.2)
    return True
