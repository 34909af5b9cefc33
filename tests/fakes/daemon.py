"""The daemon as a program of its own: ``python tests/fakes/daemon.py CONFIGURATION [FAULT]``."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from alertd.config import load
from alertd.core import AlertdError
from alertd.delivery import judging_apart
from alertd.service import configure_logging, run

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fakes.garden_folder import FaultySource


def main(configuration: str, fault: str = "") -> int:
    """Load a configuration and watch, with a fault in every source; return the exit code."""
    configure_logging()
    try:
        with judging_apart() as judge:
            loaded = load(Path(configuration), os.environ, judge)
        if fault:
            sources = tuple(FaultySource(source.name, source.path, fault) for source in loaded.sources)
            return run(loaded, sources=sources)
        return run(loaded)
    except AlertdError as error:
        print(error, file=sys.stderr)
        return 1


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
