"""From the bytes of a MOSMIX file of one station to a checked series. Pure."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import from_datetime64, parse_instant, to_datetime64
from alertd.sources.minima import believable_minima
from alertd.weather import PeriodMinimum, Series, check_quality

from .archive import read_kml, refuse

if TYPE_CHECKING:
    from datetime import datetime
    from xml.etree import ElementTree as ET

    from numpy.typing import NDArray

    from alertd.weather import Finding

#: 0 °C [K]. SI Brochure, 9th edition (2019), section 2.3.1 (from memory).
ZERO_CELSIUS = 273.15

#: Length of the period before its time of which a value of TN is the minimum. *Seen* in a description of MOSMIX.
MINIMUM_PERIOD = timedelta(hours=12)

#: Times further than this from the time of issue are no forecast; MOSMIX reaches ten days (*seen*). Assumed.
LONGEST_HORIZON = timedelta(days=30)

#: Standard deviation of a normal distribution whose mean absolute error is 1. By definition of both.
DEVIATION_PER_ABSOLUTE_ERROR = math.sqrt(math.pi / 2.0)

#: [K] Largest believable expected error; a larger one is left out. Assumed.
LARGEST_ERROR = 30.0

_HOUR = timedelta(hours=1)
_MISSING = "-"
_MOST_TIMES = 2_000
_YEARS = range(1970, 2200)
_LONGEST_QUOTE = 40
_NUMBER = re.compile(r"[+-]?(\d{1,20}(\.\d{0,20})?|\.\d{1,20})([eE][+-]?\d{1,2})?", flags=re.ASCII)

#: Names of the elements that are read, the first that is there, and what is added to their values. Effective cloud
#: cover, which leaves out thin high clouds that hardly warm a night, is preferred to total cloud cover.
_VARIABLES = {
    "air_temperature": (("TTT",), -ZERO_CELSIUS),
    "dew_point_temperature": (("Td",), -ZERO_CELSIUS),
    "wind_speed": (("FF",), 0.0),
    "cloud_area_fraction": (("Neff", "N"), 0.0),
    "precipitation_amount": (("RR1c",), 0.0),
}


@dataclass(frozen=True, slots=True)
class StationForecast:
    """A forecast for one station, checked.

    Parameters
    ----------
    station : str
        Its id.
    latitude, longitude : float
        [degrees north, degrees east]
    elevation : float
        [m]
    issued : datetime
        Aware UTC: when the forecast was issued, by its own word.
    series : Series
        One realization, at the station.
    minima : tuple of PeriodMinimum
        Of the twelve hours before each time for which one is stated, at the station; without one that is over.
    error : numpy.ndarray or None
        shape (n_times,): standard deviation of the air temperature [°C], NaN where the forecast says nothing;
        ``None`` if it says nothing at all.
    findings : tuple of Finding
        What quality control found.
    """

    station: str
    latitude: float
    longitude: float
    elevation: float
    issued: datetime
    series: Series
    minima: tuple[PeriodMinimum, ...]
    error: NDArray[np.float64] | None
    findings: tuple[Finding, ...]


def parse_station_forecast(body: bytes, station: str) -> StationForecast:
    """Return what a MOSMIX file says about the one station in it.

    Parameters
    ----------
    body : bytes
        A KMZ file.
    station : str
        Id of the station that was asked for.

    Returns
    -------
    StationForecast
        Values that cannot be true are missing.

    Raises
    ------
    SourceMalformed
        If the body is no such file, holds another station or several, its times do not increase or lie out of all
        reason, a row has another number of values than there are times, or it fails quality control.

    Notes
    -----
    Read are TTT and Td [K], FF [m/s], Neff or else N [%], RR1c [kg/m2 in the hour before], TN [K] and E_TTT [K].
    E_TTT is called an absolute error in the service's list of elements (*from memory*): taken as the mean absolute
    error of a normal distribution, its standard deviation is sqrt(π/2) times that. The names of elements and
    attributes are read without their namespaces. That positions are in decimal degrees is assumed; were they in
    degrees and minutes, the place would be wrong by up to 0.4 degrees.

    References
    ----------
    A description of MOSMIX files (elements, units, encoding), *seen*; names of the KML elements, *from memory*.
    """
    root = read_kml(body)
    placemark = _only(root, "Placemark")
    name = _text(_only(placemark, "name"))
    if name != station:
        refuse(f"the file is for station {_quoted(name)}, not for {station!r}", "check station and base_url")
    longitude, latitude, elevation = _position(_text(_only(placemark, "coordinates")))
    issued = _instant(_text(_only(root, "IssueTime")), "the time of issue")
    times = _times(_only(root, "ForecastTimeSteps"), issued)
    rows = _rows(placemark, len(times))
    report = check_quality(_series(times, rows))
    if not report.is_usable:
        refuse(report.reason.partition(";")[0])
    ahead = [minimum for minimum in _minima(times, rows) if _lies_ahead(minimum, report.series)]
    minima, findings = believable_minima(ahead, report.series)
    findings = report.findings + findings
    return StationForecast(name, latitude, longitude, elevation, issued, report.series, minima, _error(rows), findings)


def _all(parent: ET.Element, name: str) -> list[ET.Element]:
    """Return the elements below another one that have a name, in whatever namespace."""
    return [element for element in parent.iter() if element.tag.rpartition("}")[2] == name]


def _only(parent: ET.Element, name: str) -> ET.Element:
    """Return the only element of a name below another one."""
    found = _all(parent, name)
    if len(found) != 1:
        refuse(f"the file has {len(found)} elements {name} where one is expected", "check base_url")
    return found[0]


def _text(element: ET.Element) -> str:
    """Return the text of an element."""
    return (element.text or "").strip()


def _position(text: str) -> tuple[float, float, float]:
    """Return longitude and latitude [degrees] and elevation [m]."""
    parts = text.split(",")
    if len(parts) != 3 or not all(_NUMBER.fullmatch(part.strip()) for part in parts):  # noqa: PLR2004 - three numbers
        refuse(f"the position {_quoted(text)} of the station is not longitude, latitude and elevation")
    longitude, latitude, elevation = (float(part) for part in parts)
    if abs(longitude) > 180.0 or abs(latitude) > 90.0 or not -500.0 <= elevation <= 9000.0:  # noqa: PLR2004 - the Earth
        refuse(f"the position {_quoted(text)} of the station is not on Earth")
    return longitude, latitude, elevation


def _instant(text: str, what: str) -> datetime:
    """Return an instant in whole seconds."""
    try:
        instant = parse_instant(text)
    except ValueError:
        refuse(f"{what} is {_quoted(text)} and no time")
    if instant.year not in _YEARS:
        refuse(f"{what} is {_quoted(text)}, and no forecast speaks of that year")
    return instant.replace(microsecond=0)


def _times(steps: ET.Element, issued: datetime) -> list[datetime]:
    """Return the times of the forecast."""
    elements = _all(steps, "TimeStep")
    if not 0 < len(elements) <= _MOST_TIMES:
        refuse(f"the file has {len(elements)} times")
    times = [_instant(_text(element), "a time") for element in elements]
    for earlier, later in pairwise(times):
        if later <= earlier:
            refuse(f"the time {later.isoformat()} follows {earlier.isoformat()}")
    for time in (times[0], times[-1]):
        if abs(time - issued) > LONGEST_HORIZON:
            refuse(f"there is a time {time.isoformat()} in a forecast issued at {issued.isoformat()}")
    return times


def _rows(placemark: ET.Element, n_times: int) -> dict[str, NDArray[np.float64]]:
    """Return the rows that are read, as they stand there, NaN where missing."""
    wanted = {name for names, _offset in _VARIABLES.values() for name in names} | {"TN", "E_TTT"}
    rows: dict[str, NDArray[np.float64]] = {}
    for forecast in _all(placemark, "Forecast"):
        name = next((value for key, value in forecast.items() if key.rpartition("}")[2] == "elementName"), "")
        if name not in wanted:
            continue
        if name in rows:
            refuse(f"{name} stands there twice")
        rows[name] = _values(_text(_only(forecast, "value")).split(), name, n_times)
    return rows


def _values(words: list[str], name: str, n_times: int) -> NDArray[np.float64]:
    """Return the values of a row."""
    if len(words) != n_times:
        refuse(f"{name} has {len(words)} values for {n_times} times")
    for word in words:
        if word != _MISSING and not _NUMBER.fullmatch(word):
            refuse(f"{name} has a value {_quoted(word)} that is no number")
    return np.array([np.nan if word == _MISSING else float(word) for word in words])


def _series(times: list[datetime], rows: dict[str, NDArray[np.float64]]) -> Series:
    """Return the variables that are there, in canonical units."""
    variables = {"air_temperature": np.full((1, len(times)), np.nan)}
    for variable, (names, offset) in _VARIABLES.items():
        name = next((name for name in names if name in rows and not np.isnan(rows[name]).all()), None)
        if name is not None:
            variables[variable] = rows[name][np.newaxis] + offset
    return Series(np.array([to_datetime64(time) for time in times]).astype("datetime64[s]"), variables)


def _minima(times: list[datetime], rows: dict[str, NDArray[np.float64]]) -> list[PeriodMinimum]:
    """Return the minima of the twelve hours before the times."""
    if "TN" not in rows:
        return []
    return [
        PeriodMinimum(time - MINIMUM_PERIOD, time, float(value) - ZERO_CELSIUS)
        for time, value in zip(times, rows["TN"], strict=True)
        if not np.isnan(value)
    ]


def _lies_ahead(minimum: PeriodMinimum, series: Series) -> bool:
    """Return whether the coldest hour of a period may still come.

    A period that began before the first time of the forecast may have had it in its past, like a dawn that is over;
    it is taken as past if the forecast's own values only get warmer than the first of them.
    """
    if from_datetime64(series.times[0]) <= minimum.start + _HOUR:
        return True
    known = series.air_temperature[0, series.times <= to_datetime64(minimum.end)]
    known = known[~np.isnan(known)]
    return bool(known.size) and int(known.argmin()) > 0


def _error(rows: dict[str, NDArray[np.float64]]) -> NDArray[np.float64] | None:
    """Return the standard deviation [°C] of the air temperature, or ``None`` if none can be believed."""
    if "E_TTT" not in rows:
        return None
    absolute = rows["E_TTT"]
    is_believable = (absolute >= 0.0) & (absolute <= LARGEST_ERROR)
    error = np.where(is_believable, absolute * DEVIATION_PER_ABSOLUTE_ERROR, np.nan)
    return None if np.isnan(error).all() else error


def _quoted(text: str) -> str:
    """Return the beginning of a text for a message of one line."""
    return repr(text if len(text) <= _LONGEST_QUOTE else f"{text[:_LONGEST_QUOTE]}…")
