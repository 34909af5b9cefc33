"""Two weeks of faults in simulated time: what became of letters, and how memory grew.

``PYTHONPATH=. python tests/bench/soak.py [SEED]``; takes some minutes.
"""

from __future__ import annotations

import gc
import logging
import os
import sys
import tempfile
import time
from pathlib import Path

from tests.fakes.soak import Soak

_PAGE = os.sysconf("SC_PAGE_SIZE")
_MIB = 1024.0**2


def resident() -> float:
    """Return the memory of this process that is resident [MiB]."""
    gc.collect()
    return int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1]) * _PAGE / _MIB


def main(seed: int) -> None:
    """Run and print."""
    logging.disable(logging.CRITICAL)
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder, Soak(Path(folder), seed) as soak:
        for days in (2, 4, 4, 4):
            soak.run(days)
            print(f"{soak.now:%d %b %H:%M} resident {resident():.1f} MiB", flush=True)
        soak.settle()
        print(soak.books())
        print(f"{soak.now:%d %b %H:%M} resident {resident():.1f} MiB, {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1)
