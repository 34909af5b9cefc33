from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.weather import Forecast, PeriodMinimum
from tests.fakes.weather import hourly_series

START = datetime(2026, 1, 23, tzinfo=UTC)
HOUR = timedelta(hours=1)
SERIES = hourly_series(START, [0.0, 1.0, 2.0])


def test_a_window_of_a_forecast_cuts_its_error_alike():
    minimum = PeriodMinimum(START, START + 2 * HOUR, -1.0)
    whole = Forecast("x", START, START, SERIES, minima=(minimum,), error=np.array([1.0, 2.0, 3.0]))
    window = whole.window(START + HOUR, START + 2 * HOUR)
    assert window.series.air_temperature.tolist() == [[1.0]]
    assert window.error.tolist() == [2.0]
    assert window.minima == (minimum,)
    assert Forecast("x", START, START, SERIES).window(START, START + HOUR).error is None


@pytest.mark.parametrize("weight", [0.0, -1.0, np.nan, np.inf])
def test_a_weight_is_above_zero(weight):
    with pytest.raises(ValueError, match="weight of barn"):
        Forecast("barn", START, START, SERIES, weight=weight)


def test_an_error_has_a_value_for_each_time():
    with pytest.raises(ValueError, match="error of barn"):
        Forecast("barn", START, START, SERIES, error=np.zeros(2))


@pytest.mark.parametrize(
    ("end", "temperature", "says"),
    [
        (START, 0.0, "does not end later"),
        (START - HOUR, 0.0, "does not end later"),
        (START + HOUR, np.nan, "no temperature"),
        (START + HOUR, -np.inf, "no temperature"),
        (datetime(2026, 2, 1), 0.0, "no offset"),  # noqa: DTZ001 - the point of it
    ],
)
def test_what_is_no_minimum_of_a_period_is_refused(end, temperature, says):
    with pytest.raises(ValueError, match=says):
        PeriodMinimum(START, end, temperature)
