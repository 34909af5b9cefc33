"""Moist air against psychrolib 2.5 and CoolProp 8.0 (PyPI), and against printed values of ASHRAE and of the FAO."""

import numpy as np
import psychrolib
import pytest
from CoolProp.HumidAirProp import HAPropsSI

from alertd.thermal.psychrometrics import (
    dew_point,
    frost_point,
    humidity_ratio,
    relative_humidity,
    saturation_vapour_pressure,
    saturation_vapour_pressure_over_ice,
    short_saturation_vapour_pressure,
    vapour_pressure,
    wet_bulb,
)

PRESSURE = 101325.0

#: psychrolib counts relative humidity below 0 °C over ice.
AIRS = [
    (0.0, 0.5),
    (-5.0, 0.6),
    (5.0, 0.4),
    (25.0, 0.5),
    (-20.0, 0.9),
    (-12.0, 0.3),
    (1.0, 0.3),
    (40.0, 0.14),
    (3.0, 1.0),
]


@pytest.fixture(scope="module", autouse=True)
def international_units():
    psychrolib.SetUnitSystem(psychrolib.SI)


def vapour_of(air_temperature, humidity):
    over = saturation_vapour_pressure_over_ice if air_temperature <= 0 else saturation_vapour_pressure
    return humidity * over(air_temperature)


@pytest.mark.parametrize(("temperature", "pascal"), [(5, 872.6), (25, 3169.7)])
def test_saturation_over_water_is_that_of_ashrae(temperature, pascal):
    """ASHRAE Fundamentals 2017, chapter 1, table 3, as the tests of psychrolib state it (seen), which allow 0.03 %."""
    assert saturation_vapour_pressure(temperature) == pytest.approx(pascal, rel=3e-4)


@pytest.mark.parametrize(("temperature", "pascal"), [(-60, 1.08), (-20, 103.24), (-5, 401.74)])
def test_saturation_over_ice_is_that_of_ashrae(temperature, pascal):
    """The same table; the first value is printed with three digits."""
    assert saturation_vapour_pressure_over_ice(temperature) == pytest.approx(pascal, abs=0.005, rel=3e-4)


def test_saturation_is_that_of_psychrolib_to_nine_digits():
    for temperature in np.linspace(-60.0, 60.0, 25):
        over = saturation_vapour_pressure_over_ice if temperature <= 0 else saturation_vapour_pressure
        assert over(temperature) == pytest.approx(psychrolib.GetSatVapPres(temperature), rel=1e-9)


def test_the_short_equations_stay_near_the_long_ones():
    water = np.linspace(-20.0, 40.0, 121)
    ice = np.linspace(-20.0, 0.0, 41)
    assert np.abs(short_saturation_vapour_pressure(water) / saturation_vapour_pressure(water) - 1).max() < 1e-2
    frozen = short_saturation_vapour_pressure(ice, over_ice=True)
    assert np.abs(frozen / saturation_vapour_pressure_over_ice(ice) - 1).max() < 1e-2


def test_the_short_equation_gives_the_examples_of_the_fao():
    """FAO-56 examples 3 (15 and 24.5 °C: mean 2.39 kPa) and 5 (18 and 25 °C: 2.064, 3.168 kPa), seen in a list."""
    assert short_saturation_vapour_pressure(np.array([15.0, 24.5])).mean() == pytest.approx(2390, abs=5)
    assert short_saturation_vapour_pressure(18.0) == pytest.approx(2064, abs=0.5)
    assert short_saturation_vapour_pressure(25.0) == pytest.approx(3168, abs=0.5)


def test_undercooled_water_has_more_vapour_than_ice():
    """Murphy & Koop 2005: 286.5 Pa over water and 259.9 Pa over ice at -10 °C, from memory."""
    assert saturation_vapour_pressure(-10.0) == pytest.approx(286.5, rel=5e-3)
    assert saturation_vapour_pressure_over_ice(-10.0) == pytest.approx(259.9, rel=1e-3)


@pytest.mark.parametrize(("air_temperature", "humidity"), AIRS)
def test_dew_and_frost_points_are_those_of_psychrolib(air_temperature, humidity):
    vapour = vapour_of(air_temperature, humidity)
    expected = psychrolib.GetTDewPointFromRelHum(air_temperature, humidity)
    assert (frost_point(vapour) if expected <= 0 else dew_point(vapour)) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(("air_temperature", "humidity"), AIRS)
def test_wet_bulbs_are_those_of_psychrolib(air_temperature, humidity):
    """psychrolib stops at 0.001 K."""
    own = wet_bulb(air_temperature, dew_point(vapour_of(air_temperature, humidity)), PRESSURE)
    assert own == pytest.approx(psychrolib.GetTWetBulbFromRelHum(air_temperature, humidity, PRESSURE), abs=1.1e-3)


@pytest.mark.parametrize(("air_temperature", "humidity"), [(5.0, 0.4), (25.0, 0.5), (-5.0, 0.6)])
def test_dew_points_and_wet_bulbs_are_those_of_coolprop(air_temperature, humidity):
    """CoolProp knows that air is no ideal gas, which moves a bulb by 0.01 K."""
    vapour = vapour_of(air_temperature, humidity)
    point, bulb = (
        HAPropsSI(quantity, "T", air_temperature + 273.15, "R", humidity, "P", PRESSURE) - 273.15
        for quantity in ("D", "B")
    )
    assert (frost_point(vapour) if point <= 0 else dew_point(vapour)) == pytest.approx(point, abs=0.005)
    assert wet_bulb(air_temperature, dew_point(vapour), PRESSURE) == pytest.approx(bulb, abs=0.012)


def test_wet_bulbs_in_the_mountains_are_those_of_psychrolib():
    own = wet_bulb(-5.0, dew_point(vapour_of(-5.0, 0.6)), 80000.0)
    assert own == pytest.approx(psychrolib.GetTWetBulbFromRelHum(-5.0, 0.6, 80000.0), abs=1.1e-3)


def test_the_bulb_of_ashrae_example_1():
    """ASHRAE Fundamentals 2017, chapter 1, example 1: 40 °C, wet bulb 20 °C has 0.0065 kg/kg, dew point 7 °C, 14 %."""
    own = wet_bulb(40.0, 7.0)
    assert own == pytest.approx(20.0, abs=0.3)  # the example is read off a chart
    vapour = dew_point(vapour_pressure(7.0))
    assert vapour == pytest.approx(7.0, abs=1e-9)
    assert humidity_ratio(vapour_pressure(7.0)) == pytest.approx(0.0065, abs=3e-4)
    assert relative_humidity(40.0, 7.0) == pytest.approx(0.14, abs=0.005)


def test_forecast_dew_points_are_dew_points_of_metpy():
    """MetPy 1.7.1, over water, output seen: (0 °C, 50 %), (5 °C, 40 %), (25 °C, 50 %)."""
    for air_temperature, humidity, expected in ((0.0, 0.5, -9.2006), (5.0, 0.4, -7.4961), (25.0, 0.5, 13.8429)):
        own = dew_point(humidity * saturation_vapour_pressure(air_temperature))
        assert own == pytest.approx(expected, abs=0.025)
