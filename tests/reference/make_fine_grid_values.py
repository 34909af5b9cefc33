"""Make tests/reference/fine_grid_values.json anew: python tests/reference/make_fine_grid_values.py (half an hour).

Nothing is drawn at random. Every case is solved with cells of 0.25 cm, which is what the tests compare with, and of
0.5 cm; some agreed cases also with 0.15 cm, to say how far the reference itself can be trusted.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import asdict
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.reference.fine_grid import solve_fine_grid
from tests.reference.pot_cases import (
    COLD_LIMIT,
    START,
    PotCase,
    agreed_cases,
    films_of,
    medium_of,
    other_cases,
    shape_of,
)

#: Where the values are kept.
FILE = Path(__file__).with_name("fine_grid_values.json")
#: [m] Of the cells: what is compared with, and what is cheap.
FINE, CHEAP = 0.0025, 0.005
#: [m] To judge the reference by.
FINER = 0.0015
#: Which of the agreed cases are solved on it.
JUDGED = (2, 4, 6, 7, 10, 17)


def values_of(case: PotCase, spacing: float) -> dict[str, float]:
    """Return what is compared: three minima [°C] and the peak share of the volume below the limit [%]."""
    traces = solve_fine_grid(
        shape_of(case.litres),
        medium_of(case.moisture),
        films_of(case),
        START,
        spacing=spacing,
        cold_limit=COLD_LIMIT,
    )
    return {
        "shell": round(float(traces.shell.min()), 4),
        "core": round(float(traces.core.min()), 4),
        "coldest_fifth": round(float(traces.coldest_share.min()), 3),
        "cold_volume": round(100 * float(traces.frozen_share.max()), 3),
    }


def main() -> None:
    """Solve all cases and write the file."""
    begin = time.monotonic()
    groups: dict[str, list[dict[str, object]]] = {}
    for group, cases in (("agreed", agreed_cases()), ("other", other_cases())):
        rows = groups.setdefault(group, [])
        for number, case in enumerate(cases):
            row: dict[str, object] = {
                "case": asdict(case),
                "fine": values_of(case, FINE),
                "cheap": values_of(case, CHEAP),
            }
            if group == "agreed" and number in JUDGED:
                row["finer"] = values_of(case, FINER)
            rows.append(row)
            print(f"{time.monotonic() - begin:6.0f} s", case.name, row["fine"], flush=True)
    text = json.dumps(
        {"spacing": {"fine": FINE, "cheap": CHEAP, "finer": FINER}, **groups}, ensure_ascii=False, indent=1
    )
    FILE.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
