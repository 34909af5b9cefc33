"""From weather to the films round a pot."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from alertd.site import StandsOn

from .container import Surroundings
from .convection import top_film_coefficient, wall_film_coefficient
from .film import Film
from .sky import radiative_coefficient

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from .forcing import Forcing
    from .pots import Pot

#: Share of what the wall and the top see that is sky; the rest is about as warm as the air. Assumed: an upright wall
#: sees half sky, a top some rim and branches.
_WALL_SKY, _TOP_SKY = 0.5, 0.6

#: [K] Difference between surface and air by which still air is judged. Assumed.
_DIFFERENCE = 3.0

#: Resistances [m2 K/W]: plastic of 3 mm, litter on the surface. Assumed.
_PLASTIC, _LITTER = 0.01, 0.1

#: Conductivity of loose mulch and of settled snow [W/(m K)]. Mulch from memory, straw and dry leaves 0.045 to 0.08;
#: snow by Sturm et al. 1997 at 200 to 250 kg/m3 (coefficients from memory).
_MULCH, _SNOW = 0.06, 0.09

#: [m] Of snow that stands for all that lies round a buried pot, and of snow that hides what is below from the sun.
#: Assumed.
_SNOW_ROUND, _WHITE = 0.1, 0.02

#: What snow absorbs of the sun by what a pot does [1]: it reflects 0.8 of it when new (from memory), and pots 0.3.
_SNOW_ABSORBS = 0.3

#: How much of a wall stands within a cluster, by the number of pots: those at its edge, which get coldest, are judged.
#: Assumed, from pots packed closely.
_WITHIN = ((1, 0.0), (2, 0.2), (4, 0.35), (7, 0.45), (12, 0.5))

#: Hours in which the surface of the ground or a slab on it has followed the air to about two thirds, and the share [1]
#: that the ground a metre below counts for against the air. Assumed: three days, a third.
_GROUND_LAG, _DEEP_SHARE = 72.0, 0.33


def surroundings_of(pot: Pot, forcing: Forcing, values: Mapping[str, NDArray[np.float64]]) -> Surroundings:
    """Return the films round a pot.

    Parameters
    ----------
    pot : Pot
        How it stands.
    forcing : Forcing
        Weather of all members.
    values : mapping of str to numpy.ndarray
        The pot's numbers by name, shape () or (n_members,).

    Returns
    -------
    Surroundings
        shape (n_members, n_times).
    """

    def number(name: str) -> NDArray[np.float64]:
        return np.asarray(values[name], dtype=np.float64).reshape(-1, 1)

    standing, container, air = pot.standing, pot.container, forcing.air_temperature
    sky = forcing.sky_temperature + number("sky_deviation") * forcing.sky_spread
    wind = number("pot_wind_share") * forcing.wind_speed
    sunny = number("pot_absorptance") * number("sun_share")
    diameter = container.radius_top + container.radius_bottom
    convective = wall_film_coefficient(diameter, wind, _DIFFERENCE, height=container.height, air_temperature=air)
    radiative = radiative_coefficient(air, sky)
    wall = _film(air, sky, convective, radiative, _WALL_SKY, sunny * forcing.sun.wall)
    wall = _behind(wall, _PLASTIC + (number("insulation_resistance") if "insulation_resistance" in values else 0.0))
    shaded = wall.temperature - sunny * forcing.sun.wall / (convective + radiative)
    wall = _snowed_in(wall, shaded, forcing, container.height)
    if pot.neighbours > 1:
        counts, shares = zip(*_WITHIN, strict=True)
        within = float(np.interp(pot.neighbours, counts, shares))
        wall = replace(wall, conductance=wall.conductance * (1.0 - within * (1.0 - number("cluster_share"))))
    still = top_film_coefficient(2.0 * container.radius_top, wind, -_DIFFERENCE, air_temperature=air)
    dark = 1.0 - np.clip(forcing.snow / _WHITE, 0.0, 1.0) * (1.0 - _SNOW_ABSORBS)
    top = _film(air, sky, still, radiative, _TOP_SKY, sunny * dark * forcing.sun.top)
    top = _behind(top, _LITTER + standing.mulch / _MULCH + forcing.snow / _SNOW)
    contact = np.broadcast_to(number("bottom_conductance"), air.shape)
    is_raised = standing.stands_on is StandsOn.FEET
    below = air if is_raised else _ground(forcing, number("pot_ground_temperature"))
    return Surroundings(wall, top, Film(below, np.array(contact)))


def _film(
    air: NDArray[np.float64],
    sky: NDArray[np.float64],
    convective: NDArray[np.float64],
    radiative: NDArray[np.float64],
    sky_share: float,
    absorbed: NDArray[np.float64],
) -> Film:
    """Return a surface in the open: air, sky and sun as one temperature behind one conductance."""
    total = convective + radiative
    outside = air + (radiative * sky_share * (sky - air) + absorbed) / total
    return Film(outside, total)


def _behind(film: Film, resistance: float | NDArray[np.float64]) -> Film:
    """Return a film behind a further resistance [m2 K/W]."""
    return replace(film, conductance=1.0 / (1.0 / film.conductance + resistance))


def _snowed_in(wall: Film, shaded: NDArray[np.float64], forcing: Forcing, height: float) -> Film:
    """Return the wall of a pot that snow buries, as far as it does; that part is as cold as a shaded wall [°C]."""
    share = np.clip(forcing.snow / height, 0.0, 1.0)
    buried = share / (1.0 / wall.conductance + _SNOW_ROUND / _SNOW)
    total = (1.0 - share) * wall.conductance + buried
    return Film(wall.temperature + buried / total * (shaded - wall.temperature), total)


def _ground(forcing: Forcing, deep: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the temperature of the surface that pots stand on [°C]: the air's, damped and late, and the deep ground's.

    An ordinary first-order lag; the latent heat of ground that freezes is left out, which is on the side of safety.
    It begins as the mean of the days before would have left it.
    """
    weight = 1.0 - np.exp(-1.0 / _GROUND_LAG)
    target = (1.0 - _DEEP_SHARE) * forcing.air_temperature + _DEEP_SHARE * deep
    ground = np.empty_like(target)
    state = target[:, : max(forcing.n_before, 1)].mean(axis=1)
    for hour in range(target.shape[1]):
        state = state + (target[:, hour] - state) * weight
        ground[:, hour] = state
    return ground
