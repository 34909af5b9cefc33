"""The sky as a cold surface: long-wave radiation.

The formulae for the clear sky differ by some 30 W/m2 on a dry frost night, more than any other doubt about a calm
night. Two of them that lie apart are used: their mean by default, half their difference as the spread.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .air import ZERO_CELSIUS
from .parameters import Parameter
from .psychrometrics import vapour_pressure

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import Numbers

#: Stefan-Boltzmann constant [W/(m2 K4)]. Source: CODATA 2018, exact.
STEFAN_BOLTZMANN = 5.670374419e-8

#: Share of the missing emissivity that a full cloud cover closes [1]. Source: Unsworth & Monteith 1975, from memory.
CLOUD_CLOSES = 0.84

#: How far the sky may lie from the mean of the two formulae.
SKY_PARAMETERS = (
    Parameter(
        "sky_deviation",
        0.0,
        -1.0,
        1.0,
        "1",
        "how warm the clear sky is, from the colder of two formulae (-1) to the warmer (1)",
        "assumed: the mean of Brutsaert 1975 and Idso & Jackson 1969, half their difference as one standard deviation",
    ),
)


def brutsaert_emissivity(air_temperature: Numbers, vapour: Numbers) -> NDArray[np.float64]:
    """Return the emissivity of the clear sky by the moisture of the air.

    Parameters
    ----------
    air_temperature : float or numpy.ndarray
        [°C] At two metres.
    vapour : float or numpy.ndarray
        [Pa] Vapour pressure at two metres.

    Returns
    -------
    numpy.ndarray
        [1] Never above 1.

    References
    ----------
    Brutsaert 1975, Water Resources Research 11:742: 1.24 (e/T)^(1/7), e in hPa, T in K; from memory.
    """
    kelvin = np.asarray(air_temperature, dtype=np.float64) + ZERO_CELSIUS
    return np.minimum(1.24 * (np.asarray(vapour, dtype=np.float64) / 100.0 / kelvin) ** (1.0 / 7.0), 1.0)


def idso_jackson_emissivity(air_temperature: Numbers) -> NDArray[np.float64]:
    """Return the emissivity of the clear sky by the temperature of the air.

    Parameters
    ----------
    air_temperature : float or numpy.ndarray
        [°C] At two metres.

    Returns
    -------
    numpy.ndarray
        [1]

    References
    ----------
    Idso & Jackson 1969, J. Geophysical Research 74:5397: 1 - 0.261 exp(-7.77e-4 (273 - T)^2), T in K, here with
    273.15; from memory.
    """
    celsius = np.asarray(air_temperature, dtype=np.float64)
    return 1.0 - 0.261 * np.exp(-7.77e-4 * celsius * celsius)


def clear_sky_emissivity(
    air_temperature: Numbers, dew_point: Numbers
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the emissivity of the clear sky and how well it is known.

    Parameters
    ----------
    air_temperature, dew_point : float or numpy.ndarray
        [°C] At two metres, the dew point over water; one above the air temperature counts as saturated air.

    Returns
    -------
    emissivity : numpy.ndarray
        [1] Mean of the two formulae.
    spread : numpy.ndarray
        [1] Half their difference: one standard deviation.
    """
    moist = brutsaert_emissivity(air_temperature, vapour_pressure(np.minimum(dew_point, air_temperature)))
    thermal = idso_jackson_emissivity(air_temperature)
    return (moist + thermal) / 2.0, np.abs(moist - thermal) / 2.0


def clouded_emissivity(clear: Numbers, cloud: Numbers) -> NDArray[np.float64]:
    """Return the emissivity of a sky with clouds.

    Parameters
    ----------
    clear : float or numpy.ndarray
        [1] Emissivity of the clear sky.
    cloud : float or numpy.ndarray
        [1] Cloud cover, 0 to 1.

    Returns
    -------
    numpy.ndarray
        [1]

    Raises
    ------
    ValueError
        If a cloud cover lies outside 0 to 1.

    References
    ----------
    Unsworth & Monteith 1975, Quarterly J. Royal Meteorological Society 101:13, from memory.
    """
    cover = cloud_cover(cloud)
    return (1.0 - CLOUD_CLOSES * cover) * np.asarray(clear, dtype=np.float64) + CLOUD_CLOSES * cover


def cloud_cover(cloud: Numbers) -> NDArray[np.float64]:
    """Return a cloud cover as an array that is known to lie between 0 and 1.

    Parameters
    ----------
    cloud : float or numpy.ndarray
        [1] 0 to 1; NaN stays NaN.

    Returns
    -------
    numpy.ndarray
        The same.

    Raises
    ------
    ValueError
        If a value lies outside.
    """
    cover = np.asarray(cloud, dtype=np.float64)
    wrong = (cover < 0.0) | (cover > 1.0)
    if wrong.any():
        message = f"cloud cover {float(cover[wrong].flat[0])} is not between 0 and 1"
        raise ValueError(message)
    return cover


def sky_radiation(
    air_temperature: Numbers, dew_point: Numbers, cloud: Numbers, *, deviation: Numbers = 0.0
) -> NDArray[np.float64]:
    """Return the long-wave radiation that comes down from the sky.

    Parameters
    ----------
    air_temperature, dew_point : float or numpy.ndarray
        [°C] At two metres.
    cloud : float or numpy.ndarray
        [1] Cloud cover, 0 to 1.
    deviation : float or numpy.ndarray
        [1] Spreads by which the clear sky differs from the mean of the formulae: -1 is the colder, 1 the warmer one.

    Returns
    -------
    numpy.ndarray
        [W/m2] On a horizontal surface.

    Raises
    ------
    ValueError
        If a cloud cover lies outside 0 to 1.
    """
    mean, spread = clear_sky_emissivity(air_temperature, dew_point)
    clear = np.minimum(mean + deviation * spread, 1.0)
    return clouded_emissivity(clear, cloud) * black_radiation(air_temperature)


def sky_temperature(
    air_temperature: Numbers, dew_point: Numbers, cloud: Numbers, *, deviation: Numbers = 0.0
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the temperature of a black surface that would radiate as the sky does.

    Parameters
    ----------
    air_temperature, dew_point : float or numpy.ndarray
        [°C] At two metres.
    cloud : float or numpy.ndarray
        [1] Cloud cover, 0 to 1.
    deviation : float or numpy.ndarray
        [1] Spreads by which the clear sky differs from the mean of the formulae: -1 is the colder, 1 the warmer one.

    Returns
    -------
    temperature : numpy.ndarray
        [°C]
    spread : numpy.ndarray
        [K] One standard deviation, from the difference of the two formulae.

    Raises
    ------
    ValueError
        If a cloud cover lies outside 0 to 1.
    """
    mean, spread = clear_sky_emissivity(air_temperature, dew_point)
    kelvin = np.asarray(air_temperature, dtype=np.float64) + ZERO_CELSIUS

    def temperature_for(clear: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.sqrt(np.sqrt(clouded_emissivity(np.minimum(clear, 1.0), cloud))) * kelvin - ZERO_CELSIUS

    half = (temperature_for(mean + spread) - temperature_for(mean - spread)) / 2.0
    return temperature_for(mean + deviation * spread), half


def black_radiation(temperature: Numbers) -> NDArray[np.float64]:
    """Return what a black surface radiates.

    Parameters
    ----------
    temperature : float or numpy.ndarray
        [°C]

    Returns
    -------
    numpy.ndarray
        [W/m2]
    """
    squared = (np.asarray(temperature, dtype=np.float64) + ZERO_CELSIUS) ** 2
    return STEFAN_BOLTZMANN * squared * squared


def radiative_coefficient(
    surface_temperature: Numbers, surroundings_temperature: Numbers, emissivity: Numbers = 0.95
) -> NDArray[np.float64]:
    """Return long-wave exchange with surroundings as a coefficient to be multiplied by the difference.

    Parameters
    ----------
    surface_temperature, surroundings_temperature : float or numpy.ndarray
        [°C] For this pair it is exact.
    emissivity : float or numpy.ndarray
        [1] Of the surface. 0.95: from memory, bark, leaves, soil and dark plastic have 0.93 to 0.98.

    Returns
    -------
    numpy.ndarray
        [W/(m2 K)]
    """
    surface = np.asarray(surface_temperature, dtype=np.float64) + ZERO_CELSIUS
    around = np.asarray(surroundings_temperature, dtype=np.float64) + ZERO_CELSIUS
    return STEFAN_BOLTZMANN * emissivity * (surface * surface + around * around) * (surface + around)


def net_long_wave(maximum: Numbers, minimum: Numbers, vapour: Numbers, clearness: Numbers) -> NDArray[np.float64]:
    """Return what ground covered by grass loses by long-wave radiation, by the guide of the FAO.

    Parameters
    ----------
    maximum, minimum : float or numpy.ndarray
        [°C] Air temperature of the day (or the same value twice for an hour).
    vapour : float or numpy.ndarray
        [Pa] Vapour pressure.
    clearness : float or numpy.ndarray
        [1] Global irradiance by that of a clear sky, 0.3 to 1.

    Returns
    -------
    numpy.ndarray
        [W/m2] Mean, upward.

    References
    ----------
    Allen et al. 1998, FAO Irrigation and Drainage Paper 56, equation 39; the equation seen in a list of the guide's
    worked examples.
    """
    mean = (black_radiation(maximum) + black_radiation(minimum)) / 2.0
    humid = 0.34 - 0.14 * np.sqrt(np.asarray(vapour, dtype=np.float64) / 1000.0)
    return mean * humid * (1.35 * np.asarray(clearness, dtype=np.float64) - 0.35)
