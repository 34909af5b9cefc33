"""Weather as CSV text: past weather, forecasts and archives of forecasts.

::

    time,air_temperature[degF],wind_speed[m/s]
    2013-01-23T04:00:00Z,14.0,5.1
    2013-01-23T05:00:00Z,12.9,

The column ``time`` is RFC 3339 with its offset. The others are CF standard names with a UCUM unit in
brackets; only ``air_temperature`` must be there, and an empty cell is a missing value. A forecast with
several realizations has a column ``realization``; an archive of forecasts has a column
``forecast_reference_time`` that says from when each row's forecast was made.
"""

from __future__ import annotations

import csv
import math
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from alertd.core import SourceMalformed, parse_instant, to_datetime64

from .rows import Rows, series_of_rows
from .series import CANONICAL_UNITS, Series
from .units import UNITS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from .finding import Finding
    from .units import Conversion

TIME = "time"
REFERENCE_TIME = "forecast_reference_time"
REALIZATION = "realization"

#: Numbers beyond this are marks for a missing value that a program left behind, not weather. Assumed.
LARGEST_NUMBER = 1e9

_COLUMN = re.compile(r"(?P<name>[^\[\]]*)(?:\[(?P<unit>.*)\])?", flags=re.DOTALL)
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", flags=re.ASCII)
_INTEGER = re.compile(r"[+-]?\d{1,9}", flags=re.ASCII)
_SHOWN_CHARACTERS = 40


@dataclass(frozen=True, slots=True)
class WeatherTable:
    """What a weather file holds: one record, or an archive of forecasts.

    Parameters
    ----------
    record : Series or None
        Values of a file without reference times.
    forecasts : tuple of (datetime, Series)
        Forecasts of an archive by reference time (aware UTC), earliest first.
    findings : tuple of Finding
        What was set right while reading.
    """

    record: Series | None
    forecasts: tuple[tuple[datetime, Series], ...]
    findings: tuple[Finding, ...]

    @property
    def is_archive(self) -> bool:
        """Whether the file says when each forecast was made."""
        return self.record is None


@dataclass(slots=True)
class _Columns:
    """Where things stand in a row."""

    time: int
    reference_time: int | None
    realization: int | None
    variables: dict[str, tuple[int, Conversion]] = field(default_factory=dict)


def parse_weather_csv(text: str, name: str) -> WeatherTable:
    r"""Return the weather that a CSV text holds.

    Rows may stand in any order. Rows of the same time (and realization, and forecast) are merged where
    they agree and all left out where they differ; both is reported.

    Parameters
    ----------
    text : str
        The file's text; a byte order mark, any line ends and quoted cells are fine.
    name : str
        Name of the file, for messages.

    Returns
    -------
    WeatherTable
        Values in canonical units, shape (n_realizations, n_times) each.

    Raises
    ------
    SourceMalformed
        If a column or its unit is unknown, twice there or missing, a time or number cannot be read, a row is
        too long or too short, or nothing is left. The text names file, line and how to mend it.

    Examples
    --------
    >>> table = parse_weather_csv("time,air_temperature[degF]\n2013-01-23T04:00:00Z,14\n", "record.csv")
    >>> table.record.air_temperature.tolist()
    [[-10.0]]
    """
    reader = _Reader(text, name)
    header = next(reader, None)
    if header is None:
        raise _malformed(name, 1, "the file is empty", "begin it with a line like time,air_temperature[Cel]")
    columns = _columns(header, name, reader.line)
    rows = Rows(variables={variable: [] for variable in columns.variables})
    seconds: dict[str, int] = {}
    for cells in reader:
        if len(cells) != len(header):
            what = f"the row has {len(cells)} cells, the header {len(header)}"
            raise _malformed(name, reader.line, what, "give each column one cell, an empty one where nothing is known")
        _read_row(cells, columns, rows, seconds, f"{name} line {reader.line}")
    record, forecasts, findings = series_of_rows(rows, name)
    return WeatherTable(record, forecasts, findings)


def weather_csv_columns(header: str, name: str) -> tuple[str, ...]:
    """Return the columns that the first line of a weather CSV names.

    Parameters
    ----------
    header : str
        The line.
    name : str
        Name of the file, for messages.

    Returns
    -------
    tuple of str
        ``time`` and the others, by name, without units; in no particular order.

    Raises
    ------
    SourceMalformed
        As for :func:`parse_weather_csv`.

    Examples
    --------
    >>> weather_csv_columns("time,air_temperature[Cel]", "record.csv")
    ('time', 'air_temperature')
    """
    reader = _Reader(header, name)
    columns = _columns(next(reader, []), name, max(reader.line, 1))
    others = ((REFERENCE_TIME, columns.reference_time), (REALIZATION, columns.realization))
    return (TIME, *(column for column, place in others if place is not None), *columns.variables)


class _Reader:
    """Rows of CSV text, blank ones left out, with the line number of the last."""

    def __init__(self, text: str, name: str) -> None:
        self._name = name
        nul = text.find("\0")
        if nul >= 0:
            line = text.count("\n", 0, nul) + 1
            raise _malformed(name, line, "there is a NUL byte", "save the file as plain UTF-8 text")
        plain = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
        self._rows = csv.reader((f"{line}\n" for line in plain.split("\n")), strict=True)

    @property
    def line(self) -> int:
        return self._rows.line_num

    def __iter__(self) -> Iterator[list[str]]:
        return self

    def __next__(self) -> list[str]:
        try:
            cells = next(self._rows)
            while not any(cell.strip() for cell in cells):
                cells = next(self._rows)
        except csv.Error as error:
            raise _malformed(self._name, self.line, f"this is no CSV ({error})", "check the quotes here") from error
        return cells


def _columns(header: list[str], name: str, line: int) -> _Columns:
    """Return where the header says that things stand."""
    places: dict[str, int] = {}
    variables: dict[str, tuple[int, Conversion]] = {}
    for place, title in enumerate(header):
        match = _COLUMN.fullmatch(title.strip())
        variable = "" if match is None else match["name"].strip()
        if match is None or variable not in {TIME, REFERENCE_TIME, REALIZATION, *CANONICAL_UNITS}:
            names = ", ".join([TIME, REFERENCE_TIME, REALIZATION, *CANONICAL_UNITS])
            what = f"the column {_shown(title)} is unknown"
            raise _malformed(name, line, what, f"take it out or use one of {names}, separated by commas")
        if variable in places:
            raise _malformed(name, line, f"the column {variable} is there twice", "take one out")
        places[variable] = place
        if variable in CANONICAL_UNITS:
            variables[variable] = (place, _conversion(variable, match["unit"], name, line))
    for needed, example in ((TIME, TIME), ("air_temperature", "air_temperature[Cel] or air_temperature[degF]")):
        if needed not in places:
            raise _malformed(name, line, f"there is no column {needed}", f"add a column {example}")
    return _Columns(places[TIME], places.get(REFERENCE_TIME), places.get(REALIZATION), variables)


def _conversion(variable: str, unit: str | None, name: str, line: int) -> Conversion:
    """Return how values of a column become canonical."""
    choice = " or ".join(f"{variable}[{code}]" for code in UNITS[variable])
    if unit is None:
        raise _malformed(name, line, f"the column {variable} states no unit", f"write {choice}")
    conversion = UNITS[variable].get(unit.strip())
    if conversion is None:
        raise _malformed(name, line, f"the unit {_shown(unit)} of {variable} is unknown", f"write {choice}")
    return conversion


def _read_row(cells: list[str], columns: _Columns, rows: Rows, seconds: dict[str, int], where: str) -> None:
    """Append one row of text to `rows`; `seconds` remembers the times that were read before."""
    rows.times.append(_seconds(cells[columns.time], TIME, seconds, where))
    if columns.reference_time is not None:
        rows.reference_times.append(_seconds(cells[columns.reference_time], REFERENCE_TIME, seconds, where))
    if columns.realization is not None:
        cell = cells[columns.realization].strip()
        if _INTEGER.fullmatch(cell) is None:
            message = f"{where}: the realization {_shown(cell)} is no whole number; number realizations 0, 1, 2 …"
            raise SourceMalformed(message)
        rows.realizations.append(int(cell))
    for variable, (place, conversion) in columns.variables.items():
        rows.variables[variable].append(_value(cells[place], variable, conversion, where))


def _seconds(cell: str, column: str, seconds: dict[str, int], where: str) -> int:
    """Return a time as seconds since 1970."""
    known = seconds.get(cell)
    if known is not None:
        return known
    try:
        instant = parse_instant(cell)
    except ValueError as error:
        mend = "write RFC 3339 with the offset from UTC, like 2026-01-23T04:00:00Z"
        message = f"{where}: the {column} {_shown(cell)} cannot be read; {mend}"
        raise SourceMalformed(message) from error
    seconds[cell] = int(to_datetime64(instant).astype("int64"))
    return seconds[cell]


def _value(cell: str, variable: str, conversion: Conversion, where: str) -> float:
    """Return a cell as a number in the canonical unit, NaN if it is empty."""
    cell = cell.strip()
    if not cell:
        return math.nan
    value = float(cell) if _NUMBER.fullmatch(cell) is not None else math.nan
    if not abs(value) <= LARGEST_NUMBER:
        mend = "write it like -9.4, and leave the cell empty where the value is missing"
        message = f"{where}: {_shown(cell)} is no number for {variable}; {mend}"
        raise SourceMalformed(message)
    return conversion.canonical(value)


def _shown(text: str) -> str:
    """Return foreign text as it may stand in a message: short, on one line, in quotes."""
    return repr(text if len(text) <= _SHOWN_CHARACTERS else f"{text[:_SHOWN_CHARACTERS]}...")


def _malformed(name: str, line: int, what: str, mend: str) -> SourceMalformed:
    """Return the error that says what is wrong in a line and how to mend it."""
    return SourceMalformed(f"{name} line {line}: {what}; {mend}")
