"""A source of forecasts together with what its service warns of."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from alertd.core import SourceError
from alertd.weather import Check, Finding, PublicWarning

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.sources.protocol import Source
    from alertd.weather import Forecast

    from .alerts import NwsAlert, NwsAlertSource


class WarnedSource:
    """Forecasts of a source, with the watches, warnings and advisories that are active at the site.

    Parameters
    ----------
    source : Source
        Of forecasts.
    alerts : NwsAlertSource
        Of warnings, asked once a forecast is there. Its failure leaves the forecast as it is.
    """

    def __init__(self, source: Source, alerts: NwsAlertSource) -> None:
        self._source = source
        self._alerts = alerts

    @property
    def name(self) -> str:
        """Name of the source, as in the configuration."""
        return self._source.name

    def get(self, now: datetime) -> tuple[Forecast, tuple[Finding, ...]]:
        """Return the latest forecast with its warnings.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        tuple of (Forecast, tuple of Finding)
            Warnings are ``None``, and a finding says why, where they could not be learnt.

        Raises
        ------
        SourceUnavailable
            As the source of forecasts does.
        SourceMalformed
            Likewise.
        ValueError
            If `now` is naive.
        """
        forecast, findings = self._source.get(now)
        try:
            active = self._alerts.get(now)
        except SourceError as error:
            text = f"what the service warns of is unknown: {error}"
            instant = forecast.retrieved
            return forecast, (*findings, Finding(Check.NOT_TOLD, "warnings", instant, instant, 1, text))
        return replace(forecast, warnings=tuple(_warning(alert) for alert in active.alerts)), findings


def _warning(alert: NwsAlert) -> PublicWarning:
    """Return what others need of an alert."""
    return PublicWarning(
        event=alert.event,
        sent=alert.sent,
        onset=alert.onset,
        ends=alert.ends,
        severity=alert.severity,
        certainty=alert.certainty,
        urgency=alert.urgency,
        headline=alert.headline,
    )
