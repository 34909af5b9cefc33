"""How long the water of a root ball keeps part of it from freezing, by the heat that has to leave first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .around import films_of
from .grid import grid_of
from .medium import constants_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from .container import Surroundings
    from .grid import Container
    from .medium import Medium
    from .root_zone import RootState

_HOUR = 3600.0


def heat_bound(
    container: Container,
    media: Sequence[Medium],
    around: Surroundings,
    missing: NDArray[np.float64],
    share: float,
    trusted: float = 1.0,
) -> NDArray[np.float64]:
    """Return what the coldest share of a root ball cannot be colder than, by the heat that has left it.

    Parameters
    ----------
    container : Container
        The pot.
    media : sequence of Medium
        One for each member.
    around : Surroundings
        shape (n_members, n_times).
    missing : numpy.ndarray
        [J] Heat that the root balls lack at first, from `missing_heat`; shape (n_members,).
    share : float
        0 to 1, of the volume.
    trusted : float
        0 to 1, by how much of its heat of freezing a root ball is believed to have.

    Returns
    -------
    numpy.ndarray
        [°C] shape (n_members, n_times): where the last water freezes, until so much heat can have left that the share
        is frozen; then minus infinity.

    Notes
    -----
    For the share to be colder, each part of it must have given up its heat of freezing. A surface that freezes is no
    warmer than the freezing point, so no more leaves through it than its film takes from there; what the inside brings,
    and what comes back by day, only makes it slower. Derived; no source.
    """
    grid, constants = grid_of(container), constants_of(media)
    areas = (float(grid.wall.sum()), float(grid.top.sum()), float(grid.bottom.sum()))
    freezing = np.broadcast_to(constants.freezing_point, (around.n_members,))[:, None]
    leaving = np.zeros((around.n_members, around.n_times))
    for film, area in zip(films_of(around), areas, strict=True):
        leaving += area * film.conductance * np.maximum(freezing - film.temperature, 0.0)
    lost = missing[:, None] + _HOUR * np.cumsum(leaving, axis=1)
    needed = trusted * share * float(grid.volumes.sum()) * np.broadcast_to(constants.melting, (around.n_members,))
    frozen_below = np.broadcast_to(constants.frozen_below, (around.n_members,))
    return np.where(lost < needed[:, None], frozen_below[:, None], -np.inf)


def missing_heat(container: Container, media: Sequence[Medium], state: RootState) -> NDArray[np.float64]:
    """Return how much heat it would take to melt all ice of root balls, by each part alone [J], shape (n_members,)."""
    lacking = np.maximum(constants_of(media).melting - state.enthalpy, 0.0)
    return np.asarray((lacking * grid_of(container).volumes[:, :, None]).sum(axis=(0, 1)))
