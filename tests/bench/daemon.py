"""How soon the daemon says READY, and what it holds idle: ``PYTHONPATH=. python tests/bench/daemon.py``."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.fakes.garden_folder import GardenFolder

#: [s] How long it idles before it is measured.
_IDLE = 20.0


def main() -> None:
    """Start one daemon with a mild forecast, and print."""
    with tempfile.TemporaryDirectory() as name, socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        folder = Path(name)
        garden = GardenFolder(folder, f"file:{folder / 'letters'}")
        garden.write_forecast(is_severe=False)
        manager.bind(str(folder / "notify"))
        manager.settimeout(60.0)
        environment = {**os.environ, "NOTIFY_SOCKET": str(folder / "notify")}
        command = [sys.executable, "-m", "alertd", "run", "--config", str(garden.configuration)]
        began = time.monotonic()
        with subprocess.Popen(command, env=environment, stderr=subprocess.DEVNULL) as process:
            while b"READY=1" not in manager.recv(4096):
                pass
            took = time.monotonic() - began
            time.sleep(_IDLE)
            status = Path(f"/proc/{process.pid}/status").read_text(encoding="ascii")
            process.send_signal(signal.SIGTERM)
        held = next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS"))
        print(f"start to READY {took:.2f} s, resident after {_IDLE:.0f} s {held / 1024.0:.1f} MiB")


if __name__ == "__main__":
    main()
