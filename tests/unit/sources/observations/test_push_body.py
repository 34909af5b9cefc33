import json
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alertd.sources.observations import Refused, observations_of
from alertd.weather import Observation

NOW = datetime(2026, 1, 23, 12, tzinfo=UTC)
GOOD = {"station": "barn", "time": "2026-01-23T07:00:00-05:00", "air_temperature": 14, "unit": "degF"}


def taken(document, stations=()):
    return observations_of(json.dumps(document).encode(), NOW, stations)


def test_one_observation_is_taken_in_celsius_and_utc():
    assert taken(GOOD, ["barn"]) == (Observation("barn", NOW, -10.0, NOW),)


def test_a_list_is_taken_in_its_order():
    second = GOOD | {"air_temperature": -3.5, "unit": "Cel"}
    assert [each.air_temperature for each in taken([GOOD, second])] == [-10.0, -3.5]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"station": "well"}, '^the station "well" is not known; add it to the configuration'),
        ({"station": 7}, "the station 7 is not known"),
        ({"unit": "F"}, 'the unit "F" is not known; use one of Cel, degF'),
        ({"unit": None}, "the unit null is not known"),
        ({"air_temperature": "14"}, 'the air_temperature "14" is no number'),
        ({"air_temperature": True}, "the air_temperature true is no number"),
        ({"air_temperature": None}, "the air_temperature null is no number"),
        ({"air_temperature": 999.9}, "999.9 degF cannot be true; check the value and its unit"),
        ({"air_temperature": -14, "unit": "K"}, "-14 K cannot be true"),
        ({"air_temperature": 10**400}, r"1000+\.\.\. degF cannot be true"),
        ({"time": "2026-01-23T12:00:00"}, "cannot be read; write it like 2026-01-23T04:00:00Z"),
        ({"time": 1769169600}, "the time 1769169600 cannot be read"),
        ({"time": "2026-01-23T12:30:00Z"}, "is still to come; set the clocks"),
        ({"time": "2024-01-23T12:30:00Z"}, "more than 400 days ago"),
        ({"wind_speed": 3}, "exactly the keys station, time, air_temperature, unit"),
    ],
)
def test_what_is_wrong_is_named(change, says):
    with pytest.raises(Refused, match=says):
        taken(GOOD | change, ["barn"])


def test_any_name_that_is_one_will_do_where_no_station_is_configured():
    assert taken(GOOD | {"station": "well"})[0].station == "well"
    with pytest.raises(Refused, match="a station's name has 1 to 64 letters"):
        taken(GOOD | {"station": "../well"})


@pytest.mark.parametrize("document", [None, 7, "barn", {}, [[]], [GOOD, 7], {"station": "barn"}])
def test_what_is_no_observation_is_refused(document):
    with pytest.raises(Refused, match="send an object with exactly the keys"):
        taken(document)


def test_in_a_list_the_place_is_named_and_nothing_is_taken():
    with pytest.raises(Refused, match=r'^observation 2: the unit "F"'):
        taken([GOOD, GOOD | {"unit": "F"}])


@pytest.mark.parametrize("count", [0, 501])
def test_a_list_has_bounds(count):
    with pytest.raises(Refused, match=f"send 1 to 500 observations at once, not {count}"):
        taken([GOOD] * count)


@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"\xff", b"[" * 60_000, b'{"air_temperature": NaN}', b"-Infinity", b"1" * 10_000, b'"\\ud800'],
)
def test_what_is_no_json_is_refused(body):
    with pytest.raises(Refused, match="the body is no JSON"):
        observations_of(body, NOW, [])


def test_a_key_that_is_there_twice_is_refused():
    with pytest.raises(Refused, match="a key is there twice"):
        observations_of(b'{"station": "a", "station": "b"}', NOW, [])


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from([*GOOD, "x"]), inner, max_size=5),
    max_leaves=12,
)


@given(st.one_of(st.binary(), JSON.map(lambda value: json.dumps(value).encode())))
def test_anything_is_taken_or_refused_in_one_line(body):
    try:
        observations_of(body, NOW, [])
    except Refused as error:
        assert len(str(error).splitlines()) == 1  # noqa: PT017 - either outcome is right


@given(st.dictionaries(st.sampled_from(list(GOOD)), JSON))
def test_any_change_of_a_good_one_is_taken_or_refused_in_one_line(change):
    try:
        taken(GOOD | change)
    except Refused as error:
        assert len(str(error).splitlines()) == 1  # noqa: PT017 - either outcome is right
