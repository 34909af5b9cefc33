"""Quality control of weather before anything is decided on it.

A value that cannot be true becomes missing and is reported; a series in which too much cannot be true is
refused whole. What the checks cannot see: a bias, a wrong place, or °C written where °F stand in winter,
when both are possible temperatures.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import from_datetime64, instant_text

from .coverage import usable_times
from .finding import Check, Finding
from .implausible import has_implausible_rate, is_above_air, is_out_of_range, is_stuck
from .quality_settings import QualitySettings
from .series import CANONICAL_UNITS, Series

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: Lowest and highest value [canonical unit] that can be true. Air temperature: the records are -89.2 °C
#: (Vostok, 1983) and 56.7 °C (Death Valley, 1913); wind: 113 m/s in a gust (Barrow Island, 1996); snow:
#: 11.8 m (Mount Ibuki, 1927); water: 1825 kg/m2 in a day (Réunion, 1966); World Meteorological
#: Organization and others, all from memory. Dew point: as cold as air may be, and 42 °C above the
#: highest reported 35 °C (Dhahran, 2003, from memory).
PHYSICAL_RANGE = {
    "air_temperature": (-90.0, 60.0),
    "dew_point_temperature": (-95.0, 42.0),
    "wind_speed": (0.0, 115.0),
    "cloud_area_fraction": (0.0, 100.001),
    "precipitation_amount": (0.0, 2000.0),
    "surface_snow_thickness": (0.0, 13.0),
}

_UNIT_SIGNS = {"Cel": "°C"}
_LONGEST_GAPS_NAMED = 3


@dataclass(frozen=True, slots=True)
class QualityReport:
    """What quality control leaves and what it found.

    Parameters
    ----------
    series : Series
        The values that passed; NaN where one did not. The very series that was checked if all passed.
    findings : tuple of Finding
        In the order of the checks.
    reason : str
        Why the series must not be used, and how to mend that; ``""`` if it may be.
    """

    series: Series
    findings: tuple[Finding, ...]
    reason: str

    @property
    def is_usable(self) -> bool:
        """Whether decisions may stand on the series."""
        return not self.reason


_DEFAULT_SETTINGS = QualitySettings()


def check_quality(series: Series, settings: QualitySettings = _DEFAULT_SETTINGS) -> QualityReport:
    """Return a series without the values that cannot be true.

    The checks, in order: physical range; dew point against air temperature; rate of change (a value, or a
    run of a few, that lies between a jump and a jump back; the first or the last value beyond a jump); stuck
    values. They are repeated until nothing more fails, so that checking twice changes nothing. Gaps are
    reported.

    Parameters
    ----------
    series : Series
        Any.
    settings : QualitySettings
        Limits.

    Returns
    -------
    QualityReport
        Surviving values are unchanged. A variable other than air temperature that is mostly out of range
        is left out whole; if air temperature is, or none of it survives, the report has a reason.
    """
    variables = dict(series.variables)
    failures, reason = _take_out_of_range(series.times, variables, settings)
    failures += _take_dew_points(series.times, variables, settings)
    failures += _take_rates_and_stuck_values(series.times, variables, settings)
    checked = Series(series.times, variables) if failures else series
    usable = usable_times(checked)
    if not reason and not usable.any():
        reason = "air_temperature: no usable value; give past weather or a forecast that has some"
    return QualityReport(checked, (*failures, *_gaps(series.times[usable], settings)), reason)


def _take_out_of_range(
    times: NDArray[np.datetime64], variables: dict[str, NDArray[np.float64]], settings: QualitySettings
) -> tuple[list[Finding], str]:
    """Take out what is out of range; return the findings, and the reason to refuse the series or ``""``."""
    findings, reason = [], ""
    for name in tuple(variables):
        lowest, highest = PHYSICAL_RANGE[name]
        mask = is_out_of_range(variables[name], lowest, highest)
        count = int(np.count_nonzero(mask))
        if not count:
            continue
        share = count / np.count_nonzero(~np.isnan(variables[name]))
        unit = CANONICAL_UNITS[name]
        text = f"outside {lowest:g} to {highest:g} {_UNIT_SIGNS.get(unit, unit)}"
        if share > settings.refused_share and name != "air_temperature":
            text = f"{text}, {share:.0%} of all: the unit must be wrong, so the variable is ignored"
            del variables[name]
        else:
            variables[name] = np.where(mask, np.nan, variables[name])
        findings.append(_finding(Check.PHYSICAL_RANGE, name, times, mask, text))
        if share > settings.refused_share and name == "air_temperature":
            reason = f"{name}: {share:.0%} of the values are {text}; state the unit that they are in"
    return findings, reason


def _take_dew_points(
    times: NDArray[np.datetime64], variables: dict[str, NDArray[np.float64]], settings: QualitySettings
) -> list[Finding]:
    """Take out dew points that stand too far above the air temperature; return the findings."""
    name = "dew_point_temperature"
    if name not in variables:
        return []
    mask = is_above_air(variables[name], variables["air_temperature"], settings.dew_point_excess)
    if not mask.any():
        return []
    variables[name] = np.where(mask, np.nan, variables[name])
    text = f"more than {settings.dew_point_excess:g} °C above the air temperature"
    return [_finding(Check.DEW_POINT, name, times, mask, text)]


def _take_rates_and_stuck_values(
    times: NDArray[np.datetime64], variables: dict[str, NDArray[np.float64]], settings: QualitySettings
) -> list[Finding]:
    """Take out impossible changes and stuck values until none is left; return the findings."""
    findings = []
    seconds = times.astype(np.int64)
    rate_text = f"changing by more than {settings.largest_step:g} °C at once"
    stuck_text = f"the same for more than {_hours(settings.stuck_time)}"
    for name in ("air_temperature", "dew_point_temperature"):
        if name not in variables:
            continue
        before = variables[name]
        rate_failed = stuck_failed = np.zeros(before.shape, dtype=bool)
        while True:
            has_rate = has_implausible_rate(seconds, variables[name], settings)
            passed = np.where(has_rate, np.nan, variables[name]) if has_rate.any() else variables[name]
            stuck = is_stuck(seconds, passed, settings)
            if passed is variables[name] and not stuck.any():
                break
            variables[name] = np.where(stuck, np.nan, passed)
            rate_failed, stuck_failed = rate_failed | has_rate, stuck_failed | stuck
        for check, mask, text in (
            (Check.RATE_OF_CHANGE, rate_failed, rate_text),
            (Check.STUCK, stuck_failed, stuck_text),
        ):
            if mask.any():
                findings.append(_finding(check, name, times, mask, text))
    return findings


def _gaps(usable: NDArray[np.datetime64], settings: QualitySettings) -> list[Finding]:
    """Return the finding that names the longest gaps between usable times, if there are gaps."""
    steps = np.diff(usable)
    places = np.flatnonzero(steps > np.timedelta64(settings.gap_time))
    if not places.size:
        return []
    longest = places[np.argsort(-steps[places].astype(np.int64), kind="stable")][:_LONGEST_GAPS_NAMED]
    named = ", ".join(
        f"{_hours(timedelta(seconds=int(steps[place].astype(np.int64))))} from {_time_text(usable[place])}"
        for place in longest
    )
    text = f"air_temperature: gaps longer than {_hours(settings.gap_time)}: {places.size}, the longest {named}"
    first, last = from_datetime64(usable[places[0]]), from_datetime64(usable[places[-1] + 1])
    return [Finding(Check.GAP, "air_temperature", first, last, int(places.size), text)]


def _finding(check: Check, name: str, times: NDArray[np.datetime64], mask: NDArray[np.bool_], what: str) -> Finding:
    """Return the finding that values of a variable failed a check."""
    where = times[mask.any(axis=0)]
    span = _time_text(where[0]) if where.size == 1 else f"{_time_text(where[0])} to {_time_text(where[-1])}"
    count = int(np.count_nonzero(mask))
    text = f"{name}: values {what}, left out: {count}, {span}"
    return Finding(check, name, from_datetime64(where[0]), from_datetime64(where[-1]), count, text)


def _time_text(time: np.datetime64) -> str:
    """Return a time as RFC 3339."""
    return instant_text(from_datetime64(time))


def _hours(length: timedelta) -> str:
    """Return a length in hours."""
    return f"{length / timedelta(hours=1):g} h"
