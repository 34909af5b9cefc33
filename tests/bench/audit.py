"""Ten years of a record, and how long it takes to verify: python tests/bench/audit.py [YEARS [GROUPS]].

Bodies are those that the watch writes for a garden with two sources; nothing is asserted.
"""

from __future__ import annotations

import resource
import sqlite3
import sys
import tempfile
import time
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import cycle
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from alertd.audit import GENESIS, Head, link
from alertd.core import instant_text, to_datetime64
from alertd.hindcast import RecordSource
from alertd.messages import Reader
from alertd.store import Store
from alertd.watch import Readership, Watch
from alertd.weather import Series
from tests.fakes.garden import FIGS, POTS, make_garden

if TYPE_CHECKING:
    from collections.abc import Iterator

START = datetime(2016, 1, 1, tzinfo=UTC)

#: Hours of real evaluations whose rows are repeated.
SAMPLE = 24 * 20


def sampled_rows(groups: int) -> list[tuple[str, str]]:
    """Return kinds and bodies that the watch writes in some cold weeks."""
    hour = np.arange(SAMPLE + 24 * 10)
    wave = 6.0 * np.sin(2 * np.pi * (hour - 9) / 24) + 8.0 * np.sin(2 * np.pi * hour / (24 * 11)) - 2.0
    record = Series(to_datetime64(START) + hour * np.timedelta64(3600, "s"), {"air_temperature": wave[None, :]})
    names = (replace((POTS, FIGS)[n % 2], group_id=f"group-{n}") for n in range(groups))
    garden = make_garden(*names, is_exact=False)
    sources = [RecordSource(name, record, timedelta(hours=168)) for name in ("north", "open data")]
    with Store.open(None) as store:
        watch = Watch(garden, sources, Readership((Reader("keeper"),), {"keeper": ("paper",)}), store)
        for number in range(SAMPLE):
            watch.evaluate(START + timedelta(hours=number))
        return [(row.kind, row.body) for row in store.audit_rows()]


def chained(sample: list[tuple[str, str]], years: int) -> Iterator[tuple[int, str, str, str, str]]:
    """Yield rows of hourly evaluations, with the rows between them."""
    digits, hour = GENESIS, -1
    for sequence, (kind, body) in enumerate(cycle(sample), start=1):
        hour += kind == "evaluation"
        if hour >= years * 8760:
            return
        happened = instant_text(START + timedelta(hours=hour))
        digits = link(digits, sequence, happened, kind, body)
        yield sequence, happened, kind, body, digits


def write(path: Path, years: int, groups: int) -> None:
    """Make a database with such a record."""
    sample = sampled_rows(groups)
    Store.open(path).close()
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.executemany("INSERT INTO audit VALUES (?, ?, ?, ?, ?)", chained(sample, years))
        last = connection.execute("SELECT sequence, hash FROM audit ORDER BY sequence DESC LIMIT 1").fetchone()
        connection.execute("INSERT INTO meta VALUES ('audit_head', ?)", (Head(*last).full_text,))


def main() -> None:
    """Measure and print."""
    given = [int(each) for each in sys.argv[1:]]
    years, groups = given + [10, 2][len(given) :]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.sqlite"
        write(path, years, groups)
        with Store.open(path) as store:
            count, size = store._connection.execute("SELECT count(*), sum(length(body)) FROM audit").fetchone()
            print(f"{count} rows, {size / count:.0f} bytes each, {path.stat().st_size / 2**20:.0f} MiB")
            for _ in range(3):
                begin, busy = time.perf_counter(), time.process_time()
                faults = store.verify_audit()
                wall, busy = time.perf_counter() - begin, time.process_time() - busy
                print(f"verify: {wall:.2f} s ({busy:.2f} s of one core), {len(faults)} faults")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")


if __name__ == "__main__":
    main()
