import pytest

from alertd.core import (
    TemperatureUnit,
    celsius,
    celsius_difference,
    difference_in_unit,
    in_unit,
    temperature_text,
    threshold_text,
)

CELSIUS, FAHRENHEIT = TemperatureUnit.CELSIUS, TemperatureUnit.FAHRENHEIT


def test_units_are_named_by_ucum_and_shown_as_people_write_them():
    assert [unit.value for unit in TemperatureUnit] == ["Cel", "degF"]
    assert [unit.symbol for unit in TemperatureUnit] == ["°C", "°F"]


def test_celsius_passes_through_unchanged():
    for function in (celsius, celsius_difference, in_unit, difference_in_unit):
        assert function(-9.44, CELSIUS) == -9.44


def test_a_difference_has_no_offset():
    assert celsius_difference(9.0, FAHRENHEIT) == pytest.approx(5.0)
    assert difference_in_unit(5.0, FAHRENHEIT) == pytest.approx(9.0)
    assert difference_in_unit(0.0, FAHRENHEIT) == 0.0


@pytest.mark.parametrize(
    ("temperature", "unit", "text"),
    [
        (-9.44, FAHRENHEIT, "15 °F"),
        (-9.44, CELSIUS, "-9 °C"),
        (-0.4, CELSIUS, "0 °C"),
        (-17.8, FAHRENHEIT, "0 °F"),
        (-20.6, FAHRENHEIT, "-5 °F"),
        (21.0, CELSIUS, "21 °C"),
    ],
)
def test_people_read_whole_degrees_and_never_minus_zero(temperature, unit, text):
    assert temperature_text(temperature, unit) == text


@pytest.mark.parametrize(
    ("temperature", "unit", "text"),
    [
        ((15.0 - 32.0) / 1.8, FAHRENHEIT, "15 °F"),
        ((15.0 - 32.0) / 1.8, CELSIUS, "-9.4 °C"),
        (-7.0, CELSIUS, "-7 °C"),
        (-0.01, CELSIUS, "0 °C"),
        (-1.1, CELSIUS, "-1.1 °C"),
        (-17.0, FAHRENHEIT, "1.4 °F"),
    ],
)
def test_a_threshold_keeps_a_tenth_where_it_has_one(temperature, unit, text):
    assert threshold_text(temperature, unit) == text


def test_fahrenheit_is_converted_with_its_offset():
    assert celsius(14.0, FAHRENHEIT) == pytest.approx(-10.0)
    assert in_unit(-10.0, FAHRENHEIT) == pytest.approx(14.0)
