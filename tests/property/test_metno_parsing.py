"""Whatever bytes come, the parser of MET Norway's answers returns believable values or refuses them."""

import json

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from alertd.core import SourceMalformed
from alertd.sources.metno import explain_failure, parse_locationforecast
from alertd.weather import PHYSICAL_RANGE
from tests.fakes.metno import body, location_forecast, step_times

PLACE = (47.0123, -91.4567, 190.0)
WHOLE = location_forecast(times=step_times(hourly=9, six_hourly=4))
TEXT = body(WHOLE)

json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=10), inner, max_size=3),
    max_leaves=5,
)


def paths(value, path=()):
    yield path
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield from paths(inner, (*path, key))


PATHS = [path for path in paths(WHOLE) if path]


def replaced(path, value):
    document = json.loads(TEXT)
    container = document
    for key in path[:-1]:
        container = container[key]
    container[path[-1]] = value
    return document


def outcome(answer):
    try:
        return parse_locationforecast(answer, *PLACE), ""
    except SourceMalformed as error:
        return None, str(error)


def check(answer):
    forecast, reason = outcome(answer)
    assert "\n" not in reason
    assert len(reason) < 400
    if forecast is None:
        assert reason
        return
    for name, values in forecast.series.variables.items():
        lowest, highest = PHYSICAL_RANGE[name]
        assert (np.isnan(values) | ((values >= lowest) & (values <= highest))).all()
    assert forecast.error is None or (np.isnan(forecast.error) | (forecast.error >= 0.0)).all()
    assert all(-90.0 <= minimum.air_temperature <= 60.0 for minimum in forecast.minima)


@given(st.binary(max_size=400))
def test_arbitrary_bytes_do_no_harm(answer):
    check(answer)


@given(st.integers(0, len(TEXT)), st.integers(0, 30), st.binary(max_size=30))
@settings(max_examples=400)
def test_an_answer_with_bytes_replaced_does_no_harm(place, length, inserted):
    check(TEXT[:place] + inserted + TEXT[place + length :])


@given(st.sampled_from(PATHS), json_values)
@settings(max_examples=400)
def test_an_answer_with_any_part_replaced_does_no_harm(path, value):
    check(json.dumps(replaced(path, value)).encode())


@given(st.sampled_from(PATHS), st.sampled_from([1e999, -1e308, 10**400, -90.0, 60.0, 1e-320]))
@settings(max_examples=200)
def test_an_answer_with_an_extreme_number_does_no_harm(path, value):
    try:
        text = json.dumps(replaced(path, value))
    except ValueError:  # Python itself writes no such number
        return
    check(text.encode())


@given(
    st.integers(100, 599),
    st.dictionaries(st.text(max_size=12), st.text(max_size=40), max_size=3),
    st.binary(max_size=300),
)
def test_every_refusal_becomes_one_printable_line(status, headers, page):
    text = explain_failure(status, headers, page)
    assert text.isprintable()
    assert str(status) in text
    assert len(text) < 400
