from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.weather import (
    Forecast,
    Series,
    at_hours,
    forecast_with_hours,
    hourly_axis,
    merge,
    own_step,
    realization_counts,
    with_hours,
)
from tests.fakes.weather import hourly_series

START = datetime(2026, 1, 23, tzinfo=UTC)


def forecast(series: Series, retrieved: datetime = START, *, source: str = "barn", weight: float = 1.0) -> Forecast:
    return Forecast(source, START, retrieved, series, weight=weight)


def at(minutes: list[int], **variables) -> Series:
    times = np.datetime64("2026-01-23T00:00:00", "s") + np.array(minutes) * np.timedelta64(60, "s")
    return Series(times, {name: np.array([values], dtype=np.float64) for name, values in variables.items()})


def test_one_forecast_passes_through_unchanged():
    only = forecast(at([0, 90], air_temperature=[1.0, 2.0]))
    merged = merge([only])
    assert merged.series is only.series
    assert merged.disagreement is None


def test_nothing_cannot_be_merged():
    with pytest.raises(ValueError, match="no forecast"):
        merge([])


def test_sources_have_equal_weight_whatever_their_realizations():
    many = hourly_series(START, [[1.0], [2.0], [3.0], [4.0], [5.0]])
    few = hourly_series(START, [[10.0], [20.0]])
    assert merge([forecast(many), forecast(few)]).series.air_temperature[:, 0].tolist() == [
        *[1.0, 2.0, 3.0, 4.0, 5.0],
        *[10.0, 10.0, 20.0, 20.0, 20.0],
    ]


def test_where_one_source_is_silent_its_realizations_are_missing():
    short = hourly_series(START, [1.0, 2.0], wind_speed=[5.0, 6.0])
    late = hourly_series(START + timedelta(hours=1), [3.0, 4.0])
    series = merge([forecast(short), forecast(late)]).series
    np.testing.assert_array_equal(series.air_temperature, [[1.0, 2.0, np.nan], [np.nan, 3.0, 4.0]])
    np.testing.assert_array_equal(series.variables["wind_speed"], [[5.0, 6.0, np.nan], [np.nan] * 3])


def test_disagreement_is_the_spread_of_median_minima_in_the_common_hours():
    cold = hourly_series(START, [[0.0, -8.0, -99.0], [0.0, -6.0, -99.0], [0.0, -7.0, np.nan]])
    mild = hourly_series(START, [2.0, -3.0])
    assert merge([forecast(cold), forecast(mild)]).disagreement == pytest.approx(4.0)


def test_disagreement_looks_48_hours_ahead_of_the_latest_retrieval():
    one, two = np.zeros(72), np.zeros(72)
    one[3], one[10], one[60] = -50.0, -2.0, -90.0
    forecasts = [forecast(hourly_series(START, one)), forecast(hourly_series(START, two), START + timedelta(hours=5))]
    assert merge(forecasts).disagreement == pytest.approx(2.0)


def test_sources_without_a_common_hour_have_no_known_disagreement():
    late = hourly_series(START + timedelta(hours=9), [3.0])
    assert merge([forecast(hourly_series(START, [1.0])), forecast(late)]).disagreement is None


def test_an_empty_series_adds_silence():
    empty = Series(np.array([], dtype="datetime64[s]"), {"air_temperature": np.empty((1, 0))})
    series = merge([forecast(hourly_series(START, [1.0])), forecast(empty)]).series
    np.testing.assert_array_equal(series.air_temperature, [[1.0], [np.nan]])


def test_three_hourly_values_are_interpolated_and_larger_gaps_are_not():
    coarse = at([0, 180, 420], air_temperature=[0.0, -3.0, 9.0])
    hours = hourly_axis(coarse)
    expected = [0.0, -1.0, -2.0, -3.0, np.nan, np.nan, np.nan, 9.0]
    np.testing.assert_allclose(at_hours(coarse, hours).air_temperature, [expected])


def test_a_missing_value_is_bridged_only_if_its_neighbours_are_near():
    hourly = at([0, 60, 120, 180, 240, 300], air_temperature=[0, np.nan, 2, np.nan, np.nan, np.nan])
    other = np.append(hourly.times, hourly.times[-1:] + np.timedelta64(3600, "s"))
    np.testing.assert_allclose(at_hours(hourly, other).air_temperature, [[0, 1, 2, np.nan, np.nan, np.nan, np.nan]])


def test_realizations_that_miss_everything_stay_missing():
    times = np.datetime64("2026-01-23T00:30:00", "s") + np.arange(2) * np.timedelta64(3600, "s")
    series = Series(times, {"air_temperature": np.array([[np.nan, np.nan], [1.0, 3.0]])})
    np.testing.assert_array_equal(at_hours(series, hourly_axis(series)).air_temperature, [[np.nan], [2.0]])


def test_the_hourly_axis_stays_within_the_series():
    axis = hourly_axis(at([30, 150], air_temperature=[0.0, 1.0]))
    assert axis.tolist() == [datetime(2026, 1, 23, 1), datetime(2026, 1, 23, 2)]  # noqa: DTZ001 - as numpy gives it
    assert hourly_axis(at([30], air_temperature=[0.0])).size == 0


def test_the_sum_of_precipitation_is_kept():
    coarse = at([0, 180, 360], air_temperature=[0, 0, 0], precipitation_amount=[0.0, 6.0, 3.0])
    amounts = at_hours(coarse, hourly_axis(coarse)).variables["precipitation_amount"]
    np.testing.assert_allclose(amounts, [[0, 2, 2, 2, 1, 1, 1]])


def test_each_source_has_its_share_of_the_realizations():
    strong, weak = hourly_series(START, [[1.0], [2.0], [3.0]]), hourly_series(START, [[10.0], [20.0], [30.0]])
    merged = merge([forecast(strong, weight=2.0), forecast(weak)]).series
    assert merged.air_temperature[:, 0].tolist() == [1.0, 1.0, 2.0, 2.0, 3.0, 3.0, 10.0, 20.0, 30.0]


@pytest.mark.parametrize(
    ("weights", "sizes", "counts"),
    [
        ([1.0, 1.0, 1.0], [51, 51, 51], (51, 51, 51)),
        ([0.7, 0.7, 0.7], [51, 51, 1], (51, 51, 51)),
        ([0.1, 0.1, 0.1], [31, 51, 20], (51, 51, 51)),
        ([1.0] * 6, [51] * 6, (43, 43, 43, 42, 42, 42)),
        ([1.0, 1e-9], [51, 51], (254, 1)),
        ([9.0, 1.0], [51, 51], (230, 25)),
        ([1.0] * 300, [1] * 300, (1,) * 300),
    ],
)
def test_realizations_are_shared_out_by_weight(weights, sizes, counts):
    assert realization_counts(weights, sizes) == counts


def test_the_medians_say_which_source_says_what():
    cold, mild = hourly_series(START, [[0.0, -8.0], [0.0, -6.0], [0.0, -7.0]]), hourly_series(START, [2.0, -3.0])
    merged = merge([forecast(cold, source="north"), forecast(mild, source="south", weight=5.0)])
    assert merged.medians == (("north", -7.0), ("south", -3.0))
    assert merged.disagreement == pytest.approx(4.0)


def test_without_a_common_hour_or_another_source_there_are_no_medians():
    late = hourly_series(START + timedelta(hours=9), [3.0])
    assert merge([forecast(hourly_series(START, [1.0])), forecast(late)]).medians == ()
    assert merge([forecast(late)]).medians == ()


HOURLY_THEN_SIX = [0, 60, 120, 480, 840]


def test_a_six_hourly_part_makes_a_series_six_hourly():
    assert own_step(at(HOURLY_THEN_SIX, air_temperature=[0] * 5)) == timedelta(hours=6)
    assert own_step(at([0, 360], air_temperature=[0, 0])) == timedelta(hours=6)


@pytest.mark.parametrize("minutes", [[0], [0, 60], [0, 180, 360], [0, 60, 420], [0, 300, 600], [0, 360, 420, 780]])
def test_other_series_are_not_six_hourly(minutes):
    assert own_step(at(minutes, air_temperature=[0] * len(minutes))) == timedelta(hours=3)


def test_six_hourly_values_are_interpolated_where_the_source_is_six_hourly():
    coarse = at(HOURLY_THEN_SIX, air_temperature=[0.0, 1.0, 2.0, 8.0, 2.0])
    other = hourly_series(START, [5.0])
    merged = merge([forecast(coarse), forecast(other)]).series.air_temperature[0]
    np.testing.assert_allclose(merged, [0, 1, 2, 3, 4, 5, 6, 7, 8, 7, 6, 5, 4, 3, 2])
    strict = merge([forecast(coarse), forecast(other)], largest_step=timedelta(hours=3)).series.air_temperature[0]
    np.testing.assert_array_equal(np.flatnonzero(~np.isnan(strict)), [0, 1, 2, 8, 14])


def test_a_hole_in_hourly_values_is_not_bridged_as_if_it_were_six_hourly():
    hole = at([0, 60, 420, 480], air_temperature=[0.0, 1.0, 7.0, 8.0])
    assert with_hours(hole) is hole


def test_only_skipped_hours_are_added_and_own_values_are_kept():
    series = at([30, 75, 240, 300], air_temperature=[0.0, 1.0, np.nan, 5.0], precipitation_amount=[1, 2, 3, 4])
    filled = with_hours(series)
    minutes = (filled.times - np.datetime64("2026-01-23T00:00:00", "s")) / np.timedelta64(60, "s")
    assert minutes.tolist() == [30, 75, 120, 180, 240, 300]
    np.testing.assert_allclose(filled.air_temperature, [[0.0, 1.0, np.nan, np.nan, np.nan, 5.0]])
    amounts = filled.variables["precipitation_amount"][0]
    np.testing.assert_allclose(amounts, [1.0, 2.0, 3 * 45 / 165, 3 * 60 / 165, 3 * 60 / 165, 4.0])


def test_larger_steps_get_no_hours_and_missing_values_at_own_times_stay_missing():
    series = at([0, 60, 120, 240, 540], air_temperature=[0.0, np.nan, 2.0, 4.0, 9.0])
    filled = with_hours(series)
    hours = (filled.times - series.times[0]) / np.timedelta64(1, "h")
    assert hours.tolist() == [0, 1, 2, 3, 4, 9]
    np.testing.assert_allclose(filled.air_temperature, [[0.0, np.nan, 2.0, 3.0, 4.0, 9.0]])


def test_the_sum_of_precipitation_is_kept_where_hours_are_added():
    filled = with_hours(at([0, 180, 360], air_temperature=[0, 0, 0], precipitation_amount=[0.0, 6.0, 3.0]))
    np.testing.assert_allclose(filled.variables["precipitation_amount"], [[0, 2, 2, 2, 1, 1, 1]])


def test_a_forecast_gets_hours_with_its_error():
    coarse = Forecast("x", START, START, at([0, 180], air_temperature=[0, 0]), error=np.array([1.0, 4.0]))
    np.testing.assert_allclose(forecast_with_hours(coarse).error, [1.0, 2.0, 3.0, 4.0])
    assert forecast_with_hours(forecast(coarse.series)).error is None
    dense = forecast(hourly_series(START, [1.0, 2.0]))
    assert forecast_with_hours(dense) is dense
