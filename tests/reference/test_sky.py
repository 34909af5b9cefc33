"""The sky against FAO-56 and the package refet 0.5 (PyPI); of the clear-sky formulae only hand values are at hand."""

import numpy as np
import pytest
import refet.calcs

from alertd.thermal.psychrometrics import short_saturation_vapour_pressure, vapour_pressure
from alertd.thermal.sky import (
    black_radiation,
    brutsaert_emissivity,
    clear_sky_emissivity,
    idso_jackson_emissivity,
    net_long_wave,
    sky_radiation,
    sky_temperature,
)

#: [W/m2] of 1 MJ per day and m2.
DAY = 1e6 / 86400.0


def test_net_long_wave_is_that_of_fao_56_example_11():
    """FAO-56 example 11: 25.1 and 19.1 °C, 2.1 kPa, 14.5 of 18.8 MJ give 3.5 MJ per day; seen in a list."""
    loss = net_long_wave(25.1, 19.1, 2100.0, 14.5 / 18.8)
    assert loss / DAY == pytest.approx(3.5, abs=0.05)


@pytest.mark.parametrize(("maximum", "minimum", "vapour", "share"), [(25.1, 19.1, 2.1, 0.7), (2.0, -12.0, 0.2, 1.0)])
def test_net_long_wave_is_that_of_refet(maximum, minimum, vapour, share):
    """refet counts 0 °C as 273.16 K, which is 0.01 K, and rounds the constant of Stefan and Boltzmann: 0.1 %."""
    expected = refet.calcs.rnl_daily(maximum, minimum, vapour, 1.35 * share - 0.35)
    assert net_long_wave(maximum, minimum, 1000 * vapour, share) / DAY == pytest.approx(expected, rel=1e-3)


def test_the_net_long_wave_of_an_hour_is_that_of_refet():
    """rnl_hourly(0 °C, 0.4217 kPa, 1) = 0.283187 MJ per hour = 78.66 W/m2."""
    expected = refet.calcs.rnl_hourly(np.array([0.0]), np.array([0.4217]), np.array([1.0]))[0] * 1e6 / 3600
    assert expected == pytest.approx(78.66, abs=0.01)
    assert net_long_wave(0.0, 0.0, 421.7, 1.0) == pytest.approx(expected, rel=1e-3)


def test_the_two_formulae_have_their_hand_values():
    """At 0 °C and a dew point of -5 °C: Brutsaert 0.683, Idso & Jackson 0.739; net loss 100 and 82 W/m2 (by hand)."""
    moist = brutsaert_emissivity(0.0, short_saturation_vapour_pressure(-5.0))
    assert moist == pytest.approx(1.24 * (4.217 / 273.15) ** (1 / 7), abs=5e-4)
    assert moist == pytest.approx(0.683, abs=5e-4)
    assert idso_jackson_emissivity(0.0) == pytest.approx(0.739, abs=5e-4)
    assert idso_jackson_emissivity(-20.0) == pytest.approx(1 - 0.261 * np.exp(-0.000777 * 400))
    assert black_radiation(0.0) * (1 - moist) == pytest.approx(100, abs=0.5)
    assert black_radiation(0.0) * (1 - 0.739) == pytest.approx(82, abs=0.5)
    mean, spread = clear_sky_emissivity(0.0, -5.0)
    assert mean == pytest.approx((0.683 + 0.739) / 2, abs=5e-4)
    assert spread == pytest.approx((0.739 - 0.683) / 2, abs=5e-4)


def test_the_fao_lies_within_two_spreads_of_the_clear_sky():
    """FAO-56 knows dampness only; on frost nights its loss lies below the mean by up to two spreads."""
    for air_temperature, dew in ((0.0, -5.0), (-5.0, -8.0), (5.0, 0.0)):
        fao = net_long_wave(air_temperature, air_temperature, vapour_pressure(dew), 1.0)
        own = black_radiation(air_temperature) - sky_radiation(air_temperature, dew, 0.0)
        spread = black_radiation(air_temperature) * clear_sky_emissivity(air_temperature, dew)[1]
        assert abs(own - fao) < 2 * spread + 5.0


def test_the_sky_radiates_as_a_black_surface_of_its_temperature():
    for cloud in (0.0, 0.4, 1.0):
        for deviation in (-1.0, 0.0, 1.0):
            radiation = sky_radiation(-8.0, -12.0, cloud, deviation=deviation)
            temperature, _spread = sky_temperature(-8.0, -12.0, cloud, deviation=deviation)
            assert black_radiation(temperature) == pytest.approx(radiation, rel=1e-12)


def test_a_frost_night_s_sky_is_twenty_degrees_colder_than_the_air():
    """Effective clear-sky temperatures lie some 20 K below the air (textbooks, from memory)."""
    temperature, spread = sky_temperature(0.0, -5.0, 0.0)
    assert -25.0 < temperature < -18.0
    assert 1.5 < spread < 4.0
