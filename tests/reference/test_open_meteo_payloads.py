"""Answers of Open-Meteo that were recorded from the real service, with values read off by hand.

They are no part of the project; the tests run where the folder of recorded answers is.
"""

import os
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from alertd.core import SourceMalformed, to_datetime64
from alertd.sources.open_meteo import (
    ENSEMBLE_MODELS,
    FORECAST_MODELS,
    Asked,
    blocked_until,
    explain,
    parse_forecast,
    parse_models,
    parse_previous_runs,
)
from alertd.weather import check_quality

RECORDED = Path(os.environ.get("RECORDED_PAYLOADS", Path(__file__).parents[3] / "shared" / "payloads")) / "openmeteo"
pytestmark = pytest.mark.skipif(not RECORDED.is_dir(), reason="no recorded answers; set RECORDED_PAYLOADS")

BEST = FORECAST_MODELS["best_match"]
NEW_JERSEY = Asked(40.63, -74.43)
TWENTE = Asked(52.28, 6.88)


def recorded(name):
    return (RECORDED / name).read_bytes()


def at(series, name, *time):
    [place] = np.flatnonzero(series.times == to_datetime64(datetime(*time, tzinfo=UTC)))
    return series.variables[name][0, place]


@pytest.fixture
def winter():
    return parse_forecast(recorded("forecast_NJ_2025-12-28_336h_subfreezing.json"), NEW_JERSEY, BEST).series


def test_two_weeks_of_a_winter_are_read_hour_by_hour(winter):
    assert winter.n_times == 336
    assert (str(winter.times[0]), str(winter.times[-1])) == ("2025-12-28T00:00:00", "2026-01-10T23:00:00")
    assert set(winter.variables) == {
        "air_temperature",
        "wind_speed",
        "cloud_area_fraction",
        "precipitation_amount",
    }
    assert at(winter, "air_temperature", 2025, 12, 28, 0) == -2.0
    assert at(winter, "air_temperature", 2026, 1, 10, 23) == 7.8
    assert check_quality(winter).is_usable


def test_the_night_s_minimum_is_the_one_that_the_service_itself_names(winter):
    night = winter.window(datetime(2026, 1, 3, 21, tzinfo=UTC), datetime(2026, 1, 4, 15, tzinfo=UTC))
    assert np.nanmin(night.air_temperature) == -10.4  # daily.temperature_2m_min of 2026-01-04
    assert at(winter, "air_temperature", 2026, 1, 4, 11) == -10.4
    assert at(winter, "air_temperature", 2026, 1, 4, 10) == -10.2


def test_kilometres_per_hour_become_metres_per_second(winter):
    assert at(winter, "wind_speed", 2025, 12, 28, 0) == pytest.approx(5.9 / 3.6)
    assert at(winter, "precipitation_amount", 2026, 1, 10, 19) == 2.9
    assert np.count_nonzero(np.isnan(winter.variables["cloud_area_fraction"])) == 24


def test_members_of_two_models_become_realizations():
    models = (ENSEMBLE_MODELS["icon_seamless"], ENSEMBLE_MODELS["ecmwf_ifs025"])
    parsed = parse_models(recorded("ensemble_two_models_2026-10-03_1h.json"), TWENTE, models)
    icon, ecmwf = (parsed[model.name].series.air_temperature[:, 0] for model in models)
    assert (icon.size, ecmwf.size) == (40, 51)
    assert (icon[0], icon[1], icon[14], icon.max()) == (14.9, 15.7, 13.8, 16.6)
    assert (ecmwf.min(), ecmwf[33], ecmwf.max()) == (13.9, 13.9, 15.6)
    assert all(one.notes == () for one in parsed.values())


def test_an_answer_that_dropped_the_model_s_name_is_refused_if_several_were_asked_for():
    answer = recorded("forecast_models_one_covering_2026-10-03.json")
    with pytest.raises(SourceMalformed, match="unknown model"):
        parse_models(answer, TWENTE, (FORECAST_MODELS["icon_d2"], FORECAST_MODELS["ncep_hrrr_conus"]))
    assert parse_forecast(answer, TWENTE, FORECAST_MODELS["icon_d2"]).series.air_temperature.tolist() == [[19.3, 20.0]]


def test_previous_runs_are_told_apart():
    runs = dict(parse_previous_runs(recorded("previous_runs_2026-10-02.json"), TWENTE, BEST))
    assert {days: series.air_temperature[0].tolist() for days, series in runs.items()} == {
        0: [13.8, 13.3, 12.1],
        1: [14.2, 12.9, 12.1],
        2: [14.4, 14.2, 13.4],
    }


def test_a_bare_nan_is_no_answer():
    with pytest.raises(SourceMalformed, match="no valid JSON"):
        parse_forecast(recorded("errors/http200_bare_nan_invalid_json_satellite_not_covered.txt"), TWENTE, BEST)


@pytest.mark.parametrize("path", sorted((RECORDED / "errors").glob("*.json")), ids=lambda path: path.stem)
def test_every_refusal_is_explained(path):
    status = int(path.name[:3])
    body = path.read_bytes()
    assert "its words: " in explain(status, {}, body)
    now = datetime(2026, 1, 23, 13, 5, 7, tzinfo=UTC)
    assert (blocked_until(status, body, now) is not None) == (status == 429)
    with pytest.raises(SourceMalformed, match="an error, with the status of a good one"):
        parse_forecast(body, TWENTE, BEST)
