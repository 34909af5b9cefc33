"""Pots and weathers for the comparison of the root-zone solver with a fine grid.

Complete in itself: the heat exchange at the surfaces is written out here, so that the comparison depends on nothing
but the solver under test. The weathers are invented. What they must be is plausible and the same for both.

Weather. The air falls from a maximum at 15:00 to a minimum at 06:00 along half a cosine, and rises along another.
Four mild days with 8 and 0 °C come first, then the cold nights, with days between that are 16 °F (8.9 °C) warmer than
the nights, and one mild night after them. Wind and cloud stay the same throughout.

Surfaces. Effective temperature (h_c T_air + h_r (F T_sky + (1 - F) T_air) + absorbed sun) / (h_c + h_r), behind
h_c + h_r in series with what lies on the surface.

- h_c: forced convection across a cylinder (S. Churchill and M. Bernstein, Journal of Heat Transfer 99:300, 1977) and
  free convection at a vertical plate (S. Churchill and H. Chu, International Journal of Heat and Mass Transfer 18:1323,
  1975), both as in the source of the package ht 1.2.0 (seen), joined by the cube root of the sum of cubes (from
  memory), at half the wind of 10 m (assumed) and for a difference of 3 K (assumed).
- h_r = 4 x 0.95 sigma T_air^3.
- T_sky = T_air emissivity^(1/4); clear sky: the mean of Brutsaert 1975, 1.24 (e / T)^(1/7), and Idso and Jackson 1969,
  1 - 0.261 exp(-7.77e-4 (273.15 - T)^2) (both from memory), with e [hPa] of a dew point 4 K below the air (assumed);
  cloud c: (1 - 0.84 c) emissivity + 0.84 c (M. Unsworth and J. Monteith 1975, from memory).
- Sun: a half sine from 07:30 to 16:30 with 450 W/m2 at noon on level ground (assumed), times 1 - 0.75 c^3.4 (F. Kasten
  and G. Czeplak 1980, from memory) and the share that reaches the pot; 0.8 of it is absorbed, on the mean of the wall
  half as much as on the top (assumed).
- F: 0.5 on the wall, 0.6 on the top (assumed). On the wall 0.01 m2 K/W of plastic, on the top 0.1 of litter (assumed).
- Bottom: 8 W/(m2 K) (assumed) to a slab whose temperature follows the air within five days from 4 °C on (assumed).

Medium. Of moisture theta: dry conductivity 0.06 W/(m K), saturated 0.25^0.15 k_water^0.85 with 0.57 and 2.22 for
water and ice, between them by J. Cote and J.-M. Konrad, Canadian Geotechnical Journal 42:443, 2005, with kappa 0.60
unfrozen and 0.25 frozen for organic media (from memory), porosity 0.85 (assumed).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from alertd.thermal.film import Film
from alertd.thermal.medium import Medium

#: [W/(m2 K4)]
STEFAN_BOLTZMANN = 5.670374419e-8
#: [K] of 0 °C.
KELVIN = 273.15
#: [°C] In every pot at the start.
START = 4.0
#: [°C] Limit of what counts as cold volume.
COLD_LIMIT = -5.0
#: Conductivity [W/(m K)], kinematic viscosity [m2/s] and Prandtl number of air at 0 °C: CoolProp 8.0.0 (seen).
AIR = (0.02436, 1.3316e-5, 0.7108)


@dataclass(frozen=True)
class PotCase:
    """One pot in one weather.

    Parameters
    ----------
    name : str
        To find it again.
    litres : float
        [L]
    moisture : float
        Volume of water by volume of the medium.
    nights : int
        How many are cold.
    minimum : float
        [°F] Air temperature of each of them.
    wind : float
        [m/s] At 10 m.
    cloud : float
        Share of the sky.
    sun_share : float
        Of the sun that reaches the pot.
    """

    name: str
    litres: float
    moisture: float
    nights: int
    minimum: float
    wind: float
    cloud: float
    sun_share: float


def shape_of(litres: float) -> tuple[float, float, float]:
    """Return the inner radii at top and bottom and the height [m] of a nursery pot.

    15, 25 and 60 L are invented sizes close to what is sold; others have the proportions of 25 L.
    """
    known = {15.0: (0.145, 0.12, 0.27), 25.0: (0.17, 0.14, 0.33), 60.0: (0.23, 0.19, 0.43)}
    if litres in known:
        return known[litres]
    top, bottom, height = known[25.0]
    volume = np.pi * height / 3 * (top**2 + top * bottom + bottom**2)
    scale = float(np.cbrt(litres / 1000 / volume))
    return top * scale, bottom * scale, height * scale


def medium_of(moisture: float) -> Medium:
    """Return a bark and peat medium of some moisture."""
    saturation = moisture / 0.85

    def conductivity(water: float, kappa: float) -> float:
        saturated = 0.25**0.15 * water**0.85
        weight = kappa * saturation / (1 + (kappa - 1) * saturation)
        return float(0.06 + (saturated - 0.06) * weight)

    return Medium(
        conductivity_unfrozen=conductivity(0.57, 0.60),
        conductivity_frozen=conductivity(2.22, 0.25),
        heat_capacity_unfrozen=0.30e6 + 4.18e6 * moisture,
        heat_capacity_frozen=0.30e6 + 1.94e6 * moisture,
        latent_heat=3.34e8 * (moisture - 0.04),
    )


def air_of(case: PotCase) -> tuple[np.ndarray, np.ndarray]:
    """Return the hour of the day and the air temperature [°C] at the middle of each hour from 15:00 on."""
    cold = (case.minimum - 32.0) / 1.8
    minima = [0.0] * 4 + [cold] * case.nights + [0.0]
    maxima = [8.0] * 5 + [cold + 16.0 / 1.8] * (case.nights - 1) + [cold + 16.0 / 1.8, 8.0]
    extremes = [extreme for pair in zip(maxima, minima, strict=False) for extreme in pair]
    at = [day * 24 + offset for day in range(len(minima)) for offset in (0.0, 15.0)]
    middle = np.arange(24 * len(minima)) + 0.5
    before = np.searchsorted(at, middle, side="right") - 1
    times, values = np.array([*at, 24.0 * len(minima)]), np.array([*extremes, maxima[len(minima)]])
    share = (middle - times[before]) / (times[before + 1] - times[before])
    air = values[before] + (values[before + 1] - values[before]) * (1 - np.cos(np.pi * share)) / 2
    return (middle + 15.0) % 24.0, air


def convection(wind: float, diameter: float, height: float) -> float:
    """Return the coefficient [W/(m2 K)] of a pot in the wind of 10 m [m/s]."""
    conductivity, viscosity, prandtl = AIR
    reynolds = 0.5 * wind * diameter / viscosity
    forced = 0.3 + 0.62 * reynolds**0.5 * prandtl ** (1 / 3) / (1 + (0.4 / prandtl) ** (2 / 3)) ** 0.25 * (
        1 + (reynolds / 282000) ** (5 / 8)
    ) ** (4 / 5)
    rayleigh = 9.81 * 3.0 / KELVIN * height**3 / viscosity**2 * prandtl
    free = (0.825 + 0.387 * rayleigh ** (1 / 6) / (1 + (0.492 / prandtl) ** (9 / 16)) ** (8 / 27)) ** 2
    return float(np.cbrt((forced * conductivity / diameter) ** 3 + (free * conductivity / height) ** 3))


def sky_temperature(air: np.ndarray, cloud: float) -> np.ndarray:
    """Return the temperature [°C] of a black sky that radiates as much."""
    kelvin, dew = air + KELVIN, air - 4.0
    vapour = 6.108 * np.exp(17.27 * dew / (dew + 237.3))
    brutsaert = 1.24 * (vapour / kelvin) ** (1 / 7)
    idso_jackson = 1 - 0.261 * np.exp(-7.77e-4 * (KELVIN - kelvin) ** 2)
    emissivity = (1 - 0.84 * cloud) * (brutsaert + idso_jackson) / 2 + 0.84 * cloud
    return kelvin * emissivity**0.25 - KELVIN


def films_of(case: PotCase, offset: float = 0.0) -> tuple[Film, Film, Film]:
    """Return the films of wall, top and bottom, each of shape (1, n_times); `offset` [K] is added to the air."""
    hour, air = air_of(case)
    air += offset
    top_radius, bottom_radius, height = shape_of(case.litres)
    convective = convection(case.wind, top_radius + bottom_radius, height)
    radiative = 4 * 0.95 * STEFAN_BOLTZMANN * (air + KELVIN) ** 3
    total = convective + radiative
    sky = sky_temperature(air, case.cloud)
    level = 450.0 * np.clip(np.sin(np.pi * (hour - 7.5) / 9.0), 0.0, None) * ((hour > 7.5) & (hour < 16.5))
    absorbed = 0.8 * case.sun_share * (1 - 0.75 * case.cloud**3.4) * level

    def film(view: float, sun: np.ndarray, resistance: float) -> Film:
        outside = (convective * air + radiative * (view * sky + (1 - view) * air) + sun) / total
        return Film(outside[None, :], 1 / (1 / total + resistance)[None, :])

    slab = np.empty_like(air)
    state = START
    for number, now in enumerate(air):
        state += (now - state) * (1 - np.exp(-1 / 120))
        slab[number] = state
    bottom = Film(slab[None, :], np.full((1, air.size), 8.0))
    return film(0.5, absorbed / 2, 0.01), film(0.6, absorbed, 0.1), bottom


def agreed_cases() -> list[PotCase]:
    """Return the 18 cases by which resolutions are compared: three sizes, one or three nights, three minima."""
    return [
        PotCase(f"{litres:g} L, {nights} night(s) of {minimum:g} °F", litres, 0.35, nights, minimum, 2.0, 0.2, 0.4)
        for nights in (1, 3)
        for minimum in (20.0, 15.0, 10.0)
        for litres in (15.0, 25.0, 60.0)
    ]


def _radical_inverse(number: int, base: int) -> float:
    """Return a term of van der Corput's sequence: spread out evenly, and the same everywhere for ever."""
    result, digit = 0.0, 1.0 / base
    while number:
        number, rest = divmod(number, base)
        result += rest * digit
        digit /= base
    return result


def other_cases(count: int = 100) -> list[PotCase]:
    """Return cases spread over 5 to 100 L, dry to wet, one or two nights, and winds and skies (Halton's points)."""
    cases = []
    for number in range(1, count + 1):
        size, chill, wind, cloud = (_radical_inverse(number, base) for base in (2, 3, 5, 7))
        litres = round(5.0 * 20.0**size, 1)
        moisture = (0.12, 0.2, 0.35, 0.5)[number % 4]
        nights = 1 + (number // 4) % 2
        minimum = round(5.0 + 19.0 * chill, 1)
        speed = round(0.5 * 12.0**wind, 2)
        sun = (0.0, 0.4)[(number // 8) % 2]
        name = f"no. {number}: {litres:g} L, moisture {moisture:g}, {nights} night(s) of {minimum:g} °F"
        cases.append(PotCase(name, litres, moisture, nights, minimum, speed, round(0.9 * cloud, 2), sun))
    return cases
