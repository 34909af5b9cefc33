from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.weather import Forecast, default_error, dress, dress_forecast
from tests.fakes.weather import hourly_series

START = datetime(2026, 1, 23, tzinfo=UTC)


@pytest.mark.parametrize(
    ("lead_hours", "error"),
    [(-5, 1.0), (0, 1.0), (10, 3.5 / 1.8), (16, 3.6 / 1.8), (22, 3.7 / 1.8), (34, 4 / 1.8), (46, 4 / 1.8), (120, 3.5)],
)
def test_the_error_grows_with_lead_time_as_measured(lead_hours, error):
    assert default_error(lead_hours) == pytest.approx(error)


def test_the_error_is_constant_beyond_ten_days():
    assert default_error([240.0, 400.0]).tolist() == [5.0, 5.0]


def test_the_middle_realization_is_the_forecast_and_the_spread_is_the_error():
    series = hourly_series(START, [3.0] * 25)
    dressed = dress(series, START, 1001)
    assert dressed.air_temperature[500].tolist() == series.air_temperature[0].tolist()
    spread = dressed.air_temperature.std(axis=0)
    np.testing.assert_allclose(spread, default_error(np.arange(25)), rtol=0.01)


def test_lead_time_counts_from_the_reference_time():
    series = hourly_series(START, [0.0])
    near, far = dress(series, START), dress(series, START - timedelta(hours=100))
    assert far.air_temperature[0, 0] < near.air_temperature[0, 0]


def test_dew_point_moves_with_the_air_and_never_above_it():
    dressed = dress(
        hourly_series(START, [0.0, 0.0], dew_point_temperature=[-2.0, 1.0], wind_speed=[3.0, 4.0]), START, 3
    )
    air, dew = dressed.air_temperature, dressed.variables["dew_point_temperature"]
    np.testing.assert_allclose(air[:, 0] - dew[:, 0], 2.0)
    np.testing.assert_array_equal(air[:, 1], dew[:, 1])
    assert dressed.variables["wind_speed"].tolist() == [[3.0, 4.0]] * 3


def test_missing_stays_missing():
    dressed = dress(hourly_series(START, [np.nan, 0.0], dew_point_temperature=[-1.0, np.nan]), START, 3)
    assert np.isnan(dressed.air_temperature[:, 0]).all()
    assert np.isnan(dressed.variables["dew_point_temperature"][:, 1]).all()
    assert not np.isnan(dressed.variables["dew_point_temperature"][:, 0]).any()


def test_an_ensemble_is_not_dressed():
    with pytest.raises(ValueError, match="not one of 2 realizations"):
        dress(hourly_series(START, [[1.0], [2.0]]), START)


@pytest.mark.parametrize("count", [0, 50, -1])
def test_the_number_of_realizations_must_be_odd(count):
    with pytest.raises(ValueError, match="odd"):
        dress(hourly_series(START, [1.0]), START, count)


def spread_of(error: list[float]) -> np.ndarray:
    series = hourly_series(START, [3.0] * len(error))
    dressed = dress_forecast(Forecast("x", START, START, series, error=np.array(error)), 1001)
    assert dressed.error is None
    return dressed.series.air_temperature.std(axis=0)


def test_the_sources_own_error_counts_where_it_is_known():
    np.testing.assert_allclose(spread_of([5.0, np.nan, 2.0]), [5.0, default_error(1), 2.0], rtol=0.01)


@pytest.mark.parametrize("error", [0.0, 0.1, -3.0])
def test_the_sources_own_error_counts_down_to_half_the_default(error):
    np.testing.assert_allclose(spread_of([error]), [0.5], rtol=0.01)


def test_an_endless_error_is_no_error():
    np.testing.assert_allclose(spread_of([np.inf]), [1.0], rtol=0.01)


def test_a_forecast_without_an_error_is_dressed_with_the_default():
    forecast = Forecast("x", START, START, hourly_series(START, [1.0, 2.0]))
    dressed = dress_forecast(forecast)
    np.testing.assert_array_equal(dressed.series.air_temperature, dress(forecast.series, START).air_temperature)


def test_an_ensemble_passes_through_undressed():
    ensemble = Forecast("x", START, START, hourly_series(START, [[1.0], [2.0]]), error=np.array([9.0]))
    assert dress_forecast(ensemble) is ensemble
