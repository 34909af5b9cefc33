"""From a position to a grid cell."""

from __future__ import annotations

import pytest

from alertd.core import SourceMalformed
from alertd.sources.nws import GridCell, Mapping, parse_points
from alertd.sources.nws.points import address
from tests.fakes import nws


def test_an_answer_names_the_cell_and_where_its_data_are():
    mapping = parse_points(nws.body(nws.points()), 44.1234, -72.5)
    assert mapping == Mapping(
        GridCell("ZZQ", 12, 34),
        "/gridpoints/ZZQ/12,34",
        "/gridpoints/ZZQ/12,34/forecast/hourly",
        "/gridpoints/ZZQ/12,34/stations",
    )
    assert str(mapping.cell) == "ZZQ/12,34"


def test_columns_and_rows_may_be_text():
    document = nws.points()
    document["properties"] |= {"gridX": "12", "gridY": 34.0}
    assert parse_points(nws.body(document), 44.1234, -72.5).cell == GridCell("ZZQ", 12, 34)


@pytest.mark.parametrize("column", [None, True, 12.5, "12.0", "twelve", "", [12], "9999999999", "\u0661"])
def test_a_column_that_is_no_whole_number_is_refused(column):
    document = nws.points()
    document["properties"]["gridX"] = column
    with pytest.raises(SourceMalformed, match="gridX"):
        parse_points(nws.body(document), 44.1234, -72.5)


@pytest.mark.parametrize(("latitude", "longitude"), [(44.7, -72.5), (44.1234, -71.9), (-44.1234, -72.5), (44.1, 72.5)])
def test_an_answer_for_another_position_is_refused(latitude, longitude):
    body = nws.body(nws.points(latitude=latitude, longitude=longitude))
    with pytest.raises(SourceMalformed, match=r"and not for the position asked, 44\.1234, -72\.5000"):
        parse_points(body, 44.1234, -72.5)


def test_positions_are_compared_across_the_date_line():
    body = nws.body(nws.points(latitude=51.9, longitude=179.9))
    assert parse_points(body, 51.9, -179.9).cell.office == "ZZQ"


@pytest.mark.parametrize(
    "geometry",
    [
        None,
        "POINT(-72.5 44.1234)",
        {"type": "Polygon", "coordinates": [[[-72.5, 44.1]]]},
        {"type": "Point"},
        {"type": "Point", "coordinates": [44.1]},
        {"type": "Point", "coordinates": [-72.5, 144.1]},
        {"type": "Point", "coordinates": [-1e9, 44.1]},
        {"type": "Point", "coordinates": ["-72.5", "44.1"]},
    ],
)
def test_an_answer_that_does_not_say_for_where_it_is_is_refused(geometry):
    document = {**nws.points(), "geometry": geometry}
    with pytest.raises(SourceMalformed, match="geometry"):
        parse_points(nws.body(document), 44.1234, -72.5)


def test_a_position_without_a_cell_is_refused():
    document = nws.points()
    del document["properties"]["gridId"]
    with pytest.raises(SourceMalformed, match="no grid cell"):
        parse_points(nws.body(document), 44.1234, -72.5)


@pytest.mark.parametrize(
    "url",
    [None, 7, "", "https://api.weather.gov", "https://api.weather.gov/a/../b", "https://[x", "https://x/a b", "//x"],
)
def test_an_address_that_is_none_of_the_service_is_refused(url):
    document = nws.points()
    document["properties"]["forecastGridData"] = url
    with pytest.raises(SourceMalformed, match="forecastGridData"):
        parse_points(nws.body(document), 44.1234, -72.5)


def test_a_host_in_an_answer_is_never_asked():
    document = nws.points()
    document["properties"]["forecastGridData"] = "https://elsewhere.example/gridpoints/ZZQ/1,2?x=1"
    mapping = parse_points(nws.body(document), 44.1234, -72.5)
    assert address("https://api.example.org/", mapping.grid_path) == "https://api.example.org/gridpoints/ZZQ/1,2"


def test_a_mirror_below_a_path_is_asked_there_whether_or_not_its_answers_say_so():
    for path in ("/gridpoints/ZZQ/1,2", "/nws/gridpoints/ZZQ/1,2"):
        assert address("https://example.org/nws", path) == "https://example.org/nws/gridpoints/ZZQ/1,2"
    assert address("https://example.org/nws", "/nwsx/1") == "https://example.org/nws/nwsx/1"
