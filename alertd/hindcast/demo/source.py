"""The forecasts of the demo as a weather source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from alertd.core import SourceUnavailable, as_utc
from alertd.weather import Forecast, check_quality

from .script import OUTAGE

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.weather import Finding

    from .weather import DemoWeather


@dataclass(slots=True)
class DemoSource:
    """Gives the forecasts of an invented winter, except during its outage.

    Parameters
    ----------
    name : str
        As in the configuration.
    weather : DemoWeather
        The winter.
    credits : str
        Shown in letters.
    """

    name: str
    weather: DemoWeather
    credits: str = ""
    _last: tuple[datetime, Forecast, tuple[Finding, ...]] | None = None

    def get(self, now: datetime) -> tuple[Forecast, tuple[Finding, ...]]:
        """Return the latest forecast that can be had at an instant.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        tuple of (Forecast, tuple of Finding)
            Quality-checked, like that of any source.

        Raises
        ------
        SourceUnavailable
            During the outage.
        ValueError
            If `now` is naive, or outside the days of the demo.
        """
        retrieved = as_utc(now)
        begin, end = OUTAGE
        if begin <= retrieved < end:
            message = "no answer; look again later (this is the demo's day without forecasts)"
            raise SourceUnavailable(message)
        reference, series = self.weather.forecast_at(retrieved)
        if self._last is None or self._last[0] != reference:
            report = check_quality(series)
            forecast = Forecast(self.name, reference, retrieved, report.series, self.credits)
            self._last = (reference, forecast, report.findings)
        return self._last[1:]
