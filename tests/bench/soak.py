"""Weeks of faults in simulated time: what became of letters, and whether memory grows.

``MALLOC_ARENA_MAX=1 PYTHONPATH=. python tests/bench/soak.py [SEED [DAYS]]``, with one stock of memory for all threads
as in the service; two weeks take some minutes. The servers live in another process. The first two days warm up:
modules, caches and the allocator's own stock. Then the days 3 to 5 are compared with the last three.
"""

from __future__ import annotations

import gc
import logging
import os
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from tests.fakes.soak import Soak

_PAGE = os.sysconf("SC_PAGE_SIZE")
_MIB = 1024.0**2
_WARM_UP = 2
_COMPARED = 3


def resident() -> float:
    """Return the memory of this process that is resident [MiB]."""
    gc.collect()
    return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * _PAGE / _MIB


def main(seed: int, days: int) -> None:
    """Run and print."""
    logging.disable(logging.CRITICAL)
    began = time.monotonic()
    held, objects = [], []
    with tempfile.TemporaryDirectory() as folder, Soak(Path(folder), seed) as soak:
        for _ in range(days):
            soak.run(1)
            held.append(resident())
            objects.append(sys.getallocatedblocks())
            file = (Path(folder) / "soak.sqlite").stat().st_size / _MIB
            print(
                f"{soak.now:%d %b %H:%M} resident {held[-1]:.2f} MiB, {objects[-1]} blocks of Python, "
                f"database {file:.2f} MiB, {soak.restarts} restarts",
                flush=True,
            )
        soak.settle()
        print(soak.books())
    early, late = (slice(_WARM_UP, _WARM_UP + _COMPARED), slice(-_COMPARED, None))
    for name, unit, values in (("resident", "MiB", held), ("blocks", "", objects)):
        before, after = median(values[early]), median(values[late])
        growth = (after - before) / (days - _WARM_UP - _COMPARED)
        print(f"{name}: {before:.2f} {unit} on days 3 to 5, {after:.2f} on the last three, {growth:+.3f} a day")
    print(f"{time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1, int(sys.argv[2]) if len(sys.argv) > 2 else 14)
