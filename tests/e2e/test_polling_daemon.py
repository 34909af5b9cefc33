"""The installed program polls local servers for all public services, and a file, until they are killed."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from datetime import timedelta

import pytest

from alertd.store import Store
from tests.fakes.local_services import CREDITS, NAMES, LocalServices, present

pytestmark = pytest.mark.slow

#: How old a forecast may be, and for how long those that are asked for here are not yet too old. An answer is not asked
#: for again within a minute, so that services go stale together, and the file keeps the watch seeing until it is gone.
STALE_AFTER, LEFT = timedelta(hours=1), timedelta(seconds=15)

#: [s] What a slow machine is given.
PATIENCE = 90.0


class Garden:
    """What the program reads, says and remembers."""

    def __init__(self, folder):
        self.folder = folder
        self.configuration = folder / "alertd.toml"

    def letters(self):
        """Texts of all letters, each on one line."""
        return [" ".join(path.read_text(encoding="utf-8").split()) for path in (self.folder / "letters").glob("*.txt")]

    def letters_with(self, words):
        return [text for text in self.letters() if words in text]

    def evaluations(self):
        with Store.open(self.folder / "alertd.sqlite") as store:
            return sum(row.kind == "evaluation" for row in store.audit_rows())

    def observations(self):
        """Stations of all that was observed."""
        with Store.open(self.folder / "alertd.sqlite") as store:
            return [observation.station for observation in store.recent_observations(present())]

    def log(self):
        return (self.folder / "log").read_text(encoding="utf-8")


@pytest.fixture
def garden(tmp_path):
    return Garden(tmp_path)


@pytest.fixture
def services(tmp_path):
    with LocalServices(tmp_path, present, STALE_AFTER - LEFT) as running:
        yield running


@contextmanager
def running(garden):
    """Run the installed program; whatever happens, it has ended afterwards."""
    command = [sys.executable, "-m", "alertd", "run", "--config", str(garden.configuration)]
    with (garden.folder / "log").open("wb") as log:
        process = subprocess.Popen(command, stdout=log, stderr=log)
        try:
            yield process
        finally:
            process.kill()
            process.wait()


def wait_until(condition, meanwhile=lambda: None):
    """Return whether something comes true in time, and do something else over and over until then."""
    end = time.monotonic() + PATIENCE
    while not condition():
        if time.monotonic() > end:
            return False
        meanwhile()
        time.sleep(0.2)
    return True


def test_the_daemon_alerts_by_all_sources_and_tells_once_each_that_it_is_blind_and_that_it_sees_again(garden, services):
    stale_after = f"{round(STALE_AFTER.total_seconds())}s"
    services.configure(garden.configuration, f'every = "1s"\nstale_after = "{stale_after}"')
    observed = f"{present() - timedelta(minutes=5):%Y-%m-%dT%H:%M:%SZ},20.5"
    (garden.folder / "thermometer.csv").write_text(f"time,air_temperature[degF]\n{observed}\n", encoding="utf-8")
    with running(garden) as process:
        assert wait_until(lambda: garden.letters_with("the patio pots into store"), services.put_file), garden.log()
        text = garden.letters_with("the patio pots into store")[0]
        for credit in CREDITS:
            assert credit in text
        for name in NAMES.values():
            assert f"{name}, made" in text
        assert wait_until(lambda: garden.observations() == ["by-the-pots"]), garden.log()

        services.kill(*NAMES)
        assert wait_until(lambda: garden.letters_with("The watch is blind")), garden.log()
        seen = garden.evaluations()
        assert wait_until(lambda: garden.evaluations() >= seen + 3), garden.log()

        services.revive()
        assert wait_until(lambda: garden.letters_with("The watch sees again"), services.put_file), garden.log()
        seen = garden.evaluations()
        assert wait_until(lambda: garden.evaluations() >= seen + 3, services.put_file), garden.log()

        process.send_signal(signal.SIGTERM)
        assert process.wait(PATIENCE) == 0
    assert len(garden.letters_with("The watch is blind")) == 1
    assert len(garden.letters_with("The watch sees again")) == 1
    assert "Traceback" not in garden.log()
    with Store.open(garden.folder / "alertd.sqlite") as store:
        assert store.verify_audit() == []
