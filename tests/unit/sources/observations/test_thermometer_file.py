from datetime import UTC, datetime, timedelta

import pytest

from alertd.core import SourceMalformed, StoreError
from alertd.sources.observations import ThermometerFile
from alertd.store import Store

NOW = datetime(2026, 1, 23, 12, tzinfo=UTC)
HEADER = "time,air_temperature[degF],wind_speed[m/s]\n"


@pytest.fixture
def path(tmp_path):
    return tmp_path / "barn.csv"


@pytest.fixture
def store():
    with Store.open(None) as opened:
        yield opened


def row(minutes_ago, cell="14.0"):
    return f"{NOW - timedelta(minutes=minutes_ago):%Y-%m-%dT%H:%M:%SZ},{cell},3\n"


def temperatures(store):
    return [each.air_temperature for each in store.recent_observations(NOW)]


def test_new_rows_are_kept_in_celsius_under_the_stations_name(path, store):
    thermometer = ThermometerFile("barn-north", path)
    path.write_text(HEADER + row(20))
    assert thermometer.collect(NOW, store.keep_observations) == ()
    path.write_text(HEADER + row(20) + row(10, "32") + row(5, ""))
    assert thermometer.collect(NOW, store.keep_observations) == ()
    kept = store.recent_observations(NOW)
    assert [(each.station, each.time, each.received) for each in kept] == [
        ("barn-north", NOW - timedelta(minutes=20), NOW),
        ("barn-north", NOW - timedelta(minutes=10), NOW),
    ]
    assert temperatures(store) == [-10.0, 0.0]


def test_after_a_restart_nothing_is_kept_twice(path, store):
    path.write_text(HEADER + row(20) + row(10))
    for _ in range(2):
        ThermometerFile("barn", path).collect(NOW, store.keep_observations)
    assert len(store.recent_observations(NOW)) == 2


def test_bad_rows_are_left_out_and_the_others_kept(path, store):
    path.write_text(
        HEADER + row(30) + "power cut\n" + row(20, "warm") + row(10, "32") + '"\n' + "\0\0\n" + row(5, "50")
    )
    remarks = ThermometerFile("barn", path).collect(NOW, store.keep_observations)
    assert temperatures(store) == [-10.0, 0.0, 10.0]
    assert len(remarks) == 4
    assert remarks[0] == (
        "barn.csv: a row left out, 'power cut': the row has 1 cells, the header 3; "
        "give each column one cell, an empty one where nothing is known"
    )
    assert all(len(remark.splitlines()) == 1 for remark in remarks)


def test_rows_in_disorder_are_told_and_kept(path, store):
    path.write_text(HEADER + row(10, "32") + row(20))
    (remark,) = ThermometerFile("barn", path).collect(NOW, store.keep_observations)
    assert remark.startswith("barn.csv: time: rows that stand after a later one")
    assert temperatures(store) == [-10.0, 0.0]


def test_after_very_many_bad_rows_no_more_are_tried(path, store):
    path.write_text(HEADER + row(10) + "x\n" * 500)
    remarks = ThermometerFile("barn", path).collect(NOW, store.keep_observations)
    assert len(remarks) == 101
    assert remarks[-1] == "barn.csv: more than 100 rows cannot be read; no more were tried"
    assert temperatures(store) == [-10.0]


def test_rows_from_the_future_or_long_ago_are_left_out(path, store):
    path.write_text(HEADER + row(600_000) + row(10) + row(-30))
    (remark,) = ThermometerFile("barn", path).collect(NOW, store.keep_observations)
    assert remark.startswith("barn.csv: rows left out: 2; the time 2024-12-02T20:00:00Z is more than 400 days ago")
    assert temperatures(store) == [-10.0]


def test_a_file_with_nothing_in_it_yet_is_waited_for(path, store):
    path.write_text("")
    thermometer = ThermometerFile("barn", path)
    assert thermometer.collect(NOW, store.keep_observations) == ()
    path.write_text(HEADER)
    assert thermometer.collect(NOW, store.keep_observations) == ()
    assert temperatures(store) == []


@pytest.mark.parametrize(
    ("header", "says"),
    [
        ("time,forecast_reference_time,air_temperature[Cel]\n", "this file holds forecasts"),
        ("time,realization,air_temperature[Cel]\n", "this file holds forecasts"),
        ("time,air_temperature\n", r"barn\.csv line 1: .* states no unit"),
    ],
)
def test_a_header_of_something_else_is_refused(path, store, header, says):
    path.write_text(header)
    with pytest.raises(SourceMalformed, match=says):
        ThermometerFile("barn", path).collect(NOW, store.keep_observations)


def test_rows_that_could_not_be_kept_come_again(path, store):
    def fail(_observations, _now):
        message = "the disk is full"
        raise StoreError(message)

    path.write_text(HEADER + row(10))
    thermometer = ThermometerFile("barn", path)
    with pytest.raises(StoreError):
        thermometer.collect(NOW, fail)
    thermometer.collect(NOW, store.keep_observations)
    assert temperatures(store) == [-10.0]
