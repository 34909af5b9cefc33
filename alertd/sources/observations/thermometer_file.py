"""A thermometer whose values something else appends to a CSV file."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import numpy as np

from alertd.core import SourceMalformed, as_utc, from_datetime64
from alertd.weather import Observation, parse_weather_csv, weather_csv_columns

from .growing_file import GrowingFile

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime
    from pathlib import Path

    from alertd.weather import Series

    from .keeping import KeepObservations

#: Rows that cannot be read and are left out at one look; after them no more is read. Assumed.
MOST_BAD_ROWS = 100

_SHOWN_CHARACTERS = 60


class ThermometerFile:
    """A thermometer with a weather CSV that grows; see :mod:`alertd.weather.csv_format`.

    Parameters
    ----------
    station : str
        Name of the thermometer.
    path : Path
        The file. It has a header and no column ``forecast_reference_time`` or ``realization``; of its variables,
        only air temperature is kept.
    """

    def __init__(self, station: str, path: Path) -> None:
        self.station = station
        self._file = GrowingFile(path)

    def collect(self, now: datetime, keep: KeepObservations) -> tuple[str, ...]:
        """Keep what is new in the file.

        Parameters
        ----------
        now : datetime
            Aware.
        keep : KeepObservations
            Where to; if it fails, the next look brings the same rows again.

        Returns
        -------
        tuple of str
            One line each on rows that were left out and on what happened to the file.

        Raises
        ------
        SourceUnavailable
            If the file cannot be read.
        SourceMalformed
            If its first line is none of a weather CSV of past weather.
        StoreError
            If the observations cannot be kept.
        """
        received = as_utc(now)
        new = self._file.look()
        if not new.header:
            return new.remarks
        name = self._file.path.name
        columns = weather_csv_columns(new.header, name)
        if "forecast_reference_time" in columns or "realization" in columns:
            message = f"{name}: this file holds forecasts; name one with the columns time and air_temperature"
            raise SourceMalformed(message)
        reader = _RowReader(new.header, name)
        reader.read(new.lines)
        observations = [
            Observation(self.station, from_datetime64(time), float(value), received) for time, value in reader.values
        ]
        usable = [each for each in observations if not each.time_problem]
        if usable:
            keep(usable, received)
        self._file.accept(new)
        problems = [each.time_problem for each in observations if each.time_problem]
        return (*new.remarks, *reader.remarks, *_summary(name, problems))


def _summary(name: str, problems: Sequence[str]) -> tuple[str, ...]:
    """Return one line on rows with times that cannot be used, or none."""
    return (f"{name}: rows left out: {len(problems)}; {problems[0]}",) if problems else ()


class _RowReader:
    """Reads rows together where it can, and one by one where one of them is bad."""

    def __init__(self, header: str, name: str) -> None:
        self.values: list[tuple[np.datetime64, np.float64]] = []
        self.remarks: list[str] = []
        self._header = header
        self._name = name
        self._n_bad = 0

    def read(self, lines: Sequence[str]) -> None:
        """Read rows; bad ones leave a remark."""
        if not any(line.strip() for line in lines) or self._n_bad > MOST_BAD_ROWS:
            return
        try:
            table = parse_weather_csv("\n".join([self._header, *lines]), self._name)
        except SourceMalformed as error:
            if len(lines) > 1:
                middle = len(lines) // 2
                self.read(lines[:middle])
                self.read(lines[middle:])
            else:
                self._leave_out(lines[0], error)
            return
        self.remarks += [f"{self._name}: {finding.text}" for finding in table.findings]
        record = cast("Series", table.record)  # the header names no reference time
        values = record.air_temperature[0]
        present = ~np.isnan(values)
        self.values += zip(record.times[present], values[present], strict=True)

    def _leave_out(self, line: str, error: SourceMalformed) -> None:
        self._n_bad += 1
        if self._n_bad > MOST_BAD_ROWS:
            self.remarks.append(f"{self._name}: more than {MOST_BAD_ROWS} rows cannot be read; no more were tried")
            return
        reason = str(error).removeprefix(f"{self._name} line 2: ")
        self.remarks.append(f"{self._name}: a row left out, {line[:_SHOWN_CHARACTERS]!r}: {reason}")
