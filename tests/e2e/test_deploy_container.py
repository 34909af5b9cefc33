"""The image, built by buildah on a base of the test's own, and run as its user on a read-only root."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import textwrap
from contextlib import contextmanager
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.e2e.debian_support import CHECKOUT, need, put_checkout, run, wait_until
from tests.e2e.kill_support import HangingMailServer
from tests.fakes.garden_folder import GardenFolder

long = pytest.mark.long

CONTAINERFILE = CHECKOUT / "deploy" / "Containerfile"

#: Runs a command of the image as the image's user: its root read-only, its one volume and its configuration mounted.
_IN_IMAGE = textwrap.dedent("""\
    set -eu
    root=$1 state=$2 etc=$3 secrets=$4 user=$5 folder=$6; shift 6
    mount --make-rprivate /
    mount --bind "$root" "$root"
    mount -o remount,bind,ro "$root"
    mount --bind "$state" "$root/var/lib/alertd"
    mount --bind "$etc" "$root/etc/alertd"
    mount -t tmpfs tmpfs "$root/run"
    mkdir "$root/run/secrets"
    mount --bind "$secrets" "$root/run/secrets"
    mount -t proc proc "$root/proc"
    mount --rbind /dev "$root/dev"
    exec chroot "$root" setpriv --reuid="${user%:*}" --regid="${user#*:}" --clear-groups --no-new-privs \\
        --bounding-set=-all --inh-caps=-all -- env -i --chdir="$folder" "$@"
""")


class Image:
    """A built image, its files mounted, and what it says about itself."""

    def __init__(self, files: Path, config: dict, health: list[str]) -> None:
        self.files = files
        self.config = config
        self.health = health


@pytest.fixture(scope="module")
def image(debian, tmp_path_factory):
    need(buildah="buildah")
    folder = tmp_path_factory.mktemp("image")
    store = ("--root", folder / "store", "--runroot", folder / "run", "--storage-driver", "vfs")

    def buildah(*arguments: str | Path) -> str:
        return run("buildah", *store, *arguments).stdout.strip()

    try:
        base = buildah("from", "scratch")
        buildah("add", "--quiet", base, debian, "/")
        buildah("commit", "--quiet", base, "debian-python")
        context = folder / "context"
        put_checkout(folder, "context")
        pip = folder / "pip.conf"  # the packages lie in the base; nothing comes from the network
        pip.write_text("[global]\nno-index = true\nfind-links = /srv/packages\n")
        options = ["--isolation=chroot", "--format=docker", "--quiet", f"--volume={pip}:/etc/pip.conf:ro"]
        options += ["--build-arg=BASE=localhost/debian-python", f"--file={context / 'deploy' / 'Containerfile'}"]
        options += [f"--ignorefile={context / 'deploy' / 'Containerfile.dockerignore'}", "--tag=alertd"]
        buildah("build", *options, context)
        described = json.loads(buildah("inspect", "--type", "image", "localhost/alertd"))
        files = Path(buildah("mount", buildah("from", "--pull-never", "localhost/alertd")))
        (files / "etc/alertd").mkdir()  # as whoever runs images does for what is mounted there
        yield Image(files, described["OCIv1"]["config"], described["Docker"]["config"]["Healthcheck"]["Test"])
        buildah("unmount", "--all")
    finally:
        run("rm", "-rf", "--one-file-system", folder)


@pytest.fixture(scope="module")
def server():
    with HangingMailServer() as server:
        yield server


class House:
    """Folders that the image's user sees: configuration, secrets and the volume."""

    def __init__(self, folder: Path, image: Image, server: HangingMailServer) -> None:
        self.image = image
        address = f"mailto://127.0.0.1:{server.port}/?from=alertd@example.org&to=keeper@example.org"
        self.garden = GardenFolder(folder / "etc", address)
        self.garden.write_forecast(is_severe=True)
        text = self.garden.configuration.read_text()
        self.garden.configuration.write_text(text.replace('[state]\ndatabase = "alertd.sqlite"\n', ""))
        self.state, self.secrets = folder / "state", folder / "secrets"
        (self.garden.folder / "credentials").rename(self.secrets)
        self.state.mkdir(mode=0o700)
        user = image.config["User"].partition(":")[0]
        for path in (self.state, self.secrets, self.secrets / "way"):
            os.chown(path, int(user), int(user))

    def command(self, *arguments: str) -> list[str]:
        folders = (self.image.files, self.state, self.garden.folder, self.secrets)
        places = [str(folder) for folder in folders]
        config = self.image.config
        unshare = ["unshare", "--mount", "--pid", "--fork", "--kill-child=KILL", "sh", "-c", _IN_IMAGE, "sh", *places]
        return [*unshare, config["User"], config["WorkingDir"], *config["Env"], *arguments]

    def run(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return run(*self.command(*arguments), check=False)

    def alertd(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return self.run(*self.image.config["Entrypoint"], *arguments)

    @contextmanager
    def running(self, log: Path):
        """Run what the image runs by itself."""
        config = self.image.config
        with log.open("ab") as output:
            command = self.command(*config["Entrypoint"], *config["Cmd"])
            process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=output, stderr=output)
        try:
            yield process
        finally:
            process.kill()
            process.wait()


@pytest.fixture
def house(tmp_path, image, server):
    return House(tmp_path, image, server)


@long
def test_the_image_has_a_numeric_user_one_volume_and_a_health_check(image):
    user, _, group = image.config["User"].partition(":")
    assert int(user) > 0
    assert int(group) > 0
    assert list(image.config["Volumes"]) == ["/var/lib/alertd"]
    assert image.config["StopSignal"] == "SIGTERM"
    program, *arguments = image.health[1:]
    assert image.health[0] == "CMD"
    assert [program] == image.config["Entrypoint"]
    assert arguments == ["status", "--config", "/etc/alertd/alertd.toml", "--healthy"]


@long
def test_the_image_holds_what_runs_and_neither_the_checkout_nor_what_builds(image):
    site_packages = next((image.files / "opt/alertd/lib").glob("python3.*/site-packages"))
    assert (site_packages / "alertd").is_dir()
    assert not (site_packages / "hatchling").exists()
    assert not (site_packages / "pip").exists()
    assert not (image.files / "build").exists()


@long
def test_the_root_is_read_only_and_the_volume_is_not(house):
    refused = house.run("/bin/sh", "-c", "id -u; touch /opt/x /var/lib/alertd/x")
    assert refused.stdout == f"{house.image.config['User'].partition(':')[0]}\n", refused.stderr
    assert "'/opt/x': Read-only file system" in refused.stderr
    assert "alertd/x'" not in refused.stderr
    assert (house.state / "x").exists()


@long
def test_the_demo_plays_and_the_configuration_is_checked(house):
    played = house.alertd("demo", "--out", "/var/lib/alertd/demo")
    assert played.returncode == 0, played.stderr
    assert list((house.state / "demo").rglob("*.txt"))
    checked = house.alertd("check", "--config", "/etc/alertd/alertd.toml")
    assert checked.returncode == 0, checked.stdout + checked.stderr


@long
def test_the_daemon_sends_by_a_secret_that_was_handed_over_and_stops_in_order(house, server, tmp_path):
    log = tmp_path / "log"
    server.received.clear()
    with house.running(log) as process:
        assert wait_until(lambda: server.received), log.read_text()
        assert (house.state / "alertd.sqlite").is_file()
        (inside,) = Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()
        os.kill(int(inside), signal.SIGTERM)
        assert process.wait(40.0) == 0
    assert log.read_text().rstrip().endswith("INFO stopped")


@long
def test_the_health_check_tells_a_daemon_that_watches_from_one_that_does_not(house, server, tmp_path):
    if "--healthy" not in house.alertd("status", "--help").stdout:
        pytest.skip("this alertd has no `status --healthy` yet")
    check = house.image.health[1:]
    assert house.run(*check).returncode == 1
    server.received.clear()
    with house.running(tmp_path / "log"):
        assert wait_until(lambda: house.run(*check).returncode == 0), (tmp_path / "log").read_text()


def test_every_package_of_the_image_is_pinned_by_hash():
    text = CONTAINERFILE.read_text()
    installs = re.findall(r"pip install .*", text)
    assert len(installs) == 2
    assert all("--require-hashes" in each or "--no-deps --no-build-isolation ." in each for each in installs)


def test_the_compose_example_runs_the_image_with_as_little_as_it_needs():
    yaml = pytest.importorskip("yaml")
    composed = yaml.safe_load((CHECKOUT / "deploy" / "compose.yaml").read_text())
    service = composed["services"]["alertd"]
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]
    assert [mount for mount in service["volumes"] if not mount.endswith(":ro")] == ["state:/var/lib/alertd"]
    assert set(service["secrets"]) == set(composed["secrets"])
    build = service["build"]
    assert CHECKOUT / build["dockerfile"] == CONTAINERFILE
    assert (CHECKOUT / "deploy" / build["context"]).resolve() == CHECKOUT
