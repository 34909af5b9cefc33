"""What it costs to compute wood and pots in store: OMP_NUM_THREADS=1 PYTHONPATH=. python tests/bench/covers.py.

One group, 51 realizations, 240 h before the forecast and 168 h of it, with the uncertainty of all numbers, by numpy.
Durations are of the processor and not of the clock; each is the least of three. Nothing is asserted.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np

import alertd.thermal.container as solver
from alertd.site import (
    CoverBuild,
    CoverFill,
    Growing,
    MulchBuild,
    MulchMaterial,
    Protection,
    StoreKind,
    StoreRoom,
    TreeGroup,
)
from alertd.thermal.pots import pot_of
from alertd.thermal.store_model import stored_roots_felt
from tests.fakes.cold_nights import forcing_of_nights
from tests.fakes.covered import FIGS, bent_under, ring_of, wood_in, wrapped_in

REPEATS = 3
POTS = TreeGroup("pots", "the pots", Growing.CONTAINER, 12, "fig", "fig", Protection.STORE, 25.0)


def duration(work):
    """Return the least time of the processor [s]."""
    taken = []
    for _ in range(REPEATS):
        begun = time.process_time()
        work()
        taken.append(time.process_time() - begun)
    return min(taken)


def main():
    """Measure and print."""
    solver.solver_in_use = lambda: "numpy"
    offsets = tuple(np.linspace(-3.0, 3.0, 51))
    weather = forcing_of_nights([-12.0] * 6, offsets=offsets, wind=1.5, mild_days=10)
    forcing, times = weather
    print(f"{forcing.n_members} realizations x {forcing.times.size} h")
    groups = {"bare": None, "wrap": wrapped_in(CoverBuild()), "skirt": wrapped_in(CoverBuild(skirt=0.7))}
    groups["fill"] = wrapped_in(CoverBuild(fill=CoverFill.STRAW))
    for name, build in (("ring", ring_of), ("bent", bent_under)):
        for material in MulchMaterial:
            for depth in (0.02, 0.05, 0.2):
                groups[f"{name}, {100 * depth:.0f} cm of {material.value}"] = build(MulchBuild(material, depth))
    for name, group in groups.items():
        seconds = duration(lambda group=group: wood_in(group or FIGS, weather, is_in_place=group is not None))
        print(f"{name:28} {seconds:6.3f} s")
    for kind in StoreKind:
        group = replace(POTS, store_room=StoreRoom(kind))
        pot = pot_of(group, is_clustered=False)

        def stored(group=group, pot=pot):
            return stored_roots_felt(group, group.store_room, pot, forcing, times, limit=50.0, share=0.2)

        print(f"pots in a {kind.value:18} {duration(stored):6.3f} s")


if __name__ == "__main__":
    main()
