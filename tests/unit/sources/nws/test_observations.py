"""Stations and their reports."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from alertd.core import SourceMalformed
from alertd.sources.nws import Measured, Station, parse_observation, parse_stations
from tests.fakes import nws


def parsed(celsius=1.1, code="V", **changed):
    return parse_observation(nws.body(nws.observation("ZZQ1", celsius, code, **changed)), "ZZQ1")


def test_stations_are_read_with_their_places():
    first, *others = parse_stations(nws.body(nws.stations()))
    assert first == Station("ZZQ1", "ZZQ1 Field", 44.2, -72.5, 250.0)
    assert [station.identifier for station in others] == ["ZZQ2", "ZZQ3", "ZZQ4"]


def test_a_station_may_keep_its_elevation_to_itself():
    body = nws.body({"features": [nws.station("ZZQ1", 44.2, -72.5, None)]})
    assert parse_stations(body)[0].elevation is None


@pytest.mark.parametrize("identifier", [None, "", "a/b", "../x", "x" * 21, 5])
def test_a_station_whose_name_cannot_be_asked_is_refused(identifier):
    feature = nws.station("ZZQ1", 44.2, -72.5)
    feature["properties"]["stationIdentifier"] = identifier
    with pytest.raises(SourceMalformed, match="stationIdentifier"):
        parse_stations(nws.body({"features": [feature]}))


def test_a_report_has_its_values_in_canonical_units():
    assert parsed() == Measured(datetime(2026, 1, 22, 17, 53, tzinfo=UTC), 1.1, -11.1, 2.0)


@pytest.mark.parametrize("code", ["X", "Q"])
def test_values_that_failed_quality_control_are_missing(code):
    assert parsed(code=code).air_temperature is None


@pytest.mark.parametrize("code", ["Z", "C", "S", "V", "G", "B", "T", None, 7, []])
def test_other_codes_pass(code):
    assert parsed(code=code).air_temperature == 1.1


def test_a_null_temperature_is_missing():
    assert parsed(celsius=None, code="Z").air_temperature is None
    assert parsed(temperature=None).air_temperature is None


@pytest.mark.parametrize("celsius", [200.0, -95.0])
def test_a_temperature_that_cannot_be_true_is_missing(celsius):
    assert parsed(celsius=celsius).air_temperature is None


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"timestamp": None}, "timestamp"),
        ({"station": "https://api.weather.gov/stations/ZZQ2"}, "of the station 'ZZQ2' and not of ZZQ1"),
        ({"station": None}, "station"),
        ({"temperature": 5}, "temperature is 5 and not an object"),
        ({"temperature": {"unitCode": "wmoUnit:mood", "value": 1}}, "temperature has the unknown unit 'wmoUnit:mood'"),
        ({"temperature": {"unitCode": "wmoUnit:degC", "value": "1"}}, "temperature is '1' and not a number"),
    ],
)
def test_a_report_that_cannot_be_read_is_named(changed, named):
    with pytest.raises(SourceMalformed, match=named):
        parsed(**changed)
