"""Thermometers in a file, and what is said when it cannot be read."""

from __future__ import annotations

import logging
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from alertd.config import ObservationSpec
from alertd.service.thermometers import Thermometers
from alertd.store import Store

NOW = datetime(2026, 1, 22, 8, tzinfo=UTC)


def collected(spec, times=1):
    """Collect some times, and return what the store then holds of the last day."""
    with Store.open(None) as store:
        thermometers = Thermometers(spec, None, store, lambda: NOW)
        thermometers.start()
        for _ in range(times):
            thermometers.collect()
        thermometers.stop()
        assert thermometers.port is None
        return store.recent_observations(NOW)


def test_without_thermometers_nothing_is_collected():
    assert collected(ObservationSpec()) == ()


def test_what_a_file_says_is_kept_once(tmp_path):
    path = tmp_path / "barn.csv"
    rows = [f"2026-01-22T0{hour}:00:00Z,{-hour}" for hour in range(3)]
    path.write_text("\n".join(["time,air_temperature[Cel]", *rows]) + "\n")
    kept = collected(ObservationSpec(file=path, station="barn"), times=2)
    assert [(each.station, each.air_temperature) for each in kept] == [("barn", 0.0), ("barn", -1.0), ("barn", -2.0)]


def test_a_file_that_is_gone_is_logged_once_and_its_return_too(tmp_path, caplog):
    path = tmp_path / "barn.csv"
    with caplog.at_level(logging.INFO, logger="alertd"), Store.open(None) as store:
        thermometers = Thermometers(ObservationSpec(file=path, station="barn"), None, store, lambda: NOW)
        thermometers.collect()
        thermometers.collect()
        path.write_text(f"time,air_temperature[Cel]\n{(NOW - timedelta(hours=1)).isoformat()},-3\n")
        thermometers.collect()
    lines = [record.message for record in caplog.records]
    assert len([line for line in lines if "cannot be read" in line]) == 1
    assert lines[-1] == "thermometer barn: works again"


def test_another_file_is_read_from_the_next_round_on_and_the_same_one_goes_on_where_it_was(tmp_path):
    old, new = tmp_path / "barn.csv", tmp_path / "shed.csv"
    old.write_text("time,air_temperature[Cel]\n2026-01-22T05:00:00Z,-5\n")
    new.write_text("time,air_temperature[Cel]\n2026-01-22T06:00:00Z,-6\n")
    with Store.open(None) as store:
        spec = ObservationSpec(file=old, station="barn")
        thermometers = Thermometers(spec, None, store, lambda: NOW)
        thermometers.collect()
        before = thermometers._file
        thermometers.use(replace(spec, nearest_stations=False), None)
        assert thermometers._file is before
        thermometers.use(ObservationSpec(file=new, station="shed"), None)
        thermometers.collect()
        thermometers.use(ObservationSpec(), None)
        thermometers.collect()
        assert [(each.station, each.air_temperature) for each in store.recent_observations(NOW)] == [
            ("barn", -5.0),
            ("shed", -6.0),
        ]
