"""Temperatures against fixed points that hold by definition or are published.

0 °C is 273.15 K and the triple point of water 273.16 K (SI Brochure, 9th edition, 2019, from memory); 32 °F and
212 °F are the freezing and boiling point of water, and -40 is the same on both scales (by definition).
"""

import pytest

from alertd.core import TemperatureUnit, celsius, celsius_difference, in_unit
from alertd.core.temperature import FAHRENHEIT_PER_CELSIUS, FREEZING_POINT_FAHRENHEIT, ZERO_CELSIUS_IN_KELVIN
from alertd.hardiness import BUILT_IN_CLASSES
from alertd.weather.dressing import ERROR_BY_LEAD_TIME

FAHRENHEIT = TemperatureUnit.FAHRENHEIT


def test_zero_celsius_is_not_the_triple_point():
    assert ZERO_CELSIUS_IN_KELVIN == 273.15
    assert FREEZING_POINT_FAHRENHEIT == 32.0
    assert FAHRENHEIT_PER_CELSIUS == 9 / 5


@pytest.mark.parametrize(("fahrenheit", "degrees"), [(-40.0, -40.0), (32.0, 0.0), (212.0, 100.0), (-459.67, -273.15)])
def test_fixed_points_of_both_scales(fahrenheit, degrees):
    assert celsius(fahrenheit, FAHRENHEIT) == pytest.approx(degrees, abs=1e-9)
    assert in_unit(degrees, FAHRENHEIT) == pytest.approx(fahrenheit, abs=1e-9)


@pytest.mark.parametrize(
    ("fahrenheit", "degrees"), [(15.0, -9.4), (10.0, -12.2), (5.0, -15.0), (0.0, -17.8), (-5.0, -20.6)]
)
def test_the_trades_thresholds_to_a_tenth(fahrenheit, degrees):
    assert round(celsius(fahrenheit, FAHRENHEIT), 1) == degrees


@pytest.mark.parametrize(("fahrenheit", "degrees"), [(5.0, 2.8), (10.0, 5.6), (1.8, 1.0)])
def test_differences_have_no_offset(fahrenheit, degrees):
    assert round(celsius_difference(fahrenheit, FAHRENHEIT), 1) == degrees


def test_values_given_in_fahrenheit_elsewhere_are_converted_alike():
    fig = next(each for each in BUILT_IN_CLASSES if each.name == "fig")
    assert fig.wood == pytest.approx(celsius(10.0, FAHRENHEIT))
    assert dict(ERROR_BY_LEAD_TIME)[34.0] == pytest.approx(celsius_difference(4.0, FAHRENHEIT))
