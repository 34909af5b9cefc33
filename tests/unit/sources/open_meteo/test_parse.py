"""From the bytes of an answer to weather."""

import jsonschema
import numpy as np
import pytest

from alertd.core import SourceMalformed
from alertd.sources.open_meteo import (
    ENSEMBLE_MODELS,
    FORECAST_MODELS,
    Model,
    parse_forecast,
    parse_models,
    parse_previous_runs,
)
from tests.fakes.open_meteo import (
    ASKED,
    SCHEMA,
    body,
    document,
    ensemble_columns,
    forecast_columns,
    temperatures,
)

ICON = FORECAST_MODELS["icon_seamless"]
ICON_ENSEMBLE = ENSEMBLE_MODELS["icon_seamless"]
ECMWF_ENSEMBLE = ENSEMBLE_MODELS["ecmwf_ifs025"]


@pytest.mark.parametrize("columns", [forecast_columns(known=150), ensemble_columns(), {"temperature_2m": [None]}])
def test_invented_answers_have_the_shape_of_the_service(columns):
    jsonschema.validate(document(columns), SCHEMA)


def test_a_forecast_is_read_with_all_its_variables():
    parsed = parse_forecast(body(forecast_columns()), ASKED, ICON)
    assert parsed.series.n_realizations == 1
    assert parsed.series.n_times == 168
    assert set(parsed.series.variables) == {
        "air_temperature",
        "dew_point_temperature",
        "wind_speed",
        "cloud_area_fraction",
        "precipitation_amount",
        "surface_snow_thickness",
    }
    coldest = int(np.argmin(parsed.series.air_temperature[0]))
    assert parsed.series.air_temperature[0, coldest] == -12.0
    assert str(parsed.series.times[coldest]) == "2026-01-23T11:00:00"
    assert parsed.series.variables["wind_speed"][0, 1] == 2.86
    assert parsed.notes == ()


def test_soil_temperatures_keep_their_depths_and_the_name_of_their_model():
    soil = parse_forecast(body(forecast_columns(24, known=20)), ASKED, ICON).soil
    assert soil.model == "icon_seamless"
    assert soil.depths == ((0.0, 0.0), (0.06, 0.06), (0.18, 0.18), (0.54, 0.54))
    assert soil.values.shape == (4, 1, 20)
    assert soil.values[3, 0, 0] == 4.1
    assert soil.times.size == 20


def test_soil_temperatures_that_cannot_be_true_are_missing():
    columns = {"temperature_2m": [1.0, 1.0], "soil_temperature_6cm": [99.0, 2.0], "soil_temperature_0cm": [None, None]}
    soil = parse_forecast(body(columns), ASKED, ICON).soil
    assert soil.depths == ((0.0, 0.0), (0.06, 0.06))
    assert np.isnan(soil.values[1, 0, 0])
    assert soil.values[1, 0, 1] == 2.0


def test_soil_that_is_missing_altogether_is_none():
    columns = {"temperature_2m": [1.0], "soil_temperature_6cm": [None]}
    assert parse_forecast(body(columns), ASKED, ICON).soil is None


def test_nulls_at_the_end_are_cut_and_others_are_missing():
    columns = {"temperature_2m": [None, -1.0, None, -3.0, None, None], "cloud_cover": [1, 2, None, 4, 5, 6]}
    series = parse_forecast(body(columns), ASKED, ICON).series
    assert series.n_times == 4
    assert np.isnan(series.air_temperature[0]).tolist() == [True, False, True, False]
    assert np.isnan(series.variables["cloud_area_fraction"][0]).tolist() == [False, False, True, False]


def test_a_variable_without_values_is_left_out():
    columns = {"temperature_2m": [1.0, None], "snow_depth": [None, 3.0]}
    assert set(parse_forecast(body(columns), ASKED, ICON).series.variables) == {"air_temperature"}


@pytest.mark.parametrize(
    ("columns", "reason"),
    [
        ({"temperature_2m": [None, None]}, "nothing but missing values"),
        ({"temperature_2m": [None], "temperature_2m_member01": [None]}, "nothing but missing values"),
        ({"cloud_cover": [1, 2]}, "no temperature_2m"),
        ({"temperature_2m_previous_day1": [1.0]}, "no temperature_2m"),
        ({"temperature_2m_gfs_seamless": [1.0]}, "model gfs_seamless, not of icon_seamless"),
        ({"temperature_2m": [1.0], "temperature_2m_icon_seamless": [1.0]}, "with and without the name"),
        ({"temperature_2m": [1.0, 2.0], "temperature_2m_member01": [1.0]}, "1 values for 2 times"),
    ],
)
def test_a_forecast_that_says_nothing_or_something_else_is_refused(columns, reason):
    with pytest.raises(SourceMalformed, match=reason):
        parse_forecast(body(columns), ASKED, ICON)


@pytest.mark.parametrize("parts", [{"hourly": None}, {"hourly_units": []}, {"hourly": [1]}])
def test_an_answer_without_arrays_or_units_is_refused(parts):
    with pytest.raises(SourceMalformed, match="no hourly values with units"):
        parse_forecast(body({"temperature_2m": [1.0]}, **parts), ASKED, ICON)


def test_the_name_of_the_asked_model_may_stand_in_the_key():
    series = parse_forecast(body({"temperature_2m_icon_seamless": [1.0]}), ASKED, ICON).series
    assert series.air_temperature.tolist() == [[1.0]]


def test_members_become_realizations_with_the_control_first():
    parsed = parse_forecast(body(ensemble_columns(24)), ASKED, ICON_ENSEMBLE)
    assert parsed.series.air_temperature.shape == (40, 24)
    assert parsed.series.air_temperature[:3, 11].tolist() == [-12.0, -12.1, -12.2]
    assert parsed.notes == ()


def test_absent_and_empty_members_are_left_out_and_told():
    columns = {
        "temperature_2m": [1.0, 2.0, None],
        "temperature_2m_member02": [3.0, 4.0, 5.0],
        "temperature_2m_member05": [None, None, None],
        "wind_speed_10m_member02": [6.0, 7.0, 8.0],
        "wind_speed_10m_member05": [9.0, 9.0, 9.0],
    }
    parsed = parse_forecast(body(columns), ASKED, ICON_ENSEMBLE)
    assert parsed.series.air_temperature[1].tolist() == [3.0, 4.0, 5.0]
    assert np.isnan(parsed.series.air_temperature[0]).tolist() == [False, False, True]
    assert np.isnan(parsed.series.variables["wind_speed"]).tolist() == [[True] * 3, [False] * 3]
    assert parsed.notes == ("2 of the 40 realizations of icon_seamless have values",)


def test_several_models_are_told_apart_by_the_names_in_the_answer():
    columns = ensemble_columns(3, 39, suffix="_icon_seamless_eps")
    columns |= ensemble_columns(3, 50, suffix="_ecmwf_ifs025_ensemble")
    parsed = parse_models(body(columns), ASKED, (ICON_ENSEMBLE, ECMWF_ENSEMBLE))
    counts = {name: one.series.n_realizations for name, one in parsed.items()}
    assert counts == {"icon_seamless": 40, "ecmwf_ifs025": 51}


@pytest.mark.parametrize(
    ("columns", "reason"),
    [
        ({"temperature_2m": [1.0]}, "unknown model: several were asked for"),
        ({"temperature_2m_gfs_seamless": [1.0]}, "model gfs_seamless, which was not asked for"),
        ({}, "no times"),
        ({"uv_index": [1.0]}, "no temperature_2m"),
        ({"temperature_2m_icon_seamless": [1.0], "temperature_2m_icon_seamless_eps": [1.0]}, "icon_seamless twice"),
        ({"temperature_2m_previous_day1_icon_seamless": [1.0]}, "no temperature_2m"),
    ],
)
def test_an_answer_that_does_not_say_of_which_model_it_is_is_refused(columns, reason):
    with pytest.raises(SourceMalformed, match=reason):
        parse_models(body(columns), ASKED, (ICON_ENSEMBLE, ECMWF_ENSEMBLE))


def test_previous_runs_are_told_apart_by_lead_time():
    columns = {
        "temperature_2m": [0.0, 0.1, 0.2],
        "temperature_2m_previous_day2": [2.0, None, None],
        "temperature_2m_previous_day1": [None, 1.1, 1.2],
        "temperature_2m_previous_day3": [None, None, None],
        "precipitation_previous_day4": [0.0, 0.0, 0.0],
    }
    runs = dict(parse_previous_runs(body(columns), ASKED, ICON))
    assert list(runs) == [0, 1, 2]
    assert runs[1].air_temperature[0, 1:].tolist() == [1.1, 1.2]
    assert np.isnan(runs[1].air_temperature[0, 0])
    assert runs[2].n_times == 1


@pytest.mark.parametrize(
    ("columns", "reason"),
    [
        ({"temperature_2m_previous_day1": [None]}, "nothing but missing values"),
        ({"temperature_2m_previous_day1_gfs_seamless": [1.0]}, "not of icon_seamless"),
        (
            {"temperature_2m_previous_day1_icon_seamless": [1.0], "temperature_2m_previous_day1": [1.0]},
            "with and without",
        ),
    ],
)
def test_previous_runs_that_say_nothing_or_something_else_are_refused(columns, reason):
    with pytest.raises(SourceMalformed, match=reason):
        parse_previous_runs(body(columns), ASKED, ICON)


def test_a_model_that_is_new_here_is_read_without_soil():
    parsed = parse_forecast(body(forecast_columns(5)), ASKED, Model("brand_new_model"))
    assert parsed.soil is None
    assert parsed.series.air_temperature[0].tolist() == temperatures(5)
