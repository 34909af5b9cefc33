"""Parts and bounds of what is round a root ball."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .container import Surroundings
from .film import Film
from .medium import constants_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from .medium import Medium

#: [K] Above the lowest temperature that the formulae of a medium hold for. Assumed: larger than any rounding.
_CLEARANCE = 0.5


def members_of(around: Surroundings, members: slice) -> Surroundings:
    """Return the surroundings of some members."""
    wall, top, bottom = (Film(each.temperature[members], each.conductance[members]) for each in films_of(around))
    return Surroundings(wall, top, bottom)


def during(around: Surroundings, hours: slice) -> Surroundings:
    """Return the surroundings in some hours."""
    wall, top, bottom = (Film(each.temperature[:, hours], each.conductance[:, hours]) for each in films_of(around))
    return Surroundings(wall, top, bottom)


def coldest_of(around: Surroundings) -> NDArray[np.float64]:
    """Return the coldest of the films [°C], shape (n_members, n_times)."""
    return np.asarray(np.minimum.reduce([film.temperature for film in films_of(around)]))


def lowest_held(media: Medium | Sequence[Medium]) -> float:
    """Return down to which temperature root balls can be computed [°C]: -25 °C full of water, -50 °C moist, about."""
    return constants_of(media).lowest + _CLEARANCE


def no_colder_than(around: Surroundings, lowest: float) -> Surroundings:
    """Return surroundings of which nothing is colder than a temperature [°C]; themselves if nothing is."""
    if not around.n_times or float(coldest_of(around).min()) >= lowest:
        return around
    wall, top, bottom = (Film(np.maximum(each.temperature, lowest), each.conductance) for each in films_of(around))
    return Surroundings(wall, top, bottom)


def films_of(around: Surroundings) -> tuple[Film, Film, Film]:
    """Return the films at wall, top and bottom."""
    return around.wall, around.top, around.bottom
