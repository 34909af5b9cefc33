from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.weather import Series
from tests.fakes.weather import hourly_series

START = datetime(2026, 1, 23, tzinfo=UTC)
TIMES = np.array(["2026-01-23T00:00:00", "2026-01-23T01:00:00"], dtype="datetime64[s]")
VALUES = np.zeros((1, 2))


def test_a_window_includes_its_start_and_excludes_its_end():
    series = hourly_series(START, [0.0, 1.0, 2.0, 3.0], wind_speed=[4.0, 5.0, 6.0, 7.0])
    window = series.window(START + timedelta(hours=1), START + timedelta(hours=3))
    assert window.air_temperature.tolist() == [[1.0, 2.0]]
    assert window.variables["wind_speed"].tolist() == [[5.0, 6.0]]
    assert (window.n_realizations, window.n_times) == (1, 2)


@pytest.mark.parametrize(
    ("times", "variables", "says"),
    [
        (TIMES.astype("datetime64[ns]"), {"air_temperature": VALUES}, "must be datetime64"),
        (TIMES[::-1], {"air_temperature": VALUES}, "increase strictly"),
        (TIMES, {"air_temperature": VALUES, "humidity": VALUES}, "unknown variables"),
        (TIMES, {"wind_speed": VALUES}, "air_temperature is missing"),
        (TIMES, {"air_temperature": VALUES, "wind_speed": VALUES.T}, "has shape"),
    ],
)
def test_what_is_no_series_is_refused(times, variables, says):
    with pytest.raises(ValueError, match=says):
        Series(times, variables)
