"""Parsers of the US National Weather Service on answers that nobody would send on purpose."""

from __future__ import annotations

import copy
import json
from datetime import UTC, datetime, timedelta
from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from alertd.core import SourceMalformed, instant_text
from alertd.sources.nws import (
    explain,
    parse_alerts,
    parse_gridpoint,
    parse_hourly,
    parse_observation,
    parse_points,
    parse_stations,
)
from alertd.sources.nws.ahead import minima_ahead
from alertd.weather import check_quality
from tests.fakes import nws

PLACE = (44.1234, -72.5)
PARSERS = {
    "points": (partial(parse_points, latitude=PLACE[0], longitude=PLACE[1]), nws.points()),
    "gridpoint": (partial(parse_gridpoint, latitude=PLACE[0], longitude=PLACE[1]), nws.gridpoint()),
    "hourly": (partial(parse_hourly, latitude=PLACE[0], longitude=PLACE[1]), nws.hourly()),
    "stations": (parse_stations, nws.stations()),
    "observation": (partial(parse_observation, identifier="ZZQ1"), nws.observation("ZZQ1", 1.1)),
    "alerts": (parse_alerts, nws.alerts(nws.alert(), nws.alert("b", references=[{"identifier": "a"}]))),
}

ODD_TEXTS = st.sampled_from(
    [
        "",
        "NOW",
        "NOW/NOW",
        "P1D/NOW",
        "2026-01-22T11:00:00Z/P999999D",
        "2026-01-22T11:00:00Z/PT999999999S",
        "9999-12-31T23:59:59-23:59",
        "0001-01-01T00:00:00+23:59",
        "2026-01-22T11:00:00.9999999Z/PT0.1S",
        "2026-02-29T11:00:00Z",
        "wmoUnit:",
        "wmoUnit:m",
        "/",
        "..",
        "\x00",
        "\ud800",
        "9" * 30,
        "5 to 9999 mph",
    ]
)
ODD_VALUES = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.sampled_from([10**400, -(10**30), 1e308, -1e308, 5e-324, -0.0])
    | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(max_size=12)
    | ODD_TEXTS
    | st.sampled_from([[], {}, [[]], {"value": None}, {"values": []}, {"unitCode": "wmoUnit:degC", "value": []}])
)


def places_in(document, path=()):
    """Yield the path of everything in a document."""
    yield path
    if isinstance(document, dict):
        for key, value in document.items():
            yield from places_in(value, (*path, key))
    if isinstance(document, list):
        for number, value in enumerate(document):
            yield from places_in(value, (*path, number))


def changed(document, path, change):
    """Return a document in which something was replaced by `change` of it, or dropped if that is ``...``."""
    if not path:
        return change(document)
    document = copy.deepcopy(document)
    owner = document
    for step in path[:-1]:
        owner = owner[step]
    value = change(owner[path[-1]])
    if value is ...:
        del owner[path[-1]]
    else:
        owner[path[-1]] = value
    return document


@st.composite
def mutated(draw, document):
    """Return a document in which up to four things were dropped, replaced or repeated."""
    for _mutation in range(draw(st.integers(1, 4))):
        path = draw(st.sampled_from(list(places_in(document))))
        kind = draw(st.sampled_from(["drop", "replace", "wrap", "text", "repeat"]))
        odd = draw(ODD_VALUES)
        change = {
            "drop": lambda _value: ...,
            "replace": lambda _value, odd=odd: odd,
            "wrap": lambda value: [value],
            "text": lambda value: value if isinstance(value, str) else json.dumps(value)[:100],
            "repeat": lambda value: value * 2 if isinstance(value, (list, str)) else value,
        }[kind]
        if not path and kind == "drop":
            continue
        document = changed(document, path, change)
    return document


def accepts_or_refuses(parse, body):
    """Parse; the only way to fail is to say so in one short line."""
    try:
        return parse(body)
    except SourceMalformed as error:
        text = str(error)
        text.encode()
        assert text
        assert "\n" not in text
        assert len(text) < 300
        return None


@pytest.mark.parametrize("name", sorted(PARSERS))
@given(data=st.data())
def test_random_bytes_are_refused_and_nothing_else_happens(name, data):
    parse, _document = PARSERS[name]
    assert accepts_or_refuses(parse, data.draw(st.binary(max_size=200))) is None


@pytest.mark.parametrize("name", sorted(PARSERS))
@given(data=st.data())
def test_mutated_answers_are_read_or_refused_and_nothing_else_happens(name, data):
    parse, document = PARSERS[name]
    parsed = accepts_or_refuses(parse, nws.body(data.draw(mutated(document))))
    if name in {"gridpoint", "hourly"} and parsed is not None:
        assert parsed.series.n_times > 0
        check_quality(parsed.series)
        minima_ahead(parsed.minima, parsed.series, nws.NOW)


@pytest.mark.parametrize("name", sorted(PARSERS))
@given(data=st.data())
def test_damaged_text_is_read_or_refused_and_nothing_else_happens(name, data):
    parse, document = PARSERS[name]
    body = nws.body(document)
    start = data.draw(st.integers(0, len(body)))
    end = data.draw(st.integers(start, min(start + 40, len(body))))
    literals = [b"NaN", b"-Infinity", b"1e999", b"[" * 3000, b'{"a":1,"a":2}', b"\xff", b"\x00", b""]
    put = data.draw(st.sampled_from(literals) | st.binary(max_size=10))
    accepts_or_refuses(parse, body[:start] + put + body[end:])


@given(
    status=st.integers(100, 999),
    body=st.binary(max_size=100) | mutated({"type": "x/NotFound", "title": "x"}).map(nws.body),
)
def test_any_failing_answer_can_be_explained_on_one_line(status, body):
    text = explain(status, {}, body)
    assert "\n" not in text
    assert len(text) < 300


@given(
    start=st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1)).map(  # noqa: DTZ001
        lambda instant: instant.replace(minute=0, second=0, microsecond=0, tzinfo=UTC)
    ),
    lengths=st.lists(st.integers(1, 14), min_size=1, max_size=20),
    data=st.data(),
)
def test_equal_neighbours_as_one_interval_or_as_single_hours_are_the_same_forecast(start, lengths, data):
    """Over the end of a year, leap days and any season."""
    values = data.draw(st.lists(st.integers(-60, 100), min_size=len(lengths), max_size=len(lengths)))
    merged, single, begin = [], [], start
    for length, value in zip(lengths, values, strict=True):
        merged.append((f"{instant_text(begin)}/PT{length}H", nws.celsius_of(value)))
        hours = (begin + timedelta(hours=number) for number in range(length))
        single += [(f"{instant_text(hour)}/PT1H", nws.celsius_of(value)) for hour in hours]
        begin += timedelta(hours=length)
    forecasts = [
        parse_gridpoint(
            nws.body(nws.gridpoint(updateTime=instant_text(start), temperature=nws.layer("wmoUnit:degC", *layer))),
            *PLACE,
        )
        for layer in (merged, single)
    ]
    first, second = (forecast.series for forecast in forecasts)
    assert first.times.tolist() == second.times.tolist()
    assert np.array_equal(first.air_temperature, second.air_temperature)
    assert first.n_times == sum(lengths)
    assert np.all(np.diff(first.times) == np.timedelta64(3600, "s"))
    assert first.times[0] == np.datetime64(start.replace(tzinfo=None), "s")


@given(latitude=st.floats(-89.9, 89.9), longitude=st.floats(-180.0, 180.0))
def test_an_answer_for_the_position_asked_is_accepted_anywhere_on_earth(latitude, longitude):
    for turn in (0.0, 360.0, -360.0):
        turned = longitude + turn
        if -360.0 <= turned <= 360.0:
            body = nws.body(nws.points(latitude=latitude, longitude=turned))
            assert parse_points(body, latitude, longitude).cell.office == "ZZQ"
