"""Temperatures and temperature differences, °C inside, °F or °C at the edges."""

from __future__ import annotations

from enum import StrEnum

#: 0 °C in kelvin. Source: SI Brochure, 9th edition (2019), section 2.3.1 (from memory).
ZERO_CELSIUS_IN_KELVIN = 273.15

#: Freezing point of water on the Fahrenheit scale [°F]. By definition of the scale.
FREEZING_POINT_FAHRENHEIT = 32.0

#: One degree Celsius in degrees Fahrenheit. By definition of the scale.
FAHRENHEIT_PER_CELSIUS = 1.8


class TemperatureUnit(StrEnum):
    """Unit of temperature for people, by its UCUM code."""

    CELSIUS = "Cel"
    FAHRENHEIT = "degF"

    @property
    def symbol(self) -> str:
        """The sign that a reader expects: °C or °F."""
        return "°F" if self is TemperatureUnit.FAHRENHEIT else "°C"


def celsius(value: float, unit: TemperatureUnit) -> float:
    """Return a temperature given in `unit` in °C.

    Parameters
    ----------
    value : float
        Temperature [`unit`].
    unit : TemperatureUnit
        Unit of `value`.

    Returns
    -------
    float
        Temperature [°C].

    Examples
    --------
    >>> round(celsius(15.0, TemperatureUnit.FAHRENHEIT), 2)
    -9.44
    """
    if unit is TemperatureUnit.FAHRENHEIT:
        return (value - FREEZING_POINT_FAHRENHEIT) / FAHRENHEIT_PER_CELSIUS
    return value


def celsius_difference(value: float, unit: TemperatureUnit) -> float:
    """Return a temperature difference given in degrees of `unit` in °C.

    Parameters
    ----------
    value : float
        Difference [`unit` degrees].
    unit : TemperatureUnit
        Unit of `value`.

    Returns
    -------
    float
        Difference [°C].

    Examples
    --------
    >>> round(celsius_difference(5.0, TemperatureUnit.FAHRENHEIT), 2)
    2.78
    """
    return value / FAHRENHEIT_PER_CELSIUS if unit is TemperatureUnit.FAHRENHEIT else value


def in_unit(temperature: float, unit: TemperatureUnit) -> float:
    """Return a temperature given in °C in `unit`.

    Parameters
    ----------
    temperature : float
        Temperature [°C].
    unit : TemperatureUnit
        Unit wanted.

    Returns
    -------
    float
        Temperature [`unit`].

    Examples
    --------
    >>> round(in_unit(-40.0, TemperatureUnit.FAHRENHEIT), 6)
    -40.0
    """
    if unit is TemperatureUnit.FAHRENHEIT:
        return temperature * FAHRENHEIT_PER_CELSIUS + FREEZING_POINT_FAHRENHEIT
    return temperature


def difference_in_unit(difference: float, unit: TemperatureUnit) -> float:
    """Return a temperature difference given in °C in degrees of `unit`.

    Parameters
    ----------
    difference : float
        Difference [°C].
    unit : TemperatureUnit
        Unit wanted.

    Returns
    -------
    float
        Difference [`unit` degrees].

    Examples
    --------
    >>> difference_in_unit(10.0, TemperatureUnit.FAHRENHEIT)
    18.0
    """
    return difference * FAHRENHEIT_PER_CELSIUS if unit is TemperatureUnit.FAHRENHEIT else difference


def temperature_text(temperature: float, unit: TemperatureUnit) -> str:
    """Return a temperature as people read it, in whole degrees.

    Parameters
    ----------
    temperature : float
        Temperature [°C].
    unit : TemperatureUnit
        Unit of the text.

    Returns
    -------
    str
        Like ``14 °F`` or ``-10 °C``; minus zero is written ``0``.

    Examples
    --------
    >>> temperature_text(-9.44, TemperatureUnit.FAHRENHEIT)
    '15 °F'
    """
    whole = round(in_unit(temperature, unit))
    return f"{whole} {unit.symbol}"


def threshold_text(temperature: float, unit: TemperatureUnit) -> str:
    """Return a threshold as people read it, with a tenth of a degree where it has one.

    Parameters
    ----------
    temperature : float
        Temperature [°C].
    unit : TemperatureUnit
        Unit of the text.

    Returns
    -------
    str
        Like ``15 °F`` or ``-12.2 °C``.

    Examples
    --------
    >>> threshold_text((10.0 - 32.0) / 1.8, TemperatureUnit.CELSIUS)
    '-12.2 °C'
    """
    tenths = round(in_unit(temperature, unit), 1) + 0.0
    return f"{tenths:.1f}".removesuffix(".0") + f" {unit.symbol}"
