"""Past weather as the forecasts that would have covered it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from alertd.core import SourceUnavailable, instant_text
from alertd.weather import PAST_LENGTH, Forecast

if TYPE_CHECKING:
    from datetime import datetime, timedelta

    from alertd.weather import Finding, Series


@dataclass(frozen=True, slots=True)
class RecordSource:
    """A record of past weather that gives, at any instant, the hours that a forecast would have covered.

    Parameters
    ----------
    name : str
        Shown in messages.
    series : Series
        The record.
    reach : timedelta
        How far ahead a forecast goes.
    """

    name: str
    series: Series
    reach: timedelta

    def get(self, now: datetime) -> tuple[Forecast, tuple[Finding, ...]]:
        """Return the record from `now` on, as if it had just been forecast, with the days before.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        tuple of (Forecast, tuple of Finding)
            Without findings: the record's quality was checked as a whole.

        Raises
        ------
        SourceUnavailable
            If the record has ended.
        """
        if self.series.window(now, now + self.reach).n_times == 0:
            message = f"{self.name}: the record ends before {instant_text(now)}"
            raise SourceUnavailable(message)
        return Forecast(self.name, now, now, self.series.window(now - PAST_LENGTH, now + self.reach)), ()
