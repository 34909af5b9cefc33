"""What a thermometer said."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import as_utc, instant_text, to_datetime64

from .quality import check_quality
from .quality_settings import QualitySettings
from .series import Series

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import datetime

    from .finding import Finding

#: How long observations are kept. Assumed: a whole year, so that each season can be compared with the one before,
#: and a month to do it.
LONGEST_KEPT = timedelta(days=400)

#: How far the time of an observation may lie ahead of the clock. Assumed: clocks of small devices differ by minutes.
LONGEST_AHEAD = timedelta(minutes=5)

_STATION = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,63}", flags=re.ASCII)


@dataclass(frozen=True, slots=True)
class Observation:
    """One value of one thermometer.

    Parameters
    ----------
    station : str
        Its name: 1 to 64 letters, digits, dots, dashes and underscores, beginning with a letter or digit.
    time : datetime
        Aware: when the air had this temperature.
    air_temperature : float
        [°C]
    received : datetime
        Aware: when alertd got it.

    Raises
    ------
    ValueError
        If the name is none, a time is naive or the temperature is not finite.
    """

    station: str
    time: datetime
    air_temperature: float
    received: datetime

    def __post_init__(self) -> None:
        """Refuse what is no observation."""
        if _STATION.fullmatch(self.station) is None:
            message = "a station's name has 1 to 64 letters, digits, dots, dashes and underscores, like barn-north"
            raise ValueError(message)
        as_utc(self.received)
        if not math.isfinite(self.air_temperature):
            message = f"{self.station} at {instant_text(self.time)}: {self.air_temperature} is no temperature"
            raise ValueError(message)

    @property
    def time_problem(self) -> str:
        """Why the observation's time cannot be used, in one phrase; empty if it can."""
        age = as_utc(self.received) - as_utc(self.time)
        if age < -LONGEST_AHEAD:
            return f"the time {instant_text(self.time)} is still to come; set the clocks"
        if age > LONGEST_KEPT:
            return f"the time {instant_text(self.time)} is more than {LONGEST_KEPT.days} days ago"
        return ""


@dataclass(frozen=True, slots=True)
class Observed:
    """Observations of several stations, quality-checked.

    Parameters
    ----------
    series : Series or None
        One realization for each station, missing where it said nothing; ``None`` if nothing is usable.
    stations : tuple of str
        Names in the order of the realizations.
    findings : tuple of Finding
        What quality control found; the texts begin with the station.
    """

    series: Series | None
    stations: tuple[str, ...]
    findings: tuple[Finding, ...]


_DEFAULT_SETTINGS = QualitySettings()


def observed_weather(observations: Iterable[Observation], settings: QualitySettings = _DEFAULT_SETTINGS) -> Observed:
    """Return observations as a series, each station checked by itself.

    Parameters
    ----------
    observations : iterable of Observation
        In any order. Of several of one station within the same second, the one received last counts.
    settings : QualitySettings
        Limits of what can be true.

    Returns
    -------
    Observed
        Stations in alphabetical order; those of which nothing is usable are left out.
    """
    values: dict[str, dict[np.datetime64, float]] = {}
    for each in sorted(observations, key=lambda each: (each.station, as_utc(each.time), as_utc(each.received))):
        values.setdefault(each.station, {})[to_datetime64(each.time)] = each.air_temperature
    checked: dict[str, Series] = {}
    findings: list[Finding] = []
    for station, by_time in values.items():
        times = np.array(list(by_time), dtype="datetime64[s]")
        report = check_quality(Series(times, {"air_temperature": np.array([list(by_time.values())])}), settings)
        findings += [replace(finding, text=f"{station}: {finding.text}") for finding in report.findings]
        if report.is_usable:
            checked[station] = report.series
    return Observed(_together(checked), tuple(checked), tuple(findings))


def _together(stations: Mapping[str, Series]) -> Series | None:
    """Return the series of several stations as realizations on all their times."""
    if not stations:
        return None
    times = np.unique(np.concatenate([series.times for series in stations.values()]))
    air_temperature = np.full((len(stations), times.size), np.nan)
    for place, series in enumerate(stations.values()):
        air_temperature[place, np.searchsorted(times, series.times)] = series.air_temperature[0]
    return Series(times, {"air_temperature": air_temperature})
