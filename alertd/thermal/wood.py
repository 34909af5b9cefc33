"""Exposed wood and buds: colder than the air under a clear sky.

A twig lies between a cold sky, the ground and perhaps a wall, and the air around it makes up for what it loses. In a
calm clear night that leaves it one to three degrees below the air; wind or cloud bring it back. Growers' thresholds are
air temperatures at screen height at which wood was seen to suffer, so they contain the undercooling of the nights in
which that was seen; `equivalent_air_temperature` puts wood into the same terms.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from .air import DRY_AIR_HEAT_CAPACITY, STANDARD_PRESSURE, ZERO_CELSIUS
from .bracketing import zero_of_increasing
from .convection import twig_film
from .parameters import Parameter
from .psychrometrics import MOLAR_MASS_RATIO, short_saturation_vapour_pressure
from .sky import STEFAN_BOLTZMANN, black_radiation, cloud_cover, sky_radiation

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import Numbers

#: Heat that hoar brings when it forms [J/kg]. Source: sublimation at 0 °C, from memory.
SUBLIMATION_HEAT = 2.834e6

#: Heat that dew brings when it forms [J/kg]. Source: FAO-56 at 0 °C, from memory.
CONDENSATION_HEAT = 2.501e6

#: Temperature of the wood at which all that settles on it is ice [°C]; from 0 °C to there the share rises linearly.
#: Assumed.
FREEZES_BY = -0.5

#: Lewis number of vapour in air (heat by vapour diffusivity) [1]. Source: 1.88e-5 by 2.2e-5 m2/s, from memory.
LEWIS_NUMBER = 0.85

#: The frost point by the dew point over water, both below 0 °C in °C: never above this share [1], down to
#: -60 °C (tested).
_FROST_BY_DEW_POINT = 0.88

#: Of the balance within which a temperature counts as found [W/m2]: its slope is above 2 W/(m2 K), so 1e-6 K at most.
_RESIDUAL = 1e-6

#: The night on which the reference undercooling was derived: air and dew point [°C], wind at ten metres [m/s], cloud
#: [1]. Assumed: a calm clear night of the kind on which thresholds are learnt.
REFERENCE_NIGHT = (-10.0, -13.0, 1.0, 0.0)

#: Numbers of exposed wood. `diameter` and the views are the site's; the rest is physics that nobody measured there.
WOOD_PARAMETERS = (
    Parameter("diameter", 0.005, 0.003, 0.010, "m", "diameter of the twigs that matter", "assumed: buds and tips"),
    Parameter(
        "sky_view",
        0.5,
        0.35,
        0.6,
        "1",
        "share of what a twig sees that is open sky",
        "assumed: a horizontal twig in the open sees half sky, half ground",
    ),
    Parameter(
        "wind_share",
        0.5,
        0.3,
        0.7,
        "1",
        "how much of the forecast wind reaches the twigs",
        "assumed: 0.75 over open grass at two metres by FAO-56, less between trees and houses",
    ),
    Parameter(
        "calm_wind_speed",
        1.5,
        1.0,
        2.5,
        "m/s",
        "wind at ten metres that blows most of the cold air near the ground away",
        "assumed",
    ),
    Parameter(
        "ground_colder_by",
        3.0,
        1.0,
        5.0,
        "K",
        "how much colder than the air the ground is in a calm clear night",
        "assumed: grass minima lie 2 to 5 K below those of the air (from memory)",
    ),
    Parameter(
        "emissivity", 0.95, 0.93, 0.98, "1", "how readily bark radiates heat to the sky", "from memory: 0.93 to 0.98"
    ),
    Parameter(
        "deposition_share",
        0.5,
        0.0,
        1.0,
        "1",
        "how much hoar forms, by what could",
        "assumed: hoar warms, but does not form at once",
    ),
    Parameter(
        "reference_undercooling",
        1.1,
        0.6,
        1.6,
        "K",
        "how much colder than the air the wood was in the nights from which growers know what it stands",
        "assumed: a twig of 5 mm at -10 °C, dew point -13 °C, 1 m/s, clear, by this model",
    ),
)

#: Of a warm wall, for trees that stand at one.
WALL_PARAMETERS = (
    Parameter(
        "wall_view", 0.35, 0.2, 0.5, "1", "share of what a twig sees that is wall", "assumed: within a metre of it"
    ),
    Parameter(
        "wall_warmer_by",
        3.0,
        1.0,
        5.0,
        "K",
        "how much warmer than the air the wall is at night",
        "assumed: the wall of a heated house; a garden wall loses it before the morning",
    ),
)

#: Of a hollow where cold air gathers, for trees that stand in one.
HOLLOW_PARAMETERS = (
    Parameter(
        "hollow_offset",
        -3.0,
        -4.5,
        -1.5,
        "K",
        "how much colder than forecast the air in the hollow is in a calm clear night",
        "assumed: 2 to 5 K in common hollows (from memory); a minimum thermometer tells",
    ),
)


def wood_temperature(
    air_temperature: Numbers,
    dew_point: Numbers,
    wind_speed: Numbers,
    cloud: Numbers,
    *,
    diameter: Numbers = 0.005,
    sky_view: Numbers = 0.5,
    wall_view: Numbers = 0.0,
    wall_warmer_by: Numbers = 0.0,
    wind_share: Numbers = 0.5,
    hollow_offset: Numbers = 0.0,
    calm_wind_speed: Numbers = 1.5,
    ground_colder_by: Numbers = 3.0,
    emissivity: Numbers = 0.95,
    deposition_share: Numbers = 0.5,
    sky_deviation: Numbers = 0.0,
    shortwave: Numbers = 0.0,
) -> NDArray[np.float64]:
    """Return the temperature of twigs and buds in balance with air, sky, ground and walls.

    Everything broadcasts, so a parameter may have a value for each member, shape (n_members, 1).

    Parameters
    ----------
    air_temperature, dew_point : float or numpy.ndarray
        [°C] shape (n_members, n_times): at two metres as forecast, the dew point over water.
    wind_speed : float or numpy.ndarray
        [m/s] At ten metres.
    cloud : float or numpy.ndarray
        [1] Cloud cover, 0 to 1.
    diameter : float or numpy.ndarray
        [m] Up to 0.02 m a twig follows within minutes; for thicker wood see `branch.branch_temperature`.
    sky_view, wall_view : float or numpy.ndarray
        [1] Shares of the twig's surroundings that are sky and wall; the rest is ground.
    wall_warmer_by : float or numpy.ndarray
        [K] The wall's surface over the air.
    wind_share : float or numpy.ndarray
        [1] Wind at the twig by that at ten metres.
    hollow_offset : float or numpy.ndarray
        [K] What a hollow adds to the air temperature in a calm clear night, below 0; fit it to a minimum thermometer.
    calm_wind_speed : float or numpy.ndarray
        [m/s] Wind at ten metres that weakens the hollow and the cold of the ground to 37 %.
    ground_colder_by : float or numpy.ndarray
        [K] The ground under the air in a calm clear night.
    emissivity : float or numpy.ndarray
        [1] Of bark.
    deposition_share : float or numpy.ndarray
        [1] Share of the possible hoar or dew that forms; each brings heat.
    sky_deviation : float or numpy.ndarray
        [1] Spreads by which the clear sky differs from the mean of two formulae.
    shortwave : float or numpy.ndarray
        [W/m2] Sunlight that is absorbed, mean over the surface.

    Returns
    -------
    numpy.ndarray
        [°C] NaN where an input is.

    Raises
    ------
    ValueError
        If a cloud cover lies outside 0 to 1, or the views are below 0 or together above 1.

    Notes
    -----
    The balance of a horizontal cylinder, h (T - T_air) + e sigma T^4 = absorbed + heat of hoar, has one solution, for
    the left side rises with T and the heat of hoar falls; where hoar forms in air that hardly moves, two or three
    within hundredths of a kelvin, for the film itself comes from their difference to the air. The film h is that of
    wind and buoyancy together. The calm weight of hollow and ground is (1 - cloud) exp(-wind / calm wind). Left out:
    shelter by the wall, its cooling during the night, heat that the wood stores, and evaporation of what has formed.
    """
    if np.any(np.less(sky_view, 0.0)) or np.any(np.less(wall_view, 0.0)) or np.any(sky_view + wall_view > 1.0):
        message = (
            f"a twig that sees {sky_view} sky and {wall_view} wall: shares of 0 to 1 that leave the rest to ground"
        )
        raise ValueError(message)
    calm = (1.0 - cloud_cover(cloud)) * np.exp(-wind_speed / calm_wind_speed)
    air = air_temperature + hollow_offset * calm
    dew = np.minimum(dew_point, air)
    around = (
        sky_view * sky_radiation(air_temperature, dew_point, cloud, deviation=sky_deviation)
        + wall_view * black_radiation(air + wall_warmer_by)
        + (1.0 - sky_view - wall_view) * black_radiation(air - ground_colder_by * calm)
    )
    absorbed = emissivity * around + shortwave
    film = twig_film(diameter, wind_share * wind_speed, air)
    vapour = short_saturation_vapour_pressure(dew)

    def loss(wood: NDArray[np.float64]) -> NDArray[np.float64]:
        warmer_by = wood - air
        excess = np.maximum(vapour - short_saturation_vapour_pressure(wood, over_ice=wood < 0.0), 0.0)
        exchanged = warmer_by - deposition_share * _warmed_by_vapour(wood) * excess
        return film.coefficient(warmer_by) * exchanged + emissivity * black_radiation(wood) - absorbed

    radiative = np.sqrt(np.sqrt(absorbed / (emissivity * STEFAN_BOLTZMANN))) - ZERO_CELSIUS
    shape = np.broadcast_shapes(radiative.shape, film.forced.shape, np.shape(deposition_share))
    saturated = np.where(dew < 0.0, _FROST_BY_DEW_POINT * dew, dew)
    low = np.broadcast_to(np.minimum(radiative, air), shape)
    high = np.broadcast_to(np.maximum(np.maximum(radiative, air), saturated), shape)
    return zero_of_increasing(loss, low, high, _RESIDUAL)


def _warmed_by_vapour(wood: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return by how much air that gives up vapour seems warmer to wood [K/Pa]: heat and vapour travel alike."""
    frozen = np.clip(wood / FREEZES_BY, 0.0, 1.0)
    heat = CONDENSATION_HEAT + (SUBLIMATION_HEAT - CONDENSATION_HEAT) * frozen
    slower = math.pow(LEWIS_NUMBER, 2.0 / 3.0)
    return heat * (MOLAR_MASS_RATIO / (STANDARD_PRESSURE * DRY_AIR_HEAT_CAPACITY * slower))


def equivalent_air_temperature(wood: Numbers, *, reference_undercooling: Numbers = 1.1) -> NDArray[np.float64]:
    """Return the air temperature at screen height that stands for a temperature of wood in a grower's threshold.

    Parameters
    ----------
    wood : float or numpy.ndarray
        [°C]
    reference_undercooling : float or numpy.ndarray
        [K] How much colder than the air wood was in the nights on which thresholds were learnt.

    Returns
    -------
    numpy.ndarray
        [°C] In such a night the air temperature itself; in a windy or overcast one higher, in a stiller one lower.
    """
    return np.asarray(wood, dtype=np.float64) + reference_undercooling
