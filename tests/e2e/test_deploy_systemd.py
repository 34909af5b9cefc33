"""The service on a Debian of its own: systemd booted in a container, the unit with all its hardening, a whole life."""

from __future__ import annotations

import json
import os
import re
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.e2e.debian_support import booted, need, put_checkout, run, wait_until
from tests.e2e.kill_support import HangingMailServer
from tests.fakes.garden_folder import GardenFolder

pytestmark = pytest.mark.long

CHECKOUT = "/srv/alertd"
CONFIGURATION = "/etc/alertd/alertd.toml"


@pytest.fixture(scope="module")
def machine(debian, tmp_path_factory):
    need(systemd_nspawn="systemd-container")
    folder = tmp_path_factory.mktemp("machine")
    root = folder / "root"
    run("cp", "-a", debian, root)
    put_checkout(root, CHECKOUT)
    try:
        with booted(root) as machine:
            yield machine
    finally:
        run("rm", "-rf", "--one-file-system", root)


@pytest.fixture(scope="module")
def server():
    """A mail server of the test, which the container reaches on loopback."""
    with HangingMailServer() as server:
        yield server


@pytest.fixture(scope="module")
def garden(tmp_path_factory, server):
    address = f"mailto://127.0.0.1:{server.port}/?from=alertd@example.org&to=keeper@example.org"
    garden = GardenFolder(tmp_path_factory.mktemp("garden"), address)
    garden.write_forecast(is_severe=True)
    return garden


def install(machine, *options: str) -> str:
    return machine.run("sh", "deploy/install.sh", *options, folder=CHECKOUT).stdout


def configure(machine, text: str) -> None:
    """Put a configuration in place as the administrator would."""
    machine.path(CONFIGURATION).write_text(text)


def status(machine) -> str:
    return machine.show("alertd", "StatusText")


def pid(machine) -> int:
    return int(machine.show("alertd", "MainPID"))


def told(machine) -> dict:
    """Return what root is told of the service."""
    return json.loads(machine.run("alertd", "status", "--json").stdout)


def record(machine) -> int:
    """Return how many facts the audit log has."""
    return int(told(machine)["record"].partition(":")[0])


def restarts(machine) -> int:
    return int(machine.show("alertd", "NRestarts"))


# The tests below are one life, in this order: each goes on where the one before has ended.


def test_a_first_installation_starts_nothing_and_says_how_to_go_on(machine):
    told = install(machine)
    assert "systemctl enable --now alertd" in told
    assert machine.show("alertd", "ActiveState") == "inactive"
    modes = machine.run("stat", "--format=%a %U %n", CONFIGURATION, "/etc/alertd/credentials").stdout.splitlines()
    assert modes == [f"644 root {CONFIGURATION}", "700 root /etc/alertd/credentials"]
    checked = machine.run("alertd", "check", check=False)
    assert "Traceback" not in checked.stderr
    assert machine.run("systemd-analyze", "verify", "--man=no", "alertd.service").stderr == ""


def test_installing_the_same_again_changes_nothing(machine):
    configure(machine, "# mine\n" + machine.path(CONFIGURATION).read_text())
    before = machine.run("find", "/opt/alertd", "/etc/alertd", "-printf", "%p %i %T@\\n").stdout
    assert "This version is there already" in install(machine)
    after = machine.run("find", "/opt/alertd", "/etc/alertd", "-printf", "%p %i %T@\\n").stdout
    ignored = re.compile(r"^/opt/alertd(/current)? .*$", re.MULTILINE)  # the link is put in place anew
    assert ignored.sub("", after) == ignored.sub("", before)


def test_it_starts_under_full_hardening_and_a_mail_goes_out(machine, garden, server):
    configure(machine, garden.configuration.read_text().replace('[state]\ndatabase = "alertd.sqlite"\n', ""))
    machine.path("/etc/alertd/forecast.csv").write_text(garden.forecast.read_text())
    credential = machine.path("/etc/alertd/credentials/way")
    credential.write_text(garden.channel_url)
    credential.chmod(0o600)
    machine.run("systemctl", "enable", "--now", "alertd")
    assert machine.show("alertd", "SubState") == "running"
    assert wait_until(lambda: server.received), machine.journal("alertd")
    assert wait_until(lambda: re.fullmatch(r"Watching 1 group, next look \d\d:\d\d, 1 alert open", status(machine)))
    assert len(told(machine)["open_alerts"]) == 1


def test_it_is_a_user_of_its_own_that_can_write_nothing_but_its_state(machine):
    uid = machine.run("stat", "--format=%u", f"/proc/{pid(machine)}").stdout.strip()
    assert 61184 <= int(uid) <= 65519  # systemd's range for users that exist only while they are needed
    process = machine.run("cat", f"/proc/{pid(machine)}/status").stdout
    assert re.search(r"^CapBnd:\t0+$", process, re.MULTILINE)
    assert re.search(r"^NoNewPrivs:\t1$", process, re.MULTILINE)
    assert re.search(r"^Seccomp:\t2$", process, re.MULTILINE)
    inside = ("nsenter", f"--target={pid(machine)}", "--mount", "--setuid", uid, "--setgid", uid)
    for place in ("/etc/alertd/x", "/opt/alertd/x", "/usr/x", "/root/x"):
        assert machine.run(*inside, "touch", place, check=False).returncode != 0
    machine.run(*inside, "touch", "/var/lib/alertd/x")
    assert machine.run("stat", "--format=%a", "/var/lib/private/alertd").stdout == "700\n"
    credentials = machine.run(*inside, "ls", "/run/credentials/alertd.service").stdout.split()
    assert credentials == ["alertd_way"]


def test_a_report_by_root_reaches_the_database_of_the_service(machine):
    machine.run("alertd", "mark", "pots", "in-place")
    assert told(machine)["groups"] == {"pots": "in-place"}
    before = record(machine)
    assert wait_until(lambda: record(machine) > before), machine.journal("alertd")  # the service still writes it
    assert machine.run("alertd", "audit", "verify").returncode == 0
    assert not machine.path("/etc/alertd/alertd.sqlite").exists()


def test_a_good_reload_is_used_and_a_bad_one_is_refused_whole(machine):
    text = machine.path(CONFIGURATION).read_text()
    before = pid(machine)
    second = '\n[[groups]]\nid = "wall"\nname = "the wall"\ngrowing = "in_ground"\ncount = 2\nspecies = "fig"\n'
    better = text + second + 'class = "fig"\nprotection = "wrap"\n'
    configure(machine, better)
    machine.run("systemctl", "reload", "alertd")
    assert wait_until(lambda: status(machine).startswith("Watching 2 groups, ")), machine.journal("alertd")
    configure(machine, better.replace("latitude = 41.2", "latitude = 141.2"))
    machine.run("systemctl", "reload", "alertd")
    assert wait_until(lambda: "; a changed configuration is refused: site.latitude: " in status(machine))
    assert status(machine).startswith("Watching 2 groups, ")
    assert machine.show("alertd", "ActiveState") == "active"
    assert "the one before stays in use: site.latitude: " in machine.journal("alertd")
    configure(machine, text)
    machine.run("systemctl", "reload", "alertd")
    assert wait_until(lambda: re.fullmatch(r"Watching 1 group, [^;]*", status(machine))), status(machine)
    assert (pid(machine), restarts(machine)) == (before, 0)


def test_a_daemon_that_hangs_is_killed_by_the_watchdog_and_started_again(machine):
    machine.path("/etc/systemd/system/alertd.service.d").mkdir()
    quicker = "[Service]\nWatchdogSec=3\nRestartSec=1\nTimeoutAbortSec=5\n"
    machine.path("/etc/systemd/system/alertd.service.d/quicker.conf").write_text(quicker)
    machine.run("systemctl", "daemon-reload")
    machine.run("systemctl", "restart", "alertd")
    hung = pid(machine)
    assert restarts(machine) == 0
    machine.run("sleep", "8")  # more than twice the silence that is allowed: it is well, so nothing happens
    assert (pid(machine), restarts(machine)) == (hung, 0)
    machine.run("sh", "-c", f"kill -STOP {hung}")
    assert wait_until(lambda: restarts(machine) == 1), machine.journal("alertd")
    assert wait_until(lambda: status(machine).startswith("Watching 1 group"))
    assert pid(machine) != hung
    assert "Watchdog timeout" in machine.journal("alertd")
    assert machine.run("alertd", "audit", "verify").returncode == 0


def test_a_stop_is_orderly_and_state_is_kept_over_it(machine):
    before = told(machine)
    assert before["outbox"]["accepted"] > 0
    machine.run("systemctl", "stop", "alertd")
    assert machine.show("alertd", "Result") == "success"
    machine.run("systemctl", "start", "alertd")
    assert wait_until(lambda: "next look" in status(machine))
    after = told(machine)
    assert (after["outbox"], after["groups"]) == (before["outbox"], before["groups"])
    assert len(after["open_alerts"]) == len(before["open_alerts"])


def test_an_upgrade_takes_the_place_of_the_old_version_and_restarts(machine):
    before, old = pid(machine), str(machine.path("/opt/alertd/current").readlink())
    module = machine.path(f"{CHECKOUT}/alertd/__init__.py")
    module.write_text(re.sub(r'__version__ = ".*"', '__version__ = "99.1.0"', module.read_text()))
    assert "alertd runs: Watching 1 group" in install(machine)
    assert pid(machine) != before
    new = str(machine.path("/opt/alertd/current").readlink())
    assert new != old
    assert [f"/opt/alertd/{name.name}" for name in machine.path("/opt/alertd").glob("release-*")] == [new]
    assert "alertd 99.1.0 watches Hollow Lane" in machine.journal("alertd")
    assert machine.path(CONFIGURATION).read_text().startswith('units = "Cel"')


def test_an_upgrade_that_does_not_start_goes_back_to_the_version_before(machine):
    old = str(machine.path("/opt/alertd/current").readlink())
    module = machine.path(f"{CHECKOUT}/alertd/service/daemon.py")
    good = module.read_text()
    module.write_text(good.replace('"""The daemon: ', 'raise SystemExit(3)\n"""The daemon: ', 1))
    result = machine.run("sh", "deploy/install.sh", check=False, folder=CHECKOUT)
    module.write_text(good)
    assert result.returncode == 1
    assert "the new version did not start, and the one before runs again" in result.stderr
    assert str(machine.path("/opt/alertd/current").readlink()) == old
    assert wait_until(lambda: status(machine).startswith("Watching 1 group"))


def test_uninstalling_keeps_configuration_and_state_and_purging_keeps_nothing(machine):
    install(machine, "--uninstall")
    assert machine.run("systemctl", "cat", "alertd", check=False).returncode != 0
    for gone in ("/opt/alertd", "/usr/local/bin/alertd", "/etc/systemd/system/alertd.service"):
        assert not os.path.lexists(machine.path(gone))
    for kept in (CONFIGURATION, "/etc/alertd/credentials/way", "/var/lib/private/alertd/alertd.sqlite"):
        assert machine.path(kept).is_file()
    install(machine, "--uninstall")  # once more does no harm
    install(machine, "--purge")
    for gone in ("/etc/alertd", "/var/lib/alertd", "/var/lib/private/alertd"):
        assert not os.path.lexists(machine.path(gone))
