import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from alertd.core import SourceMalformed, SourceUnavailable
from alertd.sources import FileSource, Source, file, read_weather_record
from alertd.weather import Check, write_forecast_archive_csv, write_weather_csv
from tests.fakes.weather import hourly_series

NOW = datetime(2026, 1, 23, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)


def write(path: Path, text: str, modified: datetime = NOW) -> Path:
    path.write_text(text, encoding="utf-8")
    os.utime(path, (modified.timestamp(), modified.timestamp()))
    return path


def plain(*values: float) -> str:
    return write_weather_csv(hourly_series(NOW, values))


def test_a_file_source_is_a_source(tmp_path):
    assert isinstance(FileSource("barn", tmp_path / "x.csv", "me"), Source)


def test_a_plain_file_is_a_forecast_made_when_it_was_written(tmp_path):
    source = FileSource("barn", write(tmp_path / "x.csv", plain(1.0, 2.0), NOW - 3 * HOUR), "Example Weather")
    forecast, findings = source.get(NOW)
    assert forecast.forecast_reference_time == NOW - 3 * HOUR
    assert (forecast.source, forecast.retrieved, forecast.credits) == ("barn", NOW, "Example Weather")
    assert forecast.series.air_temperature.tolist() == [[1.0, 2.0]]
    assert findings == ()


def test_an_archive_gives_the_latest_forecast_made_so_far(tmp_path):
    archive = [(NOW + k * HOUR, hourly_series(NOW, [float(k), k + 0.5])) for k in (-12, -6, 0, 6)]
    source = FileSource("barn", write(tmp_path / "x.csv", write_forecast_archive_csv(archive)))
    for now, reference_time in ((NOW - HOUR, NOW - 6 * HOUR), (NOW, NOW), (NOW + 5 * HOUR, NOW)):
        forecast, _ = source.get(now)
        assert forecast.forecast_reference_time == reference_time
        assert forecast.series.air_temperature[0, 0] == (reference_time - NOW) / HOUR
    with pytest.raises(SourceUnavailable, match="first forecast was made at 2026-01-23T00:00:00Z, after"):
        source.get(NOW - 13 * HOUR)


def test_a_changed_file_is_read_again_and_an_unchanged_one_is_not(tmp_path):
    path = write(tmp_path / "x.csv", plain(1.0))
    source = FileSource("barn", path)
    first, _ = source.get(NOW)
    again, _ = source.get(NOW + HOUR)
    assert again.series is first.series
    assert again.retrieved == NOW + HOUR
    write(path, plain(2.0), NOW + HOUR)
    assert source.get(NOW + 2 * HOUR)[0].series.air_temperature.tolist() == [[2.0]]


def test_a_file_that_breaks_is_not_answered_from_memory(tmp_path):
    path = write(tmp_path / "x.csv", plain(1.0))
    source = FileSource("barn", path)
    source.get(NOW)
    write(path, "nonsense", NOW)
    for _ in range(2):
        with pytest.raises(SourceMalformed, match=r"x\.csv line 1"):
            source.get(NOW)
    path.unlink()
    with pytest.raises(SourceUnavailable, match="No such file"):
        source.get(NOW)


def test_findings_of_reading_and_of_quality_control_are_handed_on(tmp_path):
    text = "\n".join([*plain(1.0, 1.1, 40.0, 1.2, 1.3).splitlines(), "2026-01-23T12:00:00Z,1.0", ""])
    forecast, findings = FileSource("barn", write(tmp_path / "x.csv", text)).get(NOW)
    assert [finding.check for finding in findings] == [Check.ORDER, Check.REPEATED_TIME, Check.RATE_OF_CHANGE]
    assert np.isnan(forecast.series.air_temperature[0, 2])


def test_a_forecast_that_fails_quality_control_is_refused(tmp_path):
    source = FileSource("barn", write(tmp_path / "x.csv", plain(270.0, 271.0)))
    with pytest.raises(SourceMalformed, match=r"x\.csv: air_temperature: 100% of the values are outside"):
        source.get(NOW)


def test_a_file_from_the_future_is_refused_unless_clocks_merely_differ(tmp_path):
    path = write(tmp_path / "x.csv", plain(1.0), NOW + 4 * HOUR / 60)
    source = FileSource("barn", path)
    assert source.get(NOW)[0].forecast_reference_time == NOW
    with pytest.raises(SourceMalformed, match="its age is unknown; set the clocks"):
        source.get(NOW - HOUR)


@pytest.mark.parametrize("name", [".", "missing.csv", "x\0.csv"])
def test_what_is_no_readable_file_is_unavailable_in_one_line(tmp_path, name):
    with pytest.raises(SourceUnavailable) as caught:
        FileSource("barn", tmp_path / name).get(NOW)
    assert len(str(caught.value).splitlines()) == 1


def test_a_named_pipe_does_not_hang_the_watch(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(SourceUnavailable, match="no regular file"):
        FileSource("barn", tmp_path / "pipe").get(NOW)


def test_a_file_that_may_not_be_read_is_unavailable():
    with pytest.raises(SourceUnavailable, match="cannot be read"):
        read_weather_record(Path("/proc/self/mem"))


def test_a_file_that_is_too_large_is_not_read(tmp_path):
    path = tmp_path / "x.csv"
    with path.open("wb") as sparse:
        sparse.truncate(file.LARGEST_FILE + 1)
    with pytest.raises(SourceUnavailable, match="more than 64 MiB"):
        FileSource("barn", path).get(NOW)


def test_a_file_that_has_grown_meanwhile_is_read_no_further():
    # The kernel states size 0 for this file and hands out more.
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(file, "LARGEST_FILE", 10)
        with pytest.raises(SourceUnavailable, match="has grown"):
            read_weather_record(Path("/proc/self/status"))


def test_text_that_is_not_utf_8_is_malformed(tmp_path):
    (tmp_path / "x.csv").write_bytes(b"time,air_temperature[Cel]\n\xff\n")
    with pytest.raises(SourceMalformed, match=r"x\.csv line 2: this is no UTF-8 text"):
        read_weather_record(tmp_path / "x.csv")


def test_past_weather_is_read_and_checked(tmp_path):
    series, findings = read_weather_record(write(tmp_path / "x.csv", plain(1.0, 1.1, -40.0, 1.2, 1.3)))
    assert np.isnan(series.air_temperature[0, 2])
    assert [finding.check for finding in findings] == [Check.RATE_OF_CHANGE]


@pytest.mark.parametrize(
    "text",
    [
        write_forecast_archive_csv([(NOW, hourly_series(NOW, [1.0]))]),
        write_weather_csv(hourly_series(NOW, [[1.0], [2.0]])),
    ],
)
def test_forecasts_are_no_past_weather(tmp_path, text):
    with pytest.raises(SourceMalformed, match="not past weather"):
        read_weather_record(write(tmp_path / "x.csv", text))


def test_past_weather_that_fails_quality_control_is_refused(tmp_path):
    with pytest.raises(SourceMalformed, match="state the unit"):
        read_weather_record(write(tmp_path / "x.csv", plain(270.0)))
