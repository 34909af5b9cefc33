"""Public warnings as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING

from alertd.core import instant_text

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.alerts import Decision


def warning_facts(decision: Decision) -> list[dict[str, object]]:
    """Return what weather services warn of at the site, as JSON values.

    Parameters
    ----------
    decision : Decision
        With the forecasts that carry the warnings.

    Returns
    -------
    list of dict
        Those that are not over, of cold or not; times RFC 3339 in UTC.
    """
    return [
        {
            "source": forecast.source,
            "event": warning.event,
            "headline": warning.headline,
            "sent": instant_text(warning.sent),
            "onset": _instant(warning.onset),
            "ends": _instant(warning.ends),
            "severity": warning.severity,
            "certainty": warning.certainty,
            "urgency": warning.urgency,
        }
        for forecast in decision.outlook.used
        for warning in forecast.warnings or ()
        if not warning.is_over(decision.now)
    ]


def _instant(instant: datetime | None) -> str | None:
    return None if instant is None else instant_text(instant)
