"""Public warnings as lines for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .when import when_text

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.alerts import Decision, Garden
    from alertd.site import Site
    from alertd.weather import PublicWarning


def warning_lines(decision: Decision, garden: Garden, *, only_of_cold: bool = True) -> list[str]:
    """Return what weather services warn of at the site, for reading.

    Parameters
    ----------
    decision : Decision
        With the forecasts that carry the warnings.
    garden : Garden
        Local time.
    only_of_cold : bool
        Leave out what concerns neither cold nor work and covers in the cold.

    Returns
    -------
    list of str
        A line for each warning that is not over, each once, without line ends.
    """
    lines = [
        f"Public warning: {_text(warning, decision.now, garden.site)}, by {forecast.source}."
        for forecast in decision.outlook.used
        for warning in forecast.warnings or ()
        if not warning.is_over(decision.now) and (warning.is_of_cold or not only_of_cold)
    ]
    return list(dict.fromkeys(lines))


def _text(warning: PublicWarning, now: datetime, site: Site) -> str:
    """Return a warning with its time."""
    begins = "" if warning.onset is None or warning.onset <= now else f" from {when_text(warning.onset, now, site)}"
    ends = "" if warning.ends is None else f" until {when_text(warning.ends, now, site)}"
    return f"{warning.event}{begins}{ends} ({warning.severity}, {warning.certainty})"
