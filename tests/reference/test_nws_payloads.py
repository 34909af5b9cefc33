"""Recorded answers of the US National Weather Service against values read from them by hand.

The answers are no part of the project. `RECORDED_PAYLOADS` names the folder that holds them.
"""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from alertd.core import SourceMalformed
from alertd.sources.minima import believable_minima
from alertd.sources.nws import (
    GridCell,
    explain,
    parse_alerts,
    parse_gridpoint,
    parse_hourly,
    parse_observation,
    parse_points,
    parse_stations,
)
from alertd.sources.nws.ahead import minima_ahead
from alertd.sources.nws.problems import PHRASES
from alertd.weather import check_quality

RECORDED = Path(os.environ.get("RECORDED_PAYLOADS", Path(__file__).parents[3] / "shared" / "payloads")) / "nws"
pytestmark = pytest.mark.skipif(not RECORDED.is_dir(), reason="no recorded answers; set RECORDED_PAYLOADS")

FLAGSTAFF = (35.198, -111.651)
FLORIDA = (30.02, -84.98)


def recorded(name):
    return (RECORDED / name).read_bytes()


def flagstaff():
    return parse_gridpoint(recorded("gridpoint_FGZ_74-89_2024-02-20.json"), *FLAGSTAFF)


def values(series, variable, *hours):
    """Return values at hours like ``2024-02-21T14``."""
    return [series.variables[variable][0, series.times == np.datetime64(f"{hour}:00:00")].item() for hour in hours]


def test_points_name_the_cell():
    mapping = parse_points(recorded("points_FGZ_35.198_-111.651.json"), *FLAGSTAFF)
    assert mapping.cell == GridCell("FGZ", 74, 89)
    assert mapping.grid_path == "/gridpoints/FGZ/74,89"
    with pytest.raises(SourceMalformed, match="not for the position asked"):
        parse_points(recorded("points_FGZ_35.198_-111.651.json"), 44.0, -93.0)


def test_raw_layers_of_flagstaff():
    forecast = flagstaff()
    series = forecast.series
    assert forecast.forecast_reference_time == datetime(2024, 2, 20, 17, 13, 54, tzinfo=UTC)
    assert forecast.cell == GridCell("FGZ", 74, 89)  # text in this answer
    assert forecast.elevation == pytest.approx(2129.9424)
    assert (series.times[0], series.times[-1]) == (
        np.datetime64("2024-02-20T11:00:00"),
        np.datetime64("2024-02-28T00:00:00"),
    )
    assert np.all(np.diff(series.times) == np.timedelta64(3600, "s"))
    hours = ("2024-02-20T13", "2024-02-20T14", "2024-02-21T05", "2024-02-21T14", "2024-02-22T14")
    assert values(series, "air_temperature", *hours) == pytest.approx(
        [-2.2222, -3.3333, 2.2222, -2.2222, -6.1111], abs=1e-3
    )
    assert values(series, "dew_point_temperature", "2024-02-21T13", "2024-02-22T14") == pytest.approx(
        [-7.7778, -6.1111], abs=1e-3
    )
    assert values(series, "cloud_area_fraction", "2024-02-21T17", "2024-02-22T18") == [47.0, 22.0]
    # 18.52 km/h are 10 kn, 9.26 km/h are 5 kn
    assert values(series, "wind_speed", "2024-02-21T14", "2024-02-22T16") == pytest.approx([5.1444, 2.5722], abs=1e-3)
    # one interval of rain is one hour long, all others six
    amounts = series.variables["precipitation_amount"]
    assert values(series, "precipitation_amount", "2024-02-20T12") == [0.0]
    assert np.count_nonzero(~np.isnan(amounts)) == 1


def test_nights_of_flagstaff_are_colder_than_their_hours():
    forecast = flagstaff()
    assert len(forecast.minima) == 9
    second = forecast.minima[1]  # the night to 21 February, 02 to 16 UTC: 27 °F; its hours have 28 °F at 14 UTC
    assert second.start == datetime(2024, 2, 21, 2, tzinfo=UTC)
    assert second.end == datetime(2024, 2, 21, 16, tzinfo=UTC)
    assert second.air_temperature == pytest.approx(-2.7778, abs=1e-3)
    hours = forecast.series.window(second.start, second.end).air_temperature
    assert hours.min() == pytest.approx(-2.2222, abs=1e-3)
    third = forecast.minima[2]  # 20 °F; its hours have 21 °F
    assert third.air_temperature == pytest.approx(-6.6667, abs=1e-3)


def test_the_cut_first_night_of_flagstaff_counts_while_its_coldest_hour_is_shown():
    """The layers begin at 11 UTC with 28 °F, 14 UTC has 26 °F; the period of 11 to 16 UTC has 25 °F."""
    forecast = flagstaff()
    first = forecast.minima[0]
    assert first.end - first.start == timedelta(hours=5)
    assert first.air_temperature == pytest.approx(-3.8889, abs=1e-3)
    at_dawn, after_it = (datetime(2024, 2, 20, hour, 30, tzinfo=UTC) for hour in (12, 16))
    assert minima_ahead(forecast.minima, forecast.series, at_dawn) == forecast.minima
    assert minima_ahead(forecast.minima, forecast.series, after_it) == forecast.minima[1:]
    # had the layers begun with 14 UTC, the coldest hour, they would only get warmer
    cut = (replace(first, start=datetime(2024, 2, 20, 14, tzinfo=UTC)), *forecast.minima[1:])
    left = forecast.series.window(cut[0].start, forecast.minima[-1].end)
    assert minima_ahead(cut, left, datetime(2024, 2, 20, 14, 5, tzinfo=UTC)) == cut[1:]


def test_layers_of_a_warm_place():
    forecast = parse_gridpoint(recorded("gridpoint_southern_us_2022-02-03.json"), *FLORIDA)
    assert forecast.forecast_reference_time == datetime(2022, 2, 4, 3, 15, 41, tzinfo=UTC)
    assert forecast.elevation == pytest.approx(3.9624)
    assert values(forecast.series, "air_temperature", "2022-02-04T10", "2022-02-05T12") == pytest.approx(
        [18.8889, 3.8889], abs=1e-3
    )
    assert "precipitation_amount" not in forecast.series.variables
    assert forecast.minima[1].air_temperature == pytest.approx(3.8889, abs=1e-3)


def test_true_forecasts_pass_quality_control():
    forecasts = (flagstaff(), parse_gridpoint(recorded("gridpoint_southern_us_2022-02-03.json"), *FLORIDA))
    for forecast in forecasts:
        report = check_quality(forecast.series)
        assert report.is_usable
        assert report.findings == ()
        assert believable_minima(forecast.minima, report.series) == (forecast.minima, ())


def test_whole_degrees_fahrenheit_stand_behind_the_celsius():
    fahrenheit = flagstaff().series.air_temperature * 1.8 + 32.0
    assert np.abs(fahrenheit - np.round(fahrenheit)).max() < 1e-9


def test_the_hourly_forecast_in_its_form_of_2019():
    forecast = parse_hourly(recorded("forecasthourly_si_TRIMMED_2019.json"), 29.995, -84.957)
    assert forecast.forecast_reference_time == datetime(2019, 10, 14, 23, 16, 24, tzinfo=UTC)
    assert forecast.series.times.tolist() == [datetime(2019, 10, 15, hour) for hour in (0, 1)]  # noqa: DTZ001
    assert forecast.series.air_temperature.tolist() == [[25.5, 25.0]]
    assert forecast.series.variables["wind_speed"].tolist() == [[0.0, 0.0]]
    assert forecast.elevation == pytest.approx(7.9248)


def test_stations_and_reports():
    stations = parse_stations(recorded("stations_FGZ_74-89.json"))
    assert stations[0].identifier == "KFLG"
    assert stations[0].elevation == pytest.approx(2131.7712)
    measured = parse_observation(recorded("observations_latest.json"), "KFLL")
    assert measured.time == datetime(2022, 3, 2, 23, 53, tzinfo=UTC)
    assert measured.air_temperature == pytest.approx(22.8)
    assert measured.wind_speed == pytest.approx(2.1)  # 7.56 km/h
    with pytest.raises(SourceMalformed):
        parse_observation(recorded("observations_missing_value_EDITED.json"), "KFLL")


def test_no_active_alert():
    assert parse_alerts(recorded("alerts_active_empty.json")) == ()


@pytest.mark.parametrize(
    ("name", "phrase"),
    [
        ("404_InvalidPoint_2019.json", PHRASES["InvalidPoint"]),
        ("404_NotFound_invalid_path.json", PHRASES["NotFound"]),
        ("500_UnexpectedProblem_2021.json", PHRASES["UnexpectedProblem"]),
        ("500_UnexpectedProblem_2023.json", PHRASES["UnexpectedProblem"]),
        ("503_ForecastGridExpired_2020.json", f"{PHRASES['ForecastGridExpired']} (issued 2020-02-11T11:36:27+00:00)"),
        ("503_UnavailableWebService_2019.json", PHRASES["UnavailableWebService"]),
    ],
)
def test_recorded_problems_become_phrases(name, phrase):
    assert explain(int(name[:3]), {}, recorded(f"errors/{name}")) == phrase
