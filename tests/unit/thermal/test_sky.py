import numpy as np
import pytest

from alertd.thermal.sky import (
    SKY_PARAMETERS,
    black_radiation,
    cloud_cover,
    radiative_coefficient,
    sky_radiation,
    sky_temperature,
)


@pytest.mark.parametrize("cloud", [-0.01, 1.01, 40.0])
def test_cloud_cover_in_percent_is_refused(cloud):
    with pytest.raises(ValueError, match=r"cloud cover -?[\d.]+ is not between 0 and 1"):
        cloud_cover(np.array([0.0, cloud]))
    with pytest.raises(ValueError, match="not between 0 and 1"):
        sky_temperature(0.0, -5.0, cloud)


def test_what_is_unknown_stays_unknown():
    temperature, spread = sky_temperature(np.array([np.nan, 0.0, 0.0]), np.array([-5.0, np.nan, -5.0]), 0.0)
    assert np.isnan(temperature).tolist() == [True, True, False]
    assert np.isnan(spread).tolist() == [True, True, False]


def test_the_deviation_reaches_from_one_formula_to_the_other():
    mean, spread = sky_temperature(-10.0, -14.0, 0.2)
    colder, _ = sky_temperature(-10.0, -14.0, 0.2, deviation=-1.0)
    warmer, _ = sky_temperature(-10.0, -14.0, 0.2, deviation=1.0)
    assert colder < mean < warmer
    assert (warmer - colder) / 2 == pytest.approx(spread, rel=1e-9)
    assert [parameter.name for parameter in SKY_PARAMETERS] == ["sky_deviation"]
    assert SKY_PARAMETERS[0].is_assumed


def test_air_more_than_saturated_counts_as_saturated():
    assert sky_radiation(-5.0, 3.0, 0.0) == sky_radiation(-5.0, -5.0, 0.0)


def test_the_coefficient_times_the_difference_is_the_exchange():
    exchange = radiative_coefficient(-5.0, -25.0, 0.9) * 20.0
    assert exchange == pytest.approx(0.9 * (black_radiation(-5.0) - black_radiation(-25.0)), rel=1e-12)


def test_members_and_times_broadcast():
    temperature, _ = sky_temperature(np.zeros((3, 1)), np.full((1, 4), -4.0), np.linspace(0.0, 1.0, 4))
    assert temperature.shape == (3, 4)
