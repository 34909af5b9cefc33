"""How soon the daemon says READY, and what it holds idle, with a service, a heartbeat and a status port that is asked.

``PYTHONPATH=. python tests/bench/daemon.py [MINUTES]`` looks at the forecast each second: a minute stands for two and
a half days of hourly looks. The forecast turns every 20 s, so that letters are written; the first minute warms up.
"""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from tests.fakes.garden_folder import GardenFolder
from tests.fakes.servers import free_port
from tests.fakes.servers_apart import ServersApart

#: [s] How long it idles before it is measured.
_IDLE = 20.0


def main(minutes: int) -> None:
    """Start one daemon, and print what it holds."""
    with tempfile.TemporaryDirectory() as name, socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        folder, port, servers = Path(name), free_port(), ServersApart()
        url = f"//127.0.0.1:{servers.web_port}"
        garden = GardenFolder(folder, f"json:{url}/letters")
        garden.write_forecast(is_severe=False)
        status = f'\n[status]\nlisten = "127.0.0.1:{port}"\nheartbeat = "http:{url}/beat"\n'
        garden.configuration.write_text(garden.configuration.read_text() + status)
        manager.bind(str(folder / "notify"))
        manager.settimeout(60.0)
        environment = {**os.environ, "NOTIFY_SOCKET": str(folder / "notify")}
        command = [sys.executable, "-m", "alertd", "run", "--config", str(garden.configuration)]
        began = time.monotonic()
        with subprocess.Popen(command, env=environment, stderr=subprocess.DEVNULL) as process:
            while b"READY=1" not in manager.recv(4096):
                pass
            print(f"start to READY {time.monotonic() - began:.2f} s")
            time.sleep(_IDLE)
            print(f"resident after {_IDLE:.0f} s {held(process.pid):.2f} MiB", flush=True)
            for minute in range(1, minutes + 1):
                looks = pass_a_minute(garden, port)
                print(f"minute {minute}: resident {held(process.pid):.2f} MiB after {looks} looks", flush=True)
            process.send_signal(signal.SIGTERM)
        servers.close()


def pass_a_minute(garden: GardenFolder, port: int) -> int:
    """Ask each second, turn the forecast every 20 s; return how often the forecast was looked at since the start."""
    looks = 0
    for second in range(60):
        if second % 20 == 0:
            garden.write_forecast(is_severe=second == 20)
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics", timeout=20.0) as answer:
            lines = answer.read().decode().splitlines()
        looks = sum(int(float(line.split()[-1])) for line in lines if line.startswith("alertd_cycles_total{"))
        time.sleep(1.0)
    return looks


def held(process_id: int) -> float:
    """Return what a process holds in memory [MiB]."""
    status = Path(f"/proc/{process_id}/status").read_text(encoding="ascii")
    return next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS")) / 1024.0


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 0)
