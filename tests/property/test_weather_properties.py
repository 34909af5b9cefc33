from datetime import UTC, datetime, timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from alertd.core import SourceMalformed
from alertd.weather import (
    Forecast,
    Series,
    check_quality,
    dress,
    hourly_axis,
    longest_gap,
    merge,
    parse_weather_csv,
    write_forecast_archive_csv,
    write_weather_csv,
)

START = datetime(2026, 1, 23, tzinfo=UTC)
ORDINARY = st.floats(-40.0, 40.0)
#: With sentinels, spikes and missing values among ordinary temperatures, and few distinct ones so that runs occur.
TROUBLED = st.one_of(st.sampled_from([0.0, 0.5, 14.0, -14.0, 30.0, -999.0, 273.0, np.nan]), ORDINARY)


@st.composite
def series_of_any_kind(draw, values=TROUBLED, max_realizations=3):
    steps = draw(st.lists(st.sampled_from([1800, 3600, 3600, 3600, 7200, 10800, 21600]), min_size=0, max_size=45))
    times = np.datetime64("2026-01-23T00:00:00", "s") + np.cumsum([0, *steps]).astype("timedelta64[s]")
    shape = (draw(st.integers(1, max_realizations)), times.size)
    names = ["air_temperature", *draw(st.lists(st.sampled_from(["dew_point_temperature", "wind_speed"]), unique=True))]
    return Series(times, {name: draw(arrays.arrays(np.float64, shape, elements=values)) for name in names})


def assert_same(one: Series, other: Series) -> None:
    np.testing.assert_array_equal(one.times, other.times)
    assert set(one.variables) == set(other.variables)
    for name, values in one.variables.items():
        np.testing.assert_array_equal(values, other.variables[name])


@settings(deadline=None)
@given(series_of_any_kind())
def test_a_written_series_reads_back_value_for_value(series):
    table = parse_weather_csv(write_weather_csv(series), "x.csv")
    assert table.record is not None
    assert table.findings == ()
    assert_same(table.record, series)


@settings(deadline=None)
@given(st.lists(series_of_any_kind(), min_size=1, max_size=3))
def test_a_written_archive_reads_back_forecast_by_forecast(all_series):
    archive = [(START + k * timedelta(hours=6), series) for k, series in enumerate(all_series)]
    table = parse_weather_csv(write_forecast_archive_csv(archive), "x.csv")
    assert [reference_time for reference_time, _ in table.forecasts] == [time for time, _ in archive]
    for (_, read), (_, written) in zip(table.forecasts, archive, strict=True):
        for name, values in written.variables.items():
            np.testing.assert_array_equal(read.variables[name], values)


def read_or_refuse(text: str) -> None:
    try:
        parse_weather_csv(text, "x.csv")
    except SourceMalformed as error:
        assert len(str(error).splitlines()) == 1  # noqa: PT017 - either outcome is right


@settings(deadline=None)
@given(st.text())
def test_any_text_is_read_or_refused_as_malformed(text):
    read_or_refuse(text)


CELL = st.one_of(
    st.sampled_from(["", "1", "-2.5", "nan", "1e999", "2026-01-23T04:00:00Z", "0001-01-01T00:00:00+05:00", '"', "\r"]),
    st.text(max_size=5),
)
HEADERS = (
    "time,air_temperature[Cel]",
    "time,forecast_reference_time,realization,air_temperature[K]",
    "realization,time,air_temperature[degF],wind_speed[km/h]",
)


@settings(deadline=None)
@given(st.sampled_from(HEADERS), st.lists(st.lists(CELL, min_size=1, max_size=5).map(",".join), max_size=8))
def test_any_rows_below_a_good_header_are_read_or_refused_as_malformed(header, rows):
    read_or_refuse("\n".join([header, *rows]))


@settings(deadline=None)
@given(series_of_any_kind())
def test_quality_control_changes_no_surviving_value(series):
    checked = check_quality(series).series
    np.testing.assert_array_equal(checked.times, series.times)
    for name, values in checked.variables.items():
        survives = ~np.isnan(values)
        np.testing.assert_array_equal(values[survives], series.variables[name][survives])


@settings(deadline=None)
@given(series_of_any_kind())
def test_checking_twice_changes_nothing_more(series):
    once = check_quality(series).series
    assert_same(check_quality(once).series, once)


@settings(deadline=None)
@given(series_of_any_kind())
def test_every_lost_temperature_is_accounted_for(series):
    report = check_quality(series)
    lost = np.count_nonzero(np.isnan(report.series.air_temperature)) - np.count_nonzero(
        np.isnan(series.air_temperature)
    )
    losses = [
        finding.count for finding in report.findings if finding.variable == "air_temperature" and finding.check != "gap"
    ]
    assert sum(losses) == lost
    assert all(len(finding.text.splitlines()) == 1 for finding in report.findings)


@settings(deadline=None)
@given(series_of_any_kind(ORDINARY, max_realizations=1), st.integers(0, 40), st.integers(-100, 300))
def test_dressing_keeps_order_and_its_median_is_the_forecast(series, half, lead):
    dressed = dress(series, START - timedelta(hours=lead), 2 * half + 1)
    assert np.all(np.diff(dressed.air_temperature, axis=0) >= 0.0)
    np.testing.assert_array_equal(np.median(dressed.air_temperature, axis=0), series.air_temperature[0])
    np.testing.assert_array_equal(dressed.times, series.times)
    if "dew_point_temperature" in dressed.variables:
        assert np.all(dressed.variables["dew_point_temperature"] <= dressed.air_temperature)


@settings(deadline=None)
@given(st.lists(series_of_any_kind(st.one_of(ORDINARY, st.just(np.nan))), min_size=2, max_size=4))
def test_merging_keeps_the_hours_and_makes_no_new_extremes(all_series):
    merged = merge([Forecast("x", START, START, series) for series in all_series]).series
    expected = set(np.concatenate([hourly_axis(series) for series in all_series]).tolist())
    assert set(merged.times.tolist()) == expected
    assert merged.n_realizations == len(all_series) * max(series.n_realizations for series in all_series)
    given_values = np.concatenate([series.air_temperature.ravel() for series in all_series])
    present = merged.air_temperature[~np.isnan(merged.air_temperature)]
    if present.size:
        assert np.nanmin(given_values) - 1e-9 <= present.min()
        assert present.max() <= np.nanmax(given_values) + 1e-9


@settings(deadline=None)
@given(series_of_any_kind(), st.integers(-10, 100), st.integers(0, 100))
def test_a_gap_is_never_longer_than_the_window(series, first, length):
    start = START + timedelta(hours=first)
    gap = longest_gap(series, start, start + timedelta(hours=length))
    assert timedelta(0) <= gap <= timedelta(hours=length)
