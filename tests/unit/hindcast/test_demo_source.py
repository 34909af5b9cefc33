"""The demo's forecasts as a source, and its winter as files."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.core import SourceUnavailable
from alertd.hindcast.demo import FORECASTS_FILE, WEATHER_FILE, DemoSource, demo_weather, write_files
from alertd.hindcast.demo.script import OUTAGE
from alertd.sources import FileSource, Source, read_weather_record

WEATHER = demo_weather()


def test_it_is_a_source_like_any_other():
    source = DemoSource("demo", WEATHER, "Invented.")
    forecast, findings = source.get(datetime(2026, 1, 2, 9, tzinfo=UTC))
    assert isinstance(source, Source)
    assert (forecast.source, forecast.credits, findings) == ("demo", "Invented.", ())
    assert forecast.forecast_reference_time == datetime(2026, 1, 2, 6, tzinfo=UTC)


def test_a_forecast_that_is_asked_for_again_is_the_same_object():
    source = DemoSource("demo", WEATHER)
    first, _ = source.get(datetime(2026, 1, 2, 9, tzinfo=UTC))
    assert source.get(datetime(2026, 1, 2, 12, tzinfo=UTC))[0] is first
    assert source.get(datetime(2026, 1, 2, 15, tzinfo=UTC))[0] is not first


def test_it_gives_nothing_during_its_outage():
    source = DemoSource("demo", WEATHER)
    begin, end = OUTAGE
    for silent in (begin, end - timedelta(seconds=1)):
        with pytest.raises(SourceUnavailable, match="look again later"):
            source.get(silent)
    assert source.get(begin - timedelta(seconds=1))
    assert source.get(end)
    assert timedelta(hours=29) <= end - begin <= timedelta(hours=32)


def test_the_files_read_back_as_what_the_demo_plays(tmp_path):
    record, archive = write_files(tmp_path / "new" / "place")
    assert (record.name, archive.name) == (WEATHER_FILE, FORECASTS_FILE)
    series, findings = read_weather_record(record)
    assert findings == ()
    assert np.array_equal(series.air_temperature, WEATHER.winter().air_temperature)
    forecast, _ = FileSource("file", archive).get(datetime(2026, 1, 2, 15, tzinfo=UTC))
    reference, expected = WEATHER.forecast_at(datetime(2026, 1, 2, 14, tzinfo=UTC))
    assert forecast.forecast_reference_time == reference
    assert np.array_equal(forecast.series.air_temperature, expected.air_temperature)


def test_the_files_can_be_written_again(tmp_path):
    first = [path.read_bytes() for path in write_files(tmp_path)]
    assert [path.read_bytes() for path in write_files(tmp_path)] == first
