"""Whatever the service answers, parsing gives weather or SourceMalformed."""

import copy
import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from alertd.core import SourceMalformed
from alertd.sources.open_meteo import (
    ENSEMBLE_MODELS,
    FORECAST_MODELS,
    explain,
    parse_forecast,
    parse_models,
    parse_previous_runs,
    parse_status,
)
from alertd.weather import check_quality
from tests.fakes.open_meteo import ASKED, START, document, ensemble_columns, forecast_columns, status

ICON, ENSEMBLE = FORECAST_MODELS["icon_seamless"], ENSEMBLE_MODELS["icon_seamless"]
MODELS = (ENSEMBLE, ENSEMBLE_MODELS["ecmwf_ifs025"])

DOCUMENTS = [
    document(forecast_columns(30, known=25)),
    document(ensemble_columns(6, 4)),
    document(ensemble_columns(6, 2, suffix="_icon_seamless_eps")),
    document({"temperature_2m_previous_day1": [1.0, None], "temperature_2m_previous_day2": [None, 2.0]}),
    status(START),
    {"error": True, "reason": "Invalid timezone"},
    [document({"temperature_2m": [1.0]})],
]

junk = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(),
        st.integers(-(10**400), 10**400),
        st.floats(allow_nan=False, allow_infinity=False),
        st.text(max_size=30),
        st.sampled_from(["°C", "°F", "mp/h", "unixtime", "iso8601", "2026-01-23T00:00", "temperature_2m_member01"]),
    ),
    lambda children: st.one_of(
        st.lists(children, max_size=4), st.dictionaries(st.text(max_size=12), children, max_size=4)
    ),
    max_leaves=8,
)


def parsed_series(body):
    """Return every series that any parser makes of a body."""
    found = []
    for parse in (
        lambda: [parse_forecast(body, ASKED, ICON).series],
        lambda: [parse_forecast(body, ASKED, ENSEMBLE).series],
        lambda: [one.series for one in parse_models(body, ASKED, MODELS).values()],
        lambda: [series for _, series in parse_previous_runs(body, ASKED, ICON)],
        lambda: [parse_status(body)][:0],
    ):
        try:
            found += parse()
        except SourceMalformed as error:
            text = str(error)
            assert text
            assert text.isprintable()
            assert len(text) < 400
    return found


def check(body):
    for series in parsed_series(body):
        assert not np.isnan(series.air_temperature[:, -1]).all()
        assert not np.isnan(series.air_temperature).all(axis=1).any()
        assert not any(np.isinf(values).any() for values in series.variables.values())
        check_quality(series)
    for code in (400, 401, 429, 500):
        text = explain(code, {}, body)
        assert text == "" or text.isprintable()


def places(value, path=()):
    """Return the paths of everything in a document."""
    found = [path]
    children = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, child in children:
        found += places(child, (*path, key))
    return found


def replaced(value, path, new):
    if not path:
        return new
    value = copy.copy(value)
    value[path[0]] = replaced(value[path[0]], path[1:], new)
    return value


@given(st.data())
def test_a_document_with_junk_in_some_places_is_weather_or_malformed(data):
    answer = data.draw(st.sampled_from(DOCUMENTS))
    for _ in range(data.draw(st.integers(0, 3))):
        answer = replaced(answer, data.draw(st.sampled_from(places(answer))), data.draw(junk))
    check(json.dumps(answer).encode())


@given(st.data())
def test_a_broken_body_is_weather_or_malformed(data):
    body = json.dumps(data.draw(st.sampled_from(DOCUMENTS)), ensure_ascii=False).encode()
    start = data.draw(st.integers(0, len(body)))
    end = data.draw(st.integers(start, min(len(body), start + 40)))
    check(body[:start] + data.draw(st.binary(max_size=20)) + body[end:])


@given(st.binary(max_size=200))
def test_any_bytes_are_malformed(body):
    assert parsed_series(body) == []


@given(st.data())
def test_a_truncated_answer_is_malformed(data):
    body = json.dumps(DOCUMENTS[0]).encode()
    cut = body[: data.draw(st.integers(0, len(body) - 1))]
    with pytest.raises(SourceMalformed):
        parse_forecast(cut, ASKED, ICON)


@given(st.lists(st.lists(st.one_of(st.none(), st.floats(-89.0, 59.0)), min_size=5, max_size=5), min_size=1, max_size=9))
def test_every_member_keeps_its_values(members):
    keys = ["temperature_2m", *(f"temperature_2m_member{number:02d}" for number in range(1, len(members)))]
    body = json.dumps(document(dict(zip(keys, members, strict=True)))).encode()
    alive = [values for values in members if any(value is not None for value in values)]
    if not alive:
        with pytest.raises(SourceMalformed, match="nothing but missing"):
            parse_forecast(body, ASKED, ENSEMBLE)
        return
    found = parse_forecast(body, ASKED, ENSEMBLE).series.air_temperature
    expected = np.array([[np.nan if value is None else value for value in values] for values in alive])
    last = int(np.flatnonzero((~np.isnan(expected)).any(axis=0))[-1])
    np.testing.assert_array_equal(found, expected[:, : last + 1])
