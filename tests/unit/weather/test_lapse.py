from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.weather import PeriodMinimum, at_elevation, minima_at_elevation
from tests.fakes.weather import hourly_series

START = datetime(2026, 1, 23, tzinfo=UTC)


def test_it_is_six_and_a_half_degrees_colder_a_kilometre_higher():
    series = at_elevation(hourly_series(START, [[1.0, np.nan], [2.0, 3.0]], wind_speed=[[4.0] * 2] * 2), 200.0, 1200.0)
    np.testing.assert_allclose(series.air_temperature, [[-5.5, np.nan], [-4.5, -3.5]])
    assert series.variables["wind_speed"].tolist() == [[4.0, 4.0]] * 2


def test_it_is_warmer_lower_down():
    assert at_elevation(hourly_series(START, [0.0]), 300.0, 100.0).air_temperature.item() == pytest.approx(1.3)


def test_the_dew_point_does_not_rise_above_the_air():
    series = hourly_series(START, [0.0, 0.0, np.nan], dew_point_temperature=[-1.0, -20.0, -1.0])
    higher = at_elevation(series, 0.0, 1000.0)
    np.testing.assert_allclose(higher.variables["dew_point_temperature"], [[-6.5, -20.0, -1.0]])
    lower = at_elevation(series, 1000.0, 0.0)
    np.testing.assert_allclose(lower.variables["dew_point_temperature"], [[-1.0, -20.0, -1.0]])


def test_minima_change_alike():
    minimum = PeriodMinimum(START, START + timedelta(hours=6), -3.0)
    (higher,) = minima_at_elevation([minimum], 0.0, 100.0)
    assert (higher.start, higher.end) == (minimum.start, minimum.end)
    assert higher.air_temperature == pytest.approx(-3.65)
