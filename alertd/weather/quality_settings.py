"""Limits of quality control."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta


@dataclass(frozen=True, slots=True)
class QualitySettings:
    """Limits of the checks.

    Parameters
    ----------
    largest_step : float
        [°C] Largest believable change of air temperature or dew point between neighbouring times.
    step_time : timedelta
        Neighbours further apart than this are not compared.
    spike_values : int
        Longest run of values that a jump there and a jump back may enclose.
    stuck_time : timedelta
        A value that stays the same for longer is no measurement.
    stuck_values : int
        The fewest values that can be called stuck.
    gap_time : timedelta
        Times further apart than this are reported as a gap.
    dew_point_excess : float
        [°C] How far the dew point may stand above the air temperature.
    refused_share : float
        If more than this share of the present values is out of range, the unit must be wrong.

    Raises
    ------
    ValueError
        If a limit is not positive.
    """

    #: Assumed: just above the 11.1 °C by which a July thunderstorm cooled Greensboro in an hour (largest
    #: step of its TMY3 file, seen); at three New York airports in 2013 the largest true step was 7.6 °C (seen).
    largest_step: float = 12.0
    #: Assumed: reports are hourly, and one may be missing.
    step_time: timedelta = timedelta(hours=2)
    #: Assumed.
    spike_values: int = 3
    #: Assumed: the longest true run seen is 24 equal hourly values (Sand Point, Alaska, TMY3, whole °C).
    stuck_time: timedelta = timedelta(hours=30)
    #: Assumed: six-hourly values in whole degrees may be equal for a day and a half.
    stuck_values: int = 12
    #: Assumed: three-hourly values are common, and interpolation stops there.
    gap_time: timedelta = timedelta(hours=3)
    #: Assumed: rounding of either in whole °F or °C, and supersaturation over ice.
    dew_point_excess: float = 2.0
    #: Assumed.
    refused_share: float = 0.05

    def __post_init__(self) -> None:
        """Refuse limits that nothing can keep."""
        lengths = (self.step_time, self.stuck_time, self.gap_time)
        numbers = (self.largest_step, self.spike_values, self.stuck_values, self.dew_point_excess, self.refused_share)
        if not (all(length > timedelta(0) for length in lengths) and all(number > 0 for number in numbers)):
            message = f"limits of quality control must be positive, not {self}"
            raise ValueError(message)
