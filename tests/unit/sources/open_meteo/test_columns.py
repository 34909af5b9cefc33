"""Whose values an array holds, and in which unit."""

import numpy as np
import pytest

from alertd.core import SourceMalformed
from alertd.sources.open_meteo.columns import Key, columns_of, key_of, times_of


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("temperature_2m", Key("temperature_2m")),
        ("temperature_2m_member07", Key("temperature_2m", realization=7)),
        ("temperature_2m_member50_ecmwf_ifs025_ensemble", Key("temperature_2m", 0, 50, "ecmwf_ifs025_ensemble")),
        ("temperature_2m_icon_seamless_eps", Key("temperature_2m", model="icon_seamless_eps")),
        ("temperature_2m_icon_seamless", Key("temperature_2m", model="icon_seamless")),
        ("temperature_2m_previous_day1_gfs_seamless", Key("temperature_2m", 1, 0, "gfs_seamless")),
        ("precipitation_previous_day7", Key("precipitation", 7)),
        ("soil_temperature_28_to_100cm_member03", Key("soil_temperature_28_to_100cm", realization=3)),
        ("temperature_2m_min", Key("temperature_2m_min")),
        ("temperature_2m_member7", Key("temperature_2m_member7")),
        ("temperature_2m_member07_never_heard_of", Key("temperature_2m_member07_never_heard_of")),
        ("", Key("")),
        ("x\ny", Key("x\ny")),
    ],
)
def test_a_key_says_variable_lead_time_member_and_model(text, key):
    assert key_of(text) == key


def test_times_are_read_from_seconds_and_from_text_in_utc():
    seconds = times_of({"time": [1769126400, 1769130000]}, {"time": "unixtime"})
    texts = times_of({"time": ["2026-01-23T00:00", "2026-01-23T01:00"]}, {"time": "iso8601"})
    assert seconds.tolist() == texts.tolist()
    assert seconds.dtype == np.dtype("datetime64[s]")
    assert str(seconds[0]) == "2026-01-23T00:00:00"


@pytest.mark.parametrize(
    ("times", "unit", "reason"),
    [
        (None, "unixtime", "no times"),
        ([], "unixtime", "no times"),
        ({"a": 1}, "unixtime", "no times"),
        ([1769126400], None, "times are in missing"),
        ([1769126400], "s", "times are in s"),
        ([1769126400.0], "unixtime", "whole number"),
        ([True], "unixtime", "whole number"),
        (["2026-01-23T00:00"], "unixtime", "whole number"),
        ([1769126400], "iso8601", "none like"),
        (["2026-01-23T00:00Z"], "iso8601", "none like"),
        (["2026-02-30T00:00"], "iso8601", "none like"),
        (["2026-01-23T00:00\n"], "iso8601", "none like"),
        (["0001-01-01T00:00"], "iso8601", "outside of the years"),
        ([10**30], "unixtime", "outside of the years"),
        ([1769126400, 1769126400], "unixtime", "do not increase"),
        ([1769130000, 1769126400], "unixtime", "do not increase"),
    ],
)
def test_times_that_cannot_be_true_are_refused(times, unit, reason):
    with pytest.raises(SourceMalformed, match=reason):
        times_of({"time": times}, {"time": unit})


@pytest.mark.parametrize(
    ("name", "unit", "value", "expected"),
    [
        ("temperature_2m", "°C", -9.4, -9.4),
        ("temperature_2m", "°F", 15.0, -9.4444),
        ("dew_point_2m", "°F", 32, 0.0),
        ("wind_speed_10m", "m/s", 3.5, 3.5),
        ("wind_speed_10m", "km/h", 36.0, 10.0),
        ("wind_speed_10m", "mp/h", 10.0, 4.4704),
        ("wind_speed_10m", "kn", 10.0, 5.1444),
        ("cloud_cover", "%", 87, 87.0),
        ("precipitation", "mm", 1.2, 1.2),
        ("precipitation", "inch", 1.0, 25.4),
        ("snow_depth", "m", 0.3, 0.3),
        ("snow_depth", "ft", 1.0, 0.3048),
    ],
)
def test_units_are_read_and_values_converted(name, unit, value, expected):
    columns = columns_of({"time": [], name: [value, None]}, {name: unit}, 2)
    assert columns[Key(name)][0] == pytest.approx(expected, abs=1e-4)
    assert np.isnan(columns[Key(name)][1])


@pytest.mark.parametrize("unit", [None, "K", "mph", "fahrenheit", "", 3, ["°C"], "C"])
def test_an_unknown_unit_is_refused(unit):
    with pytest.raises(SourceMalformed, match=r"temperature_2m is in .*, and none of °C, °F"):
        columns_of({"temperature_2m": [1.0]}, {"temperature_2m": unit}, 1)


@pytest.mark.parametrize(
    ("values", "reason"),
    [
        ({}, "no array"),
        ([1.0, 2.0], "2 values for 1 times"),
        ([], "0 values for 1 times"),
        (["1"], "holds 1, no number"),
        ([True], "holds True"),
        ([[1.0]], "holds a list"),
        ([10**400], "no number"),
    ],
)
def test_an_array_that_is_none_of_numbers_is_refused(values, reason):
    with pytest.raises(SourceMalformed, match=reason):
        columns_of({"temperature_2m": values}, {"temperature_2m": "°C"}, 1)


def test_arrays_that_nobody_asked_for_are_left_alone():
    assert columns_of({"uv_index": ["?"], "temperature_2m_min": []}, {}, 1) == {}


@pytest.mark.parametrize("name", ["temperature_2m_member07_never_heard_of", "soil_temperature_6cm_previous_day1_x"])
def test_members_of_a_model_that_is_not_known_are_refused(name):
    with pytest.raises(SourceMalformed, match="model that is not known here"):
        columns_of({name: [1.0]}, {name: "°C"}, 1, frozenset({"soil_temperature_6cm"}))


def test_the_same_member_by_two_names_is_refused():
    names = ("temperature_2m", "temperature_2m_member00")
    with pytest.raises(SourceMalformed, match="twice"):
        columns_of({name: [1.0] for name in names}, dict.fromkeys(names, "°C"), 1)
