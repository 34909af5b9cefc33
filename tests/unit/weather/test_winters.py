from datetime import UTC, datetime, timedelta

import numpy as np

from alertd.core import to_datetime64
from alertd.weather import Series, winters

START = datetime(2023, 7, 24, tzinfo=UTC)


def record(days, start=START):
    times = to_datetime64(start) + np.arange(24 * days) * np.timedelta64(3600, "s")
    return Series(times, {"air_temperature": np.full((1, 24 * days), 10.0)})


def test_each_whole_season_has_its_lowest_and_its_freezes():
    series = record(366 + 365)
    series.air_temperature[0, 24 * 180 + 5] = -12.5
    series.air_temperature[0, 24 * 200] = -12.5
    series.air_temperature[0, 24 * 600] = -3.0
    first, second = winters(series, 41.0)
    assert (first.minimum, second.minimum) == (-12.5, -3.0)
    assert first.coldest == START + timedelta(days=180, hours=5)
    assert first.freezes.last == START + timedelta(days=200)


def test_a_season_that_is_covered_in_part_is_left_out():
    assert winters(record(300), 41.0) == ()
    gappy = record(366)
    gappy.air_temperature[0, : 24 * 8] = np.nan
    assert winters(gappy, 41.0) == ()
    gappy.air_temperature[0, : 24 * 7] = 10.0
    assert len(winters(gappy, 41.0)) == 1


def test_seasons_south_of_the_equator_begin_in_january():
    (winter,) = winters(record(366, datetime(2023, 1, 24, tzinfo=UTC)), -41.0)
    assert winter.freezes.season_start == datetime(2023, 1, 24, tzinfo=UTC)
