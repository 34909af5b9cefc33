from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.weather import freeze_dates
from tests.fakes.weather import hourly_series


def test_first_and_last_freeze_of_a_northern_season():
    start = datetime(2025, 7, 24, tzinfo=UTC)
    values = np.full(365 * 24, 5.0)
    values[[2000, 3000, 4000]] = -1.0, 0.0, 0.1
    (season,) = freeze_dates(hourly_series(start, values), latitude=40.0)
    assert season.season_start == start
    assert season.first == start + timedelta(hours=2000)
    assert season.last == start + timedelta(hours=3000)
    assert season.coverage == 1.0


def test_seasons_are_split_at_midsummer_of_the_hemisphere():
    series = hourly_series(datetime(2026, 1, 23, 23, tzinfo=UTC), [-1.0, -2.0])
    starts = [season.season_start for season in freeze_dates(series, latitude=-35.0)]
    assert starts == [datetime(2025, 1, 24, tzinfo=UTC), datetime(2026, 1, 24, tzinfo=UTC)]
    assert len(freeze_dates(series, latitude=0.0)) == 1


def test_a_season_without_freeze_has_no_dates_and_says_how_much_was_seen():
    (season,) = freeze_dates(hourly_series(datetime(2026, 1, 1, tzinfo=UTC), [3.0, np.nan]), latitude=40.0)
    assert (season.first, season.last) == (None, None)
    assert season.coverage == pytest.approx(1 / 8760)


def test_another_threshold_gives_other_dates():
    start = datetime(2026, 1, 1, tzinfo=UTC)
    (season,) = freeze_dates(hourly_series(start, [-1.0, -5.0, -1.0]), latitude=40.0, threshold=-4.0)
    assert season.first == season.last == start + timedelta(hours=1)


def test_a_year_without_values_between_two_seasons_is_left_out():
    series = hourly_series(datetime(2024, 1, 1, tzinfo=UTC), np.full(3 * 8766, np.nan))
    series.air_temperature[0, [0, -1]] = -1.0
    assert [season.season_start.year for season in freeze_dates(series, latitude=40.0)] == [2023, 2026]


def test_nothing_known_gives_no_season():
    assert freeze_dates(hourly_series(datetime(2026, 1, 1, tzinfo=UTC), [np.nan]), latitude=40.0) == ()


def test_an_ensemble_has_no_freeze_dates():
    with pytest.raises(ValueError, match="one realization, not 2"):
        freeze_dates(hourly_series(datetime(2026, 1, 1, tzinfo=UTC), [[1.0], [2.0]]), latitude=40.0)
