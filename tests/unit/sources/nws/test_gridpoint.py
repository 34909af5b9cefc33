"""Raw layers of a grid cell."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import numpy as np
import pytest

from alertd.core import SourceMalformed
from alertd.sources.nws import GridCell, parse_gridpoint
from alertd.sources.nws.gridpoint import is_of_another_place
from tests.fakes import nws


def parsed(**changed):
    return parse_gridpoint(nws.body(nws.gridpoint(**changed)), 44.1234, -72.5)


def value(forecast, variable, hour):
    """Return a value at an hour like ``23T12``."""
    where = forecast.series.times == np.datetime64(f"2026-01-{hour}:00:00")
    return forecast.series.variables[variable][0, where].item()


def test_the_answer_says_when_it_was_made_for_which_cell_and_how_high_that_is():
    forecast = parsed()
    assert forecast.forecast_reference_time == datetime(2026, 1, 22, 17, 12, 50, tzinfo=UTC)
    assert forecast.cell == GridCell("ZZQ", 12, 34)
    assert forecast.elevation == 300.0


def test_temperatures_hold_over_their_intervals():
    forecast = parsed()
    assert forecast.series.times[0] == np.datetime64("2026-01-22T11:00:00")
    assert forecast.series.times[-1] == np.datetime64("2026-01-24T20:00:00")  # 17:00 and 28 h, less the last one
    assert forecast.series.n_times == 58
    assert np.all(np.diff(forecast.series.times) == np.timedelta64(3600, "s"))
    # 28 °F is -2.22 °C, 19 °F is -7.22 °C, 32 °F is 0 °C
    expected = {"22T11": -2.22, "22T13": -2.22, "22T14": -1.11, "23T11": -6.67, "23T12": -7.22, "23T13": -7.22}
    for hour, celsius in (expected | {"23T14": -5.0, "23T17": 0.0, "24T20": 0.0}).items():
        assert value(forecast, "air_temperature", hour) == pytest.approx(celsius, abs=0.01), hour
    assert np.nanmin(forecast.series.air_temperature) == pytest.approx(-7.22, abs=0.01)


def test_the_nights_own_minimum_is_colder_than_any_of_its_hours():
    first, night = parsed().minima
    assert (first.start.hour, first.end.hour) == (11, 16)
    assert first.air_temperature == pytest.approx(-3.33, abs=0.01)
    assert night.start == datetime(2026, 1, 23, 0, tzinfo=UTC)
    assert night.end == datetime(2026, 1, 23, 14, tzinfo=UTC)
    assert night.air_temperature == pytest.approx(-8.89, abs=0.01)  # 16 °F; the coldest hour has 19 °F


def test_layers_with_other_ends_are_joined_by_time():
    forecast = parsed()
    assert value(forecast, "dew_point_temperature", "23T10") == pytest.approx(-10.0)
    assert np.isnan(value(forecast, "dew_point_temperature", "23T11"))
    assert value(forecast, "cloud_area_fraction", "22T16") == 75.0
    assert np.isnan(value(forecast, "cloud_area_fraction", "22T17"))  # null
    assert value(forecast, "cloud_area_fraction", "22T20") == 10.0
    assert value(forecast, "wind_speed", "22T11") == pytest.approx(3.0867, abs=1e-4)  # 6 kn = 11.112 km/h
    assert np.isnan(value(forecast, "wind_speed", "23T15"))


def test_a_layer_that_begins_and_ends_outside_the_temperatures_adds_no_hours():
    wind = nws.layer("wmoUnit:km_h-1", ("2026-01-22T00:00:00Z/P6D", 3.6))
    forecast = parsed(windSpeed=wind)
    assert forecast.series.n_times == 58
    assert (forecast.series.variables["wind_speed"] == 1.0).all()


def test_rain_of_one_hour_is_told_at_its_end_and_that_of_six_hours_is_no_rain_of_an_hour():
    forecast = parsed()
    assert value(forecast, "precipitation_amount", "22T19") == 0.254
    amounts = forecast.series.variables["precipitation_amount"]
    assert np.count_nonzero(~np.isnan(amounts)) == 1


def test_new_snow_is_no_depth_of_snow():
    assert "surface_snow_thickness" not in parsed().series.variables


def test_empty_absent_and_null_layers_are_left_out():
    forecast = parsed(dewpoint={"values": []}, skyCover=..., windSpeed=None, quantitativePrecipitation={"values": []})
    assert set(forecast.series.variables) == {"air_temperature"}
    assert parsed(minTemperature={"values": []}).minima == ()
    assert parsed(minTemperature=...).minima == ()


def test_a_null_minimum_is_none():
    nulls = nws.layer("wmoUnit:degC", ("2026-01-23T00:00:00Z/PT14H", None))
    assert parsed(minTemperature=nulls).minima == ()


def test_a_null_temperature_is_missing():
    temperature = nws.layer(
        "wmoUnit:degC",
        ("2026-01-22T11:00:00Z/PT1H", 1),
        ("2026-01-22T12:00:00Z/PT1H", None),
        ("2026-01-22T13:00:00Z/PT1H", 3),
    )
    assert parsed(temperature=temperature).series.air_temperature[0].tolist() == pytest.approx(
        [1.0, np.nan, 3.0], nan_ok=True
    )


@pytest.mark.parametrize("uom", ["wmoUnit:degC", "unit:degC", "nwsUnit:degC", "Cel", "uc:Cel", "http://x/unit:degC"])
def test_a_unit_is_known_by_its_last_part(uom):
    temperature = nws.layer(uom, ("2026-01-22T11:00:00Z/PT1H", -5))
    assert parsed(temperature=temperature).series.air_temperature.tolist() == [[-5.0]]


@pytest.mark.parametrize(("uom", "stated", "celsius"), [("wmoUnit:degF", 14, -10.0), ("wmoUnit:K", 263.15, -10.0)])
def test_temperatures_in_other_units_are_converted(uom, stated, celsius):
    temperature = nws.layer(uom, ("2026-01-22T11:00:00Z/PT1H", stated))
    assert parsed(temperature=temperature).series.air_temperature.item() == pytest.approx(celsius)


@pytest.mark.parametrize(
    ("layer", "uom"),
    [
        ("temperature", "wmoUnit:percent"),
        ("dewpoint", "wmoUnit:degR"),
        ("windSpeed", "wmoUnit:furlong_fortnight-1"),
        ("skyCover", "wmoUnit:okta"),
        ("quantitativePrecipitation", "wmoUnit:cm"),
        ("minTemperature", ""),
    ],
)
def test_an_unknown_unit_is_refused_by_layer_and_unit(layer, uom):
    with pytest.raises(SourceMalformed) as raised:
        parsed(**{layer: nws.layer(uom, ("2026-01-22T11:00:00Z/PT1H", 1))})
    assert str(raised.value) == f"{layer} has the unknown unit {uom!r}"


def test_values_without_a_unit_are_refused():
    temperature = {"values": [{"validTime": "2026-01-22T11:00:00Z/PT1H", "value": 1}]}
    with pytest.raises(SourceMalformed, match="the unit of temperature is null"):
        parsed(temperature=temperature)


@pytest.mark.parametrize("stated", ["-5", True, [-5], {"value": -5}])
def test_a_value_that_is_no_number_is_refused(stated):
    temperature = nws.layer("wmoUnit:degC", ("2026-01-22T11:00:00Z/PT1H", stated))
    with pytest.raises(SourceMalformed, match=r"temperature\.value"):
        parsed(temperature=temperature)


@pytest.mark.parametrize(
    "changed",
    [
        {"temperature": ...},
        {"temperature": {"values": []}},
        {"temperature": nws.layer("wmoUnit:degC", ("2026-01-22T11:00:00Z/P1D", None))},
        {"temperature": nws.layer("wmoUnit:degC", ("2031-01-22T11:00:00Z/P1D", 3))},
    ],
)
def test_an_answer_without_a_temperature_is_refused(changed):
    with pytest.raises(SourceMalformed, match="there is no air temperature"):
        parsed(**changed)


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"updateTime": ...}, "updateTime"),
        ({"updateTime": "yesterday"}, "updateTime"),
        ({"updateTime": "2026-01-22T17:12:50"}, "updateTime"),
        ({"updateTime": "1026-01-22T17:12:50Z"}, "updateTime"),
        ({"temperature": []}, "temperature"),
        ({"temperature": {"uom": "wmoUnit:degC", "values": {}}}, r"temperature\.values"),
        ({"temperature": {"uom": "wmoUnit:degC", "values": [3]}}, r"temperature\[0\]"),
        ({"temperature": {"uom": "wmoUnit:degC", "values": [{"value": 3}]}}, r"temperature\.validTime"),
        ({"elevation": {"unitCode": "wmoUnit:ft", "value": 984}}, "elevation has the unknown unit 'wmoUnit:ft'"),
        ({"elevation": {"unitCode": "wmoUnit:m", "value": 29029}}, "no elevation on Earth"),
        ({"elevation": 300}, "elevation is 300 and not an object"),
        ({"gridX": None}, "gridX"),
    ],
)
def test_what_cannot_be_read_is_named(changed, named):
    with pytest.raises(SourceMalformed, match=named):
        parsed(**changed)


def test_an_answer_may_keep_its_elevation_and_cell_to_itself():
    for elevation in (..., None, {"unitCode": "wmoUnit:m", "value": None}):
        assert parsed(elevation=elevation).elevation is None
    assert parsed(gridId=...).cell is None


def test_the_cell_of_another_place_is_refused():
    with pytest.raises(SourceMalformed, match="not for the position asked"):
        parse_gridpoint(nws.body(nws.gridpoint()), 40.0, -72.5)


@pytest.mark.parametrize(
    "geometry",
    [
        {"type": "Point", "coordinates": [-72.5, 44.1]},
        {"type": "GeometryCollection", "geometries": [{"type": "Point", "coordinates": [-72.5, 44.1]}]},
        None,
    ],
)
def test_the_place_may_be_told_in_other_ways_or_not_at_all(geometry):
    body = nws.body({**nws.gridpoint(), "geometry": geometry})
    assert parse_gridpoint(body, 44.1234, -72.5).series.n_times == 58


@pytest.mark.parametrize(
    "geometry",
    [
        "POLYGON((0 0))",
        {"type": "Polygon", "coordinates": []},
        {"type": "Polygon", "coordinates": [[]]},
        {"type": "GeometryCollection", "geometries": []},
        {"type": "GeometryCollection"},
        {"type": "GeometryCollection", "geometries": [{"type": "GeometryCollection"}]},
        {},
    ],
)
def test_a_place_that_cannot_be_read_is_refused(geometry):
    body = nws.body({**nws.gridpoint(), "geometry": geometry})
    with pytest.raises(SourceMalformed, match="geometry"):
        parse_gridpoint(body, 44.1234, -72.5)


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"null",
        b"[]",
        b"\xff\xfe",
        b"<html>",
        b'{"properties": {"updateTime": NaN}}',
        b'{"properties": 1e999}',
        b'{"properties": ' + b"9" * 5000 + b"}",
        b'{"properties": {}, "properties": {}}',
        b"[" * 100_000,
        nws.body(nws.gridpoint())[:-100],
        nws.body(nws.gridpoint()) + b"Unexpected error",
        b"{}",
    ],
)
def test_what_is_no_answer_is_malformed(body):
    with pytest.raises(SourceMalformed) as raised:
        parse_gridpoint(body, 44.1234, -72.5)
    assert "\n" not in str(raised.value)
    assert len(str(raised.value)) < 200


@pytest.mark.parametrize(
    ("document", "is_another"),
    [
        (nws.gridpoint(), False),
        (nws.gridpoint(gridId=...), False),
        (nws.gridpoint(temperature=...), False),
        (nws.gridpoint(gridX="somewhere"), False),
        ([], False),
        (nws.gridpoint() | {"geometry": None}, False),
        (nws.gridpoint(path=nws.OTHER_CELL_PATH), True),
        (nws.gridpoint() | {"geometry": {"type": "Point", "coordinates": [-72.5, 40.0]}}, True),
    ],
)
def test_an_answer_is_of_another_place_only_if_it_says_so(document, is_another):
    assert is_of_another_place(nws.body(document), GridCell("ZZQ", 12, 34), 44.1234, -72.5) is is_another


def test_huge_values_become_no_warning_and_no_crash():
    temperature = nws.layer("wmoUnit:degF", ("2026-01-22T11:00:00Z/PT1H", 1e308), ("2026-01-22T12:00:00Z/PT1H", 14))
    assert parsed(temperature=temperature).series.air_temperature[0, 1] == pytest.approx(-10.0)


def test_the_invented_answer_has_the_shape_of_the_services_own_schema():
    """The parts of GridpointQuantitativeValueLayer and ISO8601Interval in the service's OpenAPI 3.9.2 (seen)."""
    jsonschema = pytest.importorskip("jsonschema")
    edge = r"(\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(Z|[+-]\d{2}:?\d{2}?)|NOW)"
    length = r"P(\d+Y)?(\d+M)?(\d+D)?(T(\d+H)?(\d+M)?(\d+S)?)?"
    interval = {"type": "string", "pattern": f"^{edge}/{length}$"}
    entry = {
        "type": "object",
        "required": ["validTime", "value"],
        "properties": {"validTime": interval, "value": {"type": ["number", "null"]}},
        "additionalProperties": False,
    }
    schema = {
        "type": "object",
        "required": ["values"],
        "properties": {"uom": {"type": "string"}, "values": {"type": "array", "items": entry}},
    }
    document = json.loads(nws.body(nws.gridpoint()))
    layers = [value for value in document["properties"].values() if isinstance(value, dict) and "values" in value]
    assert len(layers) == 10
    for layer in layers:
        jsonschema.validate(layer, schema)
