"""The compiled solver, where numba is installed: the extra `fast`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .kernels import solve_hours
from .root_zone import Readings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .root_zone import Probe
    from .scheme import Factor, Stepper


def run_fast(stepper: Stepper, probe: Probe) -> Readings:
    """Go through all hours, as `root_zone.run` does; the same arithmetic, compiled.

    Parameters
    ----------
    stepper : Stepper
        The root ball at the start; at the end afterwards.
    probe : Probe
        What is to be known of it.

    Returns
    -------
    Readings
        At the end of each hour.
    """
    n_members, constants, grid = stepper.shape[2], stepper.constants, stepper.grid

    def by_member(values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return one number for each member."""
        return np.ascontiguousarray(np.broadcast_to(values, n_members))

    def by_place(factor: Factor) -> NDArray[np.float64]:
        """Return a number for each place of one layer."""
        return np.ascontiguousarray(np.broadcast_to(factor, stepper.state.size)[: stepper.stride])

    readings = Readings(*(np.empty((stepper.n_times, n_members)) for _ in range(4)))
    solve_hours(
        (stepper.temperatures, stepper.conductances),
        stepper.areas.ravel(),
        (stepper.radial_still, np.repeat(stepper.middles.ravel(), n_members)),
        (
            stepper.value,
            stepper.state,
            stepper.change,
            stepper.radial_of_move,
            stepper.faces,
            stepper.axial,
            stepper.weight,
            stepper.move,
        ),
        (by_place(stepper.freezing), by_place(stepper.unfrozen), by_place(stepper.lowered)),
        (
            stepper.depths.ravel(),
            grid.ring_widths,
            stepper.acting.ravel(),
            stepper.conducting.ravel(),
            stepper.above_frozen.ravel(),
            stepper.above_melting.ravel(),
            stepper.outer.ravel(),
            stepper.resisting.ravel(),
        ),
        (
            by_member(constants.conductivity_frozen),
            by_member(constants.conductivity_freezing),
            by_member(constants.conductivity_unfrozen),
        ),
        (
            by_member(constants.frozen_below),
            by_member(constants.freezing_point),
            by_member(constants.melting_flux),
            by_member(stepper.melted),
        ),
        stepper.nearly_frozen,
        np.array([stepper.stages_frozen, stepper.stages_unfrozen]),
        stepper.n_steps,
        stepper.shape,
        (by_place(probe.frozen), by_place(probe.freezing), by_place(probe.unfrozen), by_place(probe.lowered)),
        probe.warmth,
        (probe.half_by_still, probe.move_by_still, probe.centres),
        (probe.rows.start, probe.points, probe.weights, probe.n_reached),
        (probe.upper, probe.core_weight),
        np.ascontiguousarray(probe.parts.reshape(stepper.shape[0], -1)[:, :-1].ravel()),
        probe.limit,
        probe.share,
        readings.shell,
        readings.core,
        readings.coldest_share,
        readings.frozen_share,
    )
    for degrees in (readings.shell, readings.core, readings.coldest_share):
        np.add(degrees, probe.below, out=degrees)
    return readings
