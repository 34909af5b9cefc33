"""What it costs to compute root balls: OMP_NUM_THREADS=1 PYTHONPATH=. python tests/bench/thermal.py [--json] [--quick].

Durations are of the processor and not of the clock, so that other programs disturb little; each is the least of three.
Everything is measured in one run, and told as a ratio where machines differ. `--quick` leaves out scipy. Nothing is
asserted.
"""

from __future__ import annotations

import argparse
import cProfile
import json
import os
import pstats
import subprocess
import sys
import time
from importlib.util import find_spec
from pathlib import Path
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np

from alertd.thermal.container import Container, Surroundings, solve_root_zone
from alertd.thermal.film import Film
from tests.reference.pot_cases import COLD_LIMIT, START, PotCase, agreed_cases, films_of, medium_of, shape_of

if TYPE_CHECKING:
    from collections.abc import Callable

#: [L] One garden.
SIZES = (5.0, 7.0, 10.0, 15.0, 20.0, 25.0, 35.0, 50.0, 60.0, 100.0)
#: Of a forecast.
REALIZATIONS = 51
#: Ten days: four mild ones, five cold nights, one mild night.
HOURS = 240
#: Of the weather of one cold night, that night and the day after it.
WINDOW = slice(90, 132)
#: Cells, growth and tolerance of the plain grid that is as accurate as the solver: in eight agreed cases of one night
#: its coldest shell missed the fine grid by at most 0.16 K (rms 0.09), the cold volume by 0.6 points (rms 0.3); 14 x 12
#: cells by 0.34 K and 1.3 points, 10 x 10 cells by 0.42 K and 1.8 points (measured).
PLAIN_CELLS, PLAIN_GROWTH, PLAIN_TOLERANCE = (19, 14), 1.1, 1e-3
REPEATS = 3


def ways() -> dict[str, bool]:
    """Return the ways of computing that are installed, and whether each is the fast one."""
    return {"numpy": False} | ({"numba": True} if find_spec("numba") else {})


def surroundings(case: PotCase, realizations: int, hours: slice) -> Surroundings:
    """Return an ensemble: the air of each realization is off by a quantile of a normal error of 2 K."""
    offsets = [2.0 * NormalDist().inv_cdf((number + 0.5) / realizations) for number in range(realizations)]
    members = [films_of(case, offset) for offset in offsets]
    joined = (
        Film(
            np.concatenate([films[side].temperature[:, hours] for films in members]),
            np.concatenate([films[side].conductance[:, hours] for films in members]),
        )
        for side in range(3)
    )
    return Surroundings(*joined)


def garden(sizes: tuple[float, ...] = SIZES, realizations: int = REALIZATIONS, hours: int = HOURS) -> list[Any]:
    """Return containers and what surrounds them; short ones are the last hours, where it freezes."""
    cases = [PotCase(f"{litres:g} L", litres, 0.35, 5, 15.0, 2.0, 0.2, 0.4) for litres in sizes]
    window = slice(HOURS - hours, HOURS)
    return [(Container(*shape_of(case.litres)), surroundings(case, realizations, window)) for case in cases]


def solve(pots: list[Any], *, is_fast: bool) -> None:
    """Solve every pot with all that is told of it."""
    for container, around in pots:
        solve_root_zone(container, medium_of(0.35), around, START, cold_limit=COLD_LIMIT, is_fast=is_fast)


def duration(work: Callable[[], object], repeats: int = REPEATS) -> float:
    """Return the least processor time of a piece of work [s]."""
    found = []
    for _ in range(repeats):
        begin = time.process_time()
        work()
        found.append(time.process_time() - begin)
    return min(found)


def measure_garden() -> dict[str, Any]:
    """Return seconds and pot-hours per second of one garden, and of the first call."""
    pots = garden()
    figures = {}
    for way, is_fast in ways().items():
        begin = time.process_time()
        solve(garden((5.0,), 1, 1), is_fast=is_fast)
        first = time.process_time() - begin
        seconds = duration(lambda is_fast=is_fast: solve(pots, is_fast=is_fast))
        rate = len(SIZES) * REALIZATIONS * HOURS / seconds
        figures[way] = {"seconds": seconds, "pot_hours_per_second": rate, "first_call_seconds": first}
    return figures


def measure_growth() -> list[dict[str, Any]]:
    """Return the cost of other numbers of pots, realizations and hours, in units of one pot, 51 and 240."""
    rows = []
    for way, is_fast in ways().items():
        unit = None
        for pots, realizations, hours in (
            (1, 51, 240),
            (2, 51, 240),
            (10, 51, 240),
            (1, 1, 240),
            (1, 13, 240),
            (1, 204, 240),
            (1, 51, 60),
            (1, 51, 120),
        ):
            work = garden((25.0,) * pots, realizations, hours)
            seconds = duration(lambda work=work, is_fast=is_fast: solve(work, is_fast=is_fast))
            unit = unit or seconds
            row = {"way": way, "pots": pots, "realizations": realizations, "hours": hours}
            rows.append({**row, "seconds": seconds, "ratio": seconds / unit})
    return rows


def measure_profile() -> dict[str, list[dict[str, Any]]]:
    """Return the share of time of each function of the package, itself with what it calls outside the package."""
    pots = garden((25.0,))
    figures = {}
    for way, is_fast in ways().items():
        profile = cProfile.Profile()
        profile.runcall(solve, pots, is_fast=is_fast)
        stats = pstats.Stats(profile).stats  # type: ignore[attr-defined]
        ours = {place: row for place, row in stats.items() if "alertd" in place[0]}
        own = {}
        for place, row in ours.items():
            called = sum(each[4][place][3] for name, each in stats.items() if name not in ours and place in each[4])
            own[place] = row[2] + called
        whole = sum(own.values())
        ranked = sorted(own.items(), key=lambda item: -item[1])[:10]
        figures[way] = [{"function": place[2], "share": seconds / whole} for place, seconds in ranked]
    return figures


def measure_memory() -> dict[str, Any]:
    """Return peak memory [MiB], each way in a process of its own that has never heard of scipy."""
    figures = {}
    for way in ways():
        answer = subprocess.run([sys.executable, __file__, "--memory", way], capture_output=True, check=True, text=True)
        figures[way] = json.loads(answer.stdout)
    return figures


def tell_memory(way: str) -> None:
    """Solve one garden and print by how much the peak of memory grew."""
    is_fast = ways()[way]
    solve(garden((5.0,), 1, 1), is_fast=is_fast)
    before = peak_memory()
    pots = garden()
    inputs = peak_memory()
    solve(pots, is_fast=is_fast)
    after = peak_memory()
    figures = {"imports": before, "inputs": inputs - before, "solving": after - inputs, "peak": after}
    print(json.dumps(figures | {"has_scipy": "scipy" in sys.modules}))


def peak_memory() -> float:
    """Return the most memory [MiB] that this program has held; what Linux hands down from a parent is not counted."""
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM:")) / 1024


def measure_scipy() -> list[dict[str, Any]]:
    """Return what a cold night of 25 L costs with each method, with its error against the fine grid."""
    from tests.reference.fine_grid import solve_fine_grid  # noqa: PLC0415 - numba and scipy only where wanted
    from tests.reference.plain_grid import PlainPot  # noqa: PLC0415

    case = agreed_cases()[7]
    shape, medium = shape_of(case.litres), medium_of(case.moisture)
    single = Surroundings(*(Film(f.temperature[:, WINDOW], f.conductance[:, WINDOW]) for f in films_of(case)))
    many = surroundings(case, REALIZATIONS, WINDOW)
    fine = solve_fine_grid(shape, medium, (single.wall, single.top, single.bottom), START, spacing=0.0025)
    rows = []

    def tell(name: str, members: int, seconds: float, shell: Any, volume: Any) -> None:
        rows.append(
            {
                "method": name,
                "members": members,
                "pot_hours_per_second": members * single.n_times / seconds,
                "shell_error": float(shell.min() - fine.shell.min()),
                "volume_error": 100 * float(volume.max() - fine.frozen_share.max()),
            }
        )

    middle = REALIZATIONS // 2  # the median member is the single one
    for way, is_fast in ways().items():
        for around in (single, many):

            def ours(around: Surroundings = around, is_fast: bool = is_fast) -> Any:  # noqa: FBT001
                return solve_root_zone(Container(*shape), medium, around, START, cold_limit=COLD_LIMIT, is_fast=is_fast)

            zone, member = ours(), 0 if around is single else middle
            tell(way, around.n_members, duration(ours), zone.shell[member], zone.frozen_share[member])
    for restart, has_jacobian in ((False, False), (True, False), (False, True)):
        for around, member in ((single, 0), (many, middle)):
            films = (around.wall, around.top, around.bottom)
            pot = PlainPot(shape, medium, films, PLAIN_CELLS, PLAIN_GROWTH)
            begin = time.process_time()
            traces = pot.solve(START, tolerance=PLAIN_TOLERANCE, restart=restart, has_jacobian=has_jacobian)
            seconds = time.process_time() - begin
            name = "scipy BDF" + ", anew each hour" * restart + ", written Jacobian" * has_jacobian
            tell(name, around.n_members, seconds, traces.shell[member], traces.cold_share[member])
            if restart:
                break  # slower, and only to show that nothing is lost without
    return rows


def show(figures: dict[str, Any]) -> None:
    """Print tables for people."""
    print(f"one garden: {len(SIZES)} pots x {REALIZATIONS} realizations x {HOURS} h, with all that is told of them")
    for way, row in figures["garden"].items():
        print(f"  {way:6} {row['seconds']:6.2f} s {row['pot_hours_per_second'] / 1e3:8.1f}k pot-hours/s", end="")
        print(f"   first call {row['first_call_seconds']:.2f} s")
    print("peak memory [MiB] of a process that solves it")
    for way, row in figures["memory"].items():
        print(
            f"  {way:6} imports {row['imports']:.0f}, inputs {row['inputs']:+.0f}, solving {row['solving']:+.0f}",
            end="",
        )
        print(f", peak {row['peak']:.0f}")
    print("how cost grows (25 L)")
    for row in figures["growth"]:
        what = f"{row['pots']:3} pots {row['realizations']:4} realizations {row['hours']:4} h"
        print(f"  {row['way']:6} {what} {row['seconds']:7.3f} s {row['ratio']:7.2f} x")
    print("where time goes (25 L, 51 realizations, 240 h; under a profiler)")
    for way, rows in figures["profile"].items():
        print(f"  {way:6}", ", ".join(f"{row['function']} {100 * row['share']:.0f} %" for row in rows))
    if figures["scipy"]:
        print(f"a cold night of 25 L, {WINDOW.stop - WINDOW.start} h, against scipy on {PLAIN_CELLS} cells")
        best = {row["method"]: row["pot_hours_per_second"] for row in figures["scipy"] if row["members"] > 1}
        for row in figures["scipy"]:
            ratios = [f"{way} {best[way] / row['pot_hours_per_second']:8.1f} x" for way in ways()]
            print(
                f"  {row['method']:34} {row['members']:3} members {row['pot_hours_per_second']:10.0f} pot-hours/s",
                end="",
            )
            print(f"  shell {row['shell_error']:+.2f} K, volume {row['volume_error']:+.2f} points;", ", ".join(ratios))


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true", help="print one JSON object instead of tables")
    parser.add_argument("--quick", action="store_true", help="leave scipy out")
    parser.add_argument("--memory", choices=tuple(ways()), help="only solve one garden and tell the memory")
    arguments = parser.parse_args()
    if arguments.memory:
        tell_memory(arguments.memory)
        return
    figures = {
        "threads": os.environ.get("OMP_NUM_THREADS"),
        "garden": measure_garden(),
        "memory": measure_memory(),
        "growth": measure_growth(),
        "profile": measure_profile(),
        "scipy": [] if arguments.quick else measure_scipy(),
    }
    if arguments.json:
        print(json.dumps(figures, indent=1))
    else:
        show(figures)


if __name__ == "__main__":
    main()
