"""What a weather service itself warns of at the site."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime

#: Words by which an event's name shows that it concerns cold, or work and covers in the cold. Source: names of events
#: of the US National Weather Service (Freeze Watch, Frost Advisory, Extreme Cold Warning, Wind Chill Advisory, Winter
#: Storm Watch, Ice Storm Warning, Lake Effect Snow Warning, Blizzard Warning, High Wind Warning), from memory.
_COLD = re.compile(r"\b(freeze|freezing|frost|cold|winter|snow|ice|blizzard|chill|wind)\b", flags=re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class PublicWarning:
    """A watch, warning or advisory of a weather service. It is shown, and changes no judgement.

    Parameters
    ----------
    event : str
        The service's own name of it, like ``Freeze Warning``.
    sent : datetime
        Aware UTC.
    onset, ends : datetime or None
        Aware UTC: when the event begins and ends; ``None`` if the service does not say.
    severity, certainty, urgency : str
        As the service says, in CAP tokens.
    headline : str
        The service's own; ``""`` if it has none.
    """

    event: str
    sent: datetime
    onset: datetime | None
    ends: datetime | None
    severity: str = "Unknown"
    certainty: str = "Unknown"
    urgency: str = "Unknown"
    headline: str = ""

    @property
    def is_of_cold(self) -> bool:
        """Whether it concerns cold, or work and covers in the cold; a letter on trees leaves out the others."""
        return _COLD.search(self.event) is not None

    def is_over(self, now: datetime) -> bool:
        """Return whether the event has ended by its own word."""
        return self.ends is not None and self.ends <= now
