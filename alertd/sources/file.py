"""Weather from files: forecasts for a source without network, past weather for the hindcast."""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from alertd.core import SourceMalformed, SourceUnavailable, as_utc, instant_text
from alertd.weather import Finding, Forecast, QualityReport, Series, WeatherTable, check_quality, parse_weather_csv

if TYPE_CHECKING:
    from pathlib import Path

#: [bytes] Largest file that is read: ten years of hourly values have about 10 MB. Assumed.
LARGEST_FILE = 64 * 1024 * 1024

#: How far a modification time may lie ahead of the clock. Assumed: clocks of file servers differ by seconds.
CLOCK_TOLERANCE = timedelta(minutes=5)


@dataclass(frozen=True, slots=True)
class _Content:
    """A file as it was read."""

    version: tuple[int, int]
    table: WeatherTable


@dataclass(slots=True)
class FileSource:
    """Forecasts in a CSV file that something else writes; see :mod:`alertd.weather.csv_format`.

    Parameters
    ----------
    name : str
        Name of the source, as in the configuration.
    path : Path
        The file: an archive with reference times, or one forecast, whose reference time is then the time
        at which the file was last modified.
    credits : str
        Attribution that must be shown.
    weight : float
        Among the other sources.
    """

    name: str
    path: Path
    credits: str = ""
    weight: float = 1.0
    _content: _Content | None = field(default=None, init=False, repr=False, compare=False)
    _reports: dict[datetime | None, QualityReport] = field(default_factory=dict, init=False, repr=False, compare=False)

    def get(self, now: datetime) -> tuple[Forecast, tuple[Finding, ...]]:
        """Return the latest forecast of the file that was made at or before an instant.

        The file is read again only if its size or modification time has changed.

        Parameters
        ----------
        now : datetime
            Aware; becomes the time of retrieval.

        Returns
        -------
        tuple of (Forecast, tuple of Finding)
            The forecast without values that cannot be true, and what reading and quality control found.

        Raises
        ------
        SourceUnavailable
            If the file cannot be read, is too large, or holds no forecast made at or before `now`.
        SourceMalformed
            If it is no weather CSV, says that it was modified in the future, or fails quality control.
        ValueError
            If `now` is naive.
        """
        retrieved = as_utc(now)
        version = _version(self.path)
        if self._content is None or self._content.version != version:
            self._content = None
            self._reports.clear()
            self._content = _Content(version, parse_weather_csv(_read_text(self.path), self.path.name))
        table = self._content.table
        if table.record is not None:
            reference_time, series = _modified(self.path, version, retrieved), table.record
        else:
            reference_time, series = _latest(table, self.path, retrieved)
        key = reference_time if table.is_archive else None
        if key not in self._reports:
            self._reports[key] = check_quality(series)
        report = self._reports[key]
        _refuse_unusable(report, self.path)
        forecast = Forecast(self.name, reference_time, retrieved, report.series, self.credits, weight=self.weight)
        return forecast, table.findings + report.findings


def read_weather_record(path: Path) -> tuple[Series, tuple[Finding, ...]]:
    """Return past weather from a CSV file, quality-checked.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    tuple of (Series, tuple of Finding)
        Values, shape (1, n_times), and what reading and quality control found.

    Raises
    ------
    SourceUnavailable
        If the file cannot be read or is too large.
    SourceMalformed
        If it is no weather CSV, holds forecasts instead of one past, or fails quality control.
    """
    table = parse_weather_csv(_read_text(path), path.name)
    if table.record is None or table.record.n_realizations != 1:
        message = (
            f"{path.name}: this file holds forecasts, not past weather; "
            "give one without forecast_reference_time and realization"
        )
        raise SourceMalformed(message)
    report = check_quality(table.record)
    _refuse_unusable(report, path)
    return report.series, table.findings + report.findings


def _refuse_unusable(report: QualityReport, path: Path) -> None:
    """Raise if a file's values failed quality control."""
    if not report.is_usable:
        message = f"{path.name}: {report.reason}"
        raise SourceMalformed(message)


def _latest(table: WeatherTable, path: Path, now: datetime) -> tuple[datetime, Series]:
    """Return the last forecast of an archive that was made at or before `now`."""
    made = [forecast for forecast in table.forecasts if forecast[0] <= now]
    if not made:
        message = (
            f"{path.name}: the first forecast was made at {instant_text(table.forecasts[0][0])}, after "
            f"{instant_text(now)}; wait for it, or add earlier ones"
        )
        raise SourceUnavailable(message)
    return made[-1]


def _modified(path: Path, version: tuple[int, int], now: datetime) -> datetime:
    """Return when a file was last modified, in whole seconds and never after `now`."""
    modified = datetime.fromtimestamp(version[0] // 1_000_000_000, tz=UTC)
    if modified > now + CLOCK_TOLERANCE:
        message = (
            f"{path.name}: the file was modified at {instant_text(modified)}, after {instant_text(now)}, so its age "
            "is unknown; set the clocks, or add a column forecast_reference_time"
        )
        raise SourceMalformed(message)
    return min(modified, now)


def _version(path: Path) -> tuple[int, int]:
    """Return modification time [ns] and size [bytes] of a file that can be read."""
    try:
        status = path.stat()
    except (OSError, ValueError) as error:
        raise _unreadable(path, error) from error
    if not stat.S_ISREG(status.st_mode):
        message = f"{path}: this is no regular file; name a CSV file"
        raise SourceUnavailable(message)
    if status.st_size > LARGEST_FILE:
        message = f"{path}: the file has more than {LARGEST_FILE // 1024**2} MiB; keep only the weather that is needed"
        raise SourceUnavailable(message)
    return status.st_mtime_ns, status.st_size


def _read_text(path: Path) -> str:
    """Return a file's text; no more is read than may be."""
    _version(path)
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise _unreadable(path, error) from error
    if len(content) > LARGEST_FILE:
        message = (
            f"{path}: the file has grown beyond {LARGEST_FILE // 1024**2} MiB; keep only the weather that is needed"
        )
        raise SourceUnavailable(message)
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        message = f"{path.name} line {line}: this is no UTF-8 text; save the file as UTF-8"
        raise SourceMalformed(message) from error


def _unreadable(path: Path, error: Exception) -> SourceUnavailable:
    """Return the error that a file cannot be read."""
    reason = os.strerror(error.errno) if isinstance(error, OSError) and error.errno else "the path is not possible"
    return SourceUnavailable(f"{path}: the file cannot be read ({reason}); check the path and its permissions")
