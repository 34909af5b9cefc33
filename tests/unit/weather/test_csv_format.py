from datetime import UTC, datetime

import numpy as np
import pytest

from alertd.core import SourceMalformed
from alertd.weather import (
    Check,
    Series,
    parse_weather_csv,
    weather_csv_columns,
    write_forecast_archive_csv,
    write_weather_csv,
)
from tests.fakes.weather import hourly_series

START = datetime(2026, 1, 23, 4, tzinfo=UTC)
HEADER = "time,air_temperature[Cel]\n"
FIRST = "2026-01-23T04:00:00Z"


def refusal(text: str) -> str:
    with pytest.raises(SourceMalformed) as caught:
        parse_weather_csv(text, "barn.csv")
    message = str(caught.value)
    assert message.startswith("barn.csv")
    assert "\n" not in message
    assert ";" in message, "a way to mend it follows a semicolon"
    return message


def record(text: str) -> Series:
    table = parse_weather_csv(text, "barn.csv")
    assert not table.is_archive
    assert table.record is not None
    return table.record


@pytest.mark.parametrize(
    ("column", "cell", "canonical"),
    [
        ("air_temperature[degF]", "15", -9.444),
        ("air_temperature[[degF]]", "15", -9.444),
        ("air_temperature[K]", "273.15", 0.0),
        ("air_temperature[Cel]", "-9.4", -9.4),
        ("air_temperature [Cel]", "+.5e1", 5.0),
    ],
)
def test_air_temperature_becomes_celsius(column, cell, canonical):
    series = record(f"time,{column}\n{FIRST},{cell}\n")
    assert series.air_temperature[0, 0] == pytest.approx(canonical, abs=1e-3)


@pytest.mark.parametrize(
    ("column", "cell", "canonical"),
    [
        ("wind_speed[km/h]", "36", 10.0),
        ("wind_speed[[mi_i]/h]", "10", 4.4704),
        ("wind_speed[[kn_i]]", "36", 18.52),
        ("wind_speed[kn_i]", "36", 18.52),
        ("cloud_area_fraction[1]", "0.25", 25.0),
        ("precipitation_amount[mm]", "2.5", 2.5),
        ("precipitation_amount[[in_i]]", "1", 25.4),
        ("surface_snow_thickness[cm]", "12", 0.12),
        ("surface_snow_thickness[[in_i]]", "10", 0.254),
        ("dew_point_temperature[degF]", "32", 0.0),
    ],
)
def test_other_variables_become_canonical(column, cell, canonical):
    series = record(f"time,air_temperature[Cel],{column}\n{FIRST},1,{cell}\n")
    assert series.variables[column.split("[")[0]][0, 0] == pytest.approx(canonical)


def test_byte_order_mark_line_ends_quotes_and_blank_lines_do_no_harm():
    series = record(f'\ufefftime,"air_temperature[Cel]"\r\n\r\n"{FIRST}","-3.5"\r2026-01-23T05:00:00Z, -4 \r\n,\r\n')
    assert series.air_temperature.tolist() == [[-3.5, -4.0]]


def test_an_offset_is_turned_into_utc():
    series = record(HEADER + "2026-01-22T23:00:00-05:00,1\n")
    assert series.times[0] == np.datetime64("2026-01-23T04:00:00")


def test_an_empty_cell_is_missing():
    assert np.isnan(record(HEADER + f"{FIRST},\n").air_temperature[0, 0])


def test_unordered_rows_are_put_in_order_and_reported():
    table = parse_weather_csv(HEADER + f"2026-01-23T05:00:00Z,2\n{FIRST},1\n", "barn.csv")
    assert table.record is not None
    assert table.record.air_temperature.tolist() == [[1.0, 2.0]]
    (finding,) = table.findings
    assert (finding.check, finding.variable, finding.first, finding.count) == (Check.ORDER, "time", START, 1)


def test_equal_rows_of_one_time_are_merged_and_reported():
    text = f"time,air_temperature[Cel],wind_speed[m/s]\n{FIRST},1,\n{FIRST},1,3\n"
    table = parse_weather_csv(text, "barn.csv")
    assert table.record is not None
    assert table.record.air_temperature.tolist() == [[1.0]]
    assert table.record.variables["wind_speed"].tolist() == [[3.0]]
    assert [finding.check for finding in table.findings] == [Check.REPEATED_TIME]


def test_conflicting_rows_of_one_time_are_all_dropped_and_reported():
    table = parse_weather_csv(HEADER + f"{FIRST},1\n{FIRST},2\n{FIRST},1\n2026-01-23T05:00:00Z,3\n", "barn.csv")
    assert table.record is not None
    assert table.record.air_temperature.tolist() == [[3.0]]
    (finding,) = table.findings
    assert finding.check is Check.CONFLICTING_TIME
    assert FIRST in finding.text


def test_an_archive_gives_forecasts_by_reference_time():
    text = (
        "forecast_reference_time,realization,time,air_temperature[Cel]\n"
        "2026-01-22T12:00:00Z,0,2026-01-23T04:00:00Z,5\n"
        "2026-01-22T00:00:00Z,1,2026-01-23T04:00:00Z,2\n"
        "2026-01-22T00:00:00Z,0,2026-01-23T04:00:00Z,1\n"
        "2026-01-22T00:00:00Z,0,2026-01-23T05:00:00Z,3\n"
    )
    table = parse_weather_csv(text, "archive.csv")
    assert table.is_archive
    assert table.findings == ()
    (early, early_series), (late, late_series) = table.forecasts
    assert (early.hour, late.hour) == (0, 12)
    np.testing.assert_array_equal(early_series.air_temperature, [[1.0, 3.0], [2.0, np.nan]])
    assert late_series.air_temperature.tolist() == [[5.0]]


def test_realizations_without_reference_time_are_one_forecast():
    text = f"time,realization,air_temperature[Cel]\n{FIRST},1,5\n{FIRST},2,6\n"
    assert record(text).air_temperature.tolist() == [[5.0], [6.0]]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "line 1: the file is empty"),
        ("\n\n", "line 1: the file is empty"),
        (HEADER, "no rows"),
        ("time,wind_speed[m/s]\n", "no column air_temperature"),
        ("air_temperature[Cel]\n", "no column time"),
        ("time,air_temperature\n", "states no unit"),
        ("time,air_temperature[F]\n", "unit 'F' of air_temperature is unknown"),
        ("time,temp[Cel]\n", "column 'temp[Cel]' is unknown"),
        ("time,air[x]y\n", "is unknown"),
        ("time;air_temperature[Cel]\n", "separated by commas"),
        ("time,time,air_temperature[Cel]\n", "time is there twice"),
        (HEADER + f"{FIRST},1,2\n", "line 2: the row has 3 cells, the header 2"),
        (HEADER + f"{FIRST}\n", "line 2: the row has 1 cells"),
        (HEADER + f"{FIRST},1\n2026-01-23T05:00:00,1\n", "line 3: the time '2026-01-23T05:00:00' cannot be read"),
        (HEADER + "2026-02-30T05:00:00Z,1\n", "line 2: the time"),
        (HEADER + f"{FIRST},NaN\n", "'NaN' is no number for air_temperature"),
        (HEADER + f"{FIRST},1_0\n", "'1_0' is no number"),
        (HEADER + f"{FIRST},9.96921e36\n", "leave the cell empty"),
        (HEADER + f'{FIRST},"1"2\n', "line 2: this is no CSV"),
        (HEADER + f"{FIRST},{'x' * 200}\n", "xxx...' is no number"),
        (HEADER + f"{FIRST},{'x' * 140_000}\n", "this is no CSV"),
        (HEADER + f"{FIRST},\0\n", "line 2: there is a NUL byte"),
        (HEADER + f"{FIRST},1\n{FIRST},2\n", "no row is left"),
        (f"time,realization,air_temperature[Cel]\n{FIRST},a,2\n", "realization 'a' is no whole number"),
        (
            f"time,forecast_reference_time,air_temperature[Cel]\n{FIRST},soon,2\n",
            "the forecast_reference_time 'soon' cannot be read",
        ),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_place(text, says):
    assert says in refusal(text)


def test_rows_that_form_no_ensemble_are_refused_before_they_fill_the_memory():
    rows = "".join(f"2026-01-{1 + k // 24:02d}T{k % 24:02d}:00:00Z,{k},1\n" for k in range(100))
    assert "too few for 100 realizations" in refusal("time,realization,air_temperature[Cel]\n" + rows)


def test_a_record_is_written_as_it_is_read():
    series = hourly_series(START, [1.5, float("nan")], wind_speed=[float("nan"), 0.1])
    text = write_weather_csv(series)
    assert text == ("time,air_temperature[Cel],wind_speed[m/s]\n2026-01-23T04:00:00Z,1.5,\n2026-01-23T05:00:00Z,,0.1\n")


def test_an_archive_is_written_with_every_variable_that_any_forecast_has():
    archive = [
        (START, hourly_series(START, [1.0])),
        (START, hourly_series(START, [[2.0], [3.0]], wind_speed=[[1], [2]])),
    ]
    lines = write_forecast_archive_csv(archive).splitlines()
    assert lines[0] == "time,forecast_reference_time,realization,air_temperature[Cel],wind_speed[m/s]"
    assert lines[1:] == [f"{FIRST},{FIRST},{cells}" for cells in ("0,1.0,", "0,2.0,1.0", "1,3.0,2.0")]


def test_nothing_is_written_for_nothing():
    with pytest.raises(ValueError, match="at least one forecast"):
        write_forecast_archive_csv([])
    with pytest.raises(ValueError, match="without any time"):
        write_weather_csv(hourly_series(START, [[]]))


def test_infinite_values_are_not_written():
    with pytest.raises(ValueError, match="infinite"):
        write_weather_csv(hourly_series(START, [float("inf")]))


def test_the_columns_of_a_header_are_told():
    header = "realization,time,wind_speed[m/s],air_temperature[degF],forecast_reference_time"
    names = weather_csv_columns(header, "x.csv")
    assert sorted(names) == ["air_temperature", "forecast_reference_time", "realization", "time", "wind_speed"]


@pytest.mark.parametrize(
    ("header", "says"),
    [
        ("", "x.csv line 1: there is no column time"),
        ("time,air_temperature", "states no unit"),
        ("time,warmth", "unknown"),
        ('"', "no CSV"),
    ],
)
def test_a_header_that_is_none_is_refused(header, says):
    with pytest.raises(SourceMalformed, match=says):
        weather_csv_columns(header, "x.csv")
