"""Moist air: vapour pressure, dew and frost point, wet bulb.

Forecasts state dew points over water, also below 0 °C; what is wet below 0 °C soon is ice, so frost points and wet
bulbs below 0 °C are those over ice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from .air import STANDARD_PRESSURE, ZERO_CELSIUS
from .bracketing import zero_of_increasing

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import Numbers

#: Molar mass of water by that of dry air [1]. Source: ASHRAE Handbook of Fundamentals 2017, chapter 1, equation 20;
#: seen in the source of psychrolib 2.5.
MOLAR_MASS_RATIO = 0.621945

#: Of the logarithm of the saturation pressure over water [Pa] at a temperature in K: 1/T, 1, T, T2, T3, ln T.
#: Source: Hyland & Wexler 1983 as ASHRAE Fundamentals 2017, chapter 1, equation 6 prints it; seen in psychrolib 2.5.
_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 6.5459673)

#: The same over ice, with T4 before ln T. Source: equation 5 there; seen in psychrolib 2.5.
_ICE = (-5.6745359e3, 6.3925247, -9.6778430e-3, 6.2215701e-7, 2.0747825e-9, -9.4840240e-13, 4.1635019)

#: Humidity ratio within which a wet bulb counts as found [kg/kg]: less than 1e-6 K.
_WET_BULB_RESIDUAL = 1e-11


def saturation_vapour_pressure(temperature: Numbers) -> NDArray[np.float64]:
    """Return the saturation vapour pressure over water, below 0 °C over undercooled water.

    Parameters
    ----------
    temperature : float or numpy.ndarray
        [°C] The equation is made for 0 to 200 °C and continues well: at -10 °C within 0.5 % of Murphy & Koop 2005
        (from memory).

    Returns
    -------
    numpy.ndarray
        [Pa]

    References
    ----------
    Hyland & Wexler 1983, as ASHRAE Handbook of Fundamentals 2017, chapter 1, equation 6; seen in psychrolib 2.5.
    """
    return np.exp(_logarithm(_WATER, _kelvin(temperature)))


def saturation_vapour_pressure_over_ice(temperature: Numbers) -> NDArray[np.float64]:
    """Return the saturation vapour pressure over ice.

    Parameters
    ----------
    temperature : float or numpy.ndarray
        [°C] -100 to 0 °C.

    Returns
    -------
    numpy.ndarray
        [Pa]

    References
    ----------
    Hyland & Wexler 1983, as ASHRAE Handbook of Fundamentals 2017, chapter 1, equation 5; seen in psychrolib 2.5.
    """
    return np.exp(_logarithm(_ICE, _kelvin(temperature)))


def short_saturation_vapour_pressure(
    temperature: Numbers, *, over_ice: bool | NDArray[np.bool_] = False
) -> NDArray[np.float64]:
    """Return the saturation vapour pressure by the short equations, for where it is asked for again and again.

    Parameters
    ----------
    temperature : float or numpy.ndarray
        [°C] From -20 °C on within 1 % of the long equations, from -10 °C on within 0.7 % (tested).
    over_ice : bool or numpy.ndarray
        Over ice or over water.

    Returns
    -------
    numpy.ndarray
        [Pa] The same for both at 0 °C.

    References
    ----------
    Over water Allen et al. 1998, FAO Irrigation and Drainage Paper 56, equation 11, seen; over ice Murray 1967,
    J. Applied Meteorology 6:203, from memory, with the FAO's pressure at 0 °C.
    """
    celsius = np.asarray(temperature, dtype=np.float64)
    rise, shift = np.where(over_ice, 21.875, 17.27), np.where(over_ice, 265.5, 237.3)
    return 610.8 * np.exp(rise * celsius / (celsius + shift))


def vapour_pressure(dew_point_temperature: Numbers) -> NDArray[np.float64]:
    """Return the vapour pressure of air with a dew point over water.

    Parameters
    ----------
    dew_point_temperature : float or numpy.ndarray
        [°C]

    Returns
    -------
    numpy.ndarray
        [Pa]
    """
    return saturation_vapour_pressure(dew_point_temperature)


def dew_point(vapour: Numbers) -> NDArray[np.float64]:
    """Return the dew point over water.

    Parameters
    ----------
    vapour : float or numpy.ndarray
        [Pa] Above 0.

    Returns
    -------
    numpy.ndarray
        [°C]
    """
    return _saturated_at(_WATER, vapour)


def frost_point(vapour: Numbers) -> NDArray[np.float64]:
    """Return the temperature at which hoar begins to form.

    Parameters
    ----------
    vapour : float or numpy.ndarray
        [Pa] Above 0; meaningful up to 611 Pa.

    Returns
    -------
    numpy.ndarray
        [°C] Over ice; higher than the dew point over water, by 1.1 K around -10 °C.
    """
    return _saturated_at(_ICE, vapour)


def relative_humidity(air_temperature: Numbers, dew_point_temperature: Numbers) -> NDArray[np.float64]:
    """Return the relative humidity over water, as weather services state it.

    Parameters
    ----------
    air_temperature, dew_point_temperature : float or numpy.ndarray
        [°C] The dew point over water.

    Returns
    -------
    numpy.ndarray
        [1] Never above 1.
    """
    ratio = saturation_vapour_pressure(dew_point_temperature) / saturation_vapour_pressure(air_temperature)
    return np.minimum(ratio, 1.0)


def humidity_ratio(vapour: Numbers, pressure: Numbers = STANDARD_PRESSURE) -> NDArray[np.float64]:
    """Return the mass of vapour by that of dry air.

    Parameters
    ----------
    vapour, pressure : float or numpy.ndarray
        [Pa]

    Returns
    -------
    numpy.ndarray
        [kg/kg]

    References
    ----------
    ASHRAE Handbook of Fundamentals 2017, chapter 1, equation 20; seen in psychrolib 2.5.
    """
    partial = np.asarray(vapour, dtype=np.float64)
    return MOLAR_MASS_RATIO * partial / (pressure - partial)


def wet_bulb(
    air_temperature: Numbers, dew_point_temperature: Numbers, pressure: Numbers = STANDARD_PRESSURE
) -> NDArray[np.float64]:
    """Return the thermodynamic wet-bulb temperature, below 0 °C that of a bulb covered by ice.

    Parameters
    ----------
    air_temperature, dew_point_temperature : float or numpy.ndarray
        [°C] The dew point over water; one above the air temperature counts as saturated air.
    pressure : float or numpy.ndarray
        [Pa]

    Returns
    -------
    numpy.ndarray
        [°C] Where a wet bulb would stay just above 0 °C the bulb is taken as wet, though one of ice exists there too.

    References
    ----------
    ASHRAE Handbook of Fundamentals 2017, chapter 1, equations 33 and 35; seen in psychrolib 2.5.
    """
    air, dew, total = np.broadcast_arrays(
        np.asarray(air_temperature, dtype=np.float64), np.minimum(dew_point_temperature, air_temperature), pressure
    )
    vapour = vapour_pressure(dew)
    ratio = humidity_ratio(vapour, total)
    frost = frost_point(vapour)

    def excess_of_wet(bulb: NDArray[np.float64]) -> NDArray[np.float64]:
        saturated = humidity_ratio(saturation_vapour_pressure(bulb), total)
        return ((2501.0 - 2.326 * bulb) * saturated - 1.006 * (air - bulb)) / (
            2501.0 + 1.86 * air - 4.186 * bulb
        ) - ratio

    def excess_of_icy(bulb: NDArray[np.float64]) -> NDArray[np.float64]:
        saturated = humidity_ratio(saturation_vapour_pressure_over_ice(bulb), total)
        return ((2830.0 - 0.24 * bulb) * saturated - 1.006 * (air - bulb)) / (2830.0 + 1.86 * air - 2.1 * bulb) - ratio

    wet = zero_of_increasing(excess_of_wet, dew, air, _WET_BULB_RESIDUAL)
    icy = zero_of_increasing(excess_of_icy, np.minimum(frost, air), np.maximum(frost, air), _WET_BULB_RESIDUAL)
    return np.where(wet < 0.0, icy, wet)


def _kelvin(celsius: Numbers) -> NDArray[np.float64]:
    """Return a temperature in K."""
    return np.asarray(celsius, dtype=np.float64) + ZERO_CELSIUS


def _logarithm(coefficients: tuple[float, ...], kelvin: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the logarithm of a saturation pressure [Pa]."""
    reciprocal, *polynomial, logarithmic = coefficients
    value = np.zeros_like(kelvin)
    for coefficient in reversed(polynomial):
        value = value * kelvin + coefficient
    return value + reciprocal / kelvin + logarithmic * np.log(kelvin)


def _slope(coefficients: tuple[float, ...], kelvin: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the derivative of the logarithm of a saturation pressure [1/K]."""
    reciprocal, _, *polynomial, logarithmic = coefficients
    value = np.zeros_like(kelvin)
    for power in range(len(polynomial), 0, -1):
        value = value * kelvin + power * polynomial[power - 1]
    return value - reciprocal / kelvin**2 + logarithmic / kelvin


def _saturated_at(coefficients: tuple[float, ...], vapour: Numbers) -> NDArray[np.float64]:
    """Return where the air is saturated [°C]: Newton on the logarithm, from the short equation of the FAO."""
    wanted = np.log(np.asarray(vapour, dtype=np.float64))
    short = wanted - np.log(610.8)
    kelvin: NDArray[np.float64] = 237.3 * short / (17.27 - short) + ZERO_CELSIUS
    for _ in range(4):  # the slope changes by less than 1 % per K; the fourth step is below 1e-10 K
        kelvin = kelvin - (_logarithm(coefficients, kelvin) - wanted) / _slope(coefficients, kelvin)
    return kelvin - ZERO_CELSIUS
