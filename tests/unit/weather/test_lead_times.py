from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.core import to_datetime64
from alertd.weather import Series, forecasts_by_lead_day

START = datetime(2026, 1, 1, tzinfo=UTC)


def lead(days, hours=96, *, realizations=1):
    """Return values that tell their lead time [days] before the point, and their hour behind it."""
    times = to_datetime64(START) + np.arange(hours) * np.timedelta64(3600, "s")
    values = days + np.arange(hours) / 1000.0
    return days, Series(times, {"air_temperature": np.tile(values, (realizations, 1))})


def test_each_hour_has_the_latest_value_that_was_known():
    forecasts = forecasts_by_lead_day([lead(1), lead(2), lead(3)])
    made, series = forecasts[4]
    assert made == START + timedelta(hours=23)
    assert series.times[0] == to_datetime64(made + timedelta(hours=1))
    days = np.floor(series.air_temperature[0]).astype(int)
    np.testing.assert_array_equal(days, [1] * 24 + [2] * 24 + [3] * 24)
    hours = np.round((series.air_temperature[0] - days) * 1000.0)
    np.testing.assert_array_equal(hours, np.arange(24, 96))


def test_forecasts_are_made_every_six_hours_or_as_asked():
    made = [each for each, _ in forecasts_by_lead_day([lead(1)])]
    assert made[0] == START - timedelta(hours=1)
    assert set(np.diff(made)) == {timedelta(hours=6)}
    assert len(forecasts_by_lead_day([lead(1)], every=timedelta(hours=24))) == 4


def test_no_value_is_younger_than_the_forecast():
    for made, series in forecasts_by_lead_day([lead(2), lead(1), lead(3)]):
        ahead = (series.times - to_datetime64(made)) / np.timedelta64(86400, "s")
        assert np.all(np.floor(series.air_temperature[0]) >= ahead)
        assert np.all(np.floor(series.air_temperature[0]) < ahead + 1.0)
        assert np.all(np.diff(series.times) == np.timedelta64(3600, "s"))


def test_times_of_which_nothing_is_known_have_no_forecast():
    days, series = lead(1)
    values = np.where(np.arange(96) < 48, np.nan, series.air_temperature[0])
    forecasts = forecasts_by_lead_day([(days, Series(series.times, {"air_temperature": values[None, :]}))])
    assert forecasts[0][0] == START + timedelta(hours=29)


def test_what_is_no_old_forecast_is_refused():
    with pytest.raises(ValueError, match="one day or more"):
        forecasts_by_lead_day([])
    with pytest.raises(ValueError, match="one day or more"):
        forecasts_by_lead_day([lead(0)])
    with pytest.raises(ValueError, match="one realization"):
        forecasts_by_lead_day([lead(1, realizations=2)])
