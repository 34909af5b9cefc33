"""An alert: one matter with a life."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.core import Certainty, MessageType, ResponseType, Severity, Urgency
    from alertd.plan import Action
    from alertd.risk import Rule


class AlertState(StrEnum):
    """Where an alert stands in its life. The theory is in ``lifecycle``."""

    PREPARE = "prepare"
    EXECUTE = "execute"
    DONE = "done"
    DECLINED = "declined"
    ENDED = "ended"


class Outcome(StrEnum):
    """How an alert ended."""

    DONE = "done"
    DECLINED = "declined"
    CANCELLED = "cancelled"
    EXPIRED = "expired"


@dataclass(frozen=True, slots=True)
class Announcement:
    """What people were last told about an alert; later forecasts are compared with it.

    Parameters
    ----------
    sent : datetime
        When, aware UTC.
    message_type, response_type, severity, urgency, certainty
        CAP 1.2 tokens.
    onset, end : datetime or None
        The cold spell, aware UTC; ``None`` where the matter is no spell.
    start_by : datetime or None
        Latest sensible start of the work, aware UTC.
    minimum, minimum_low, minimum_high : float or None
        [°C] Lowest air temperature of the spell: median, 5th and 95th percentile of realizations.
    probability : float or None
        That the exposure passes the critical temperature.
    """

    sent: datetime
    message_type: MessageType
    response_type: ResponseType
    severity: Severity
    urgency: Urgency
    certainty: Certainty
    onset: datetime | None = None
    end: datetime | None = None
    start_by: datetime | None = None
    minimum: float | None = None
    minimum_low: float | None = None
    minimum_high: float | None = None
    probability: float | None = None


@dataclass(frozen=True, slots=True)
class Alert:
    """One matter: a group, an action, and a spell.

    Parameters
    ----------
    alert_id : str
        Like ``patio-pots-2013-01-22``: the group and the local date of onset; unique.
    group : str
        Group id, or ``"site"`` for a matter of the whole site.
    action : Action
        What is to be done.
    rule : Rule
        What raised it.
    state : AlertState
        Where it stands.
    opened : Announcement
        What the first message said.
    announced : Announcement
        What the last message said.
    end : datetime or None
        [aware UTC] End of the spell as the latest forecast has it; follows the forecast silently.
    revision : int
        Number of messages about this alert, from 1.
    reminded, called : bool
        Whether the one reminder and the one final call have been sent.
    worst_severity : Severity
        The worst told so far; severity steps are counted from it.
    ended : datetime or None
        When it ended, aware UTC.
    outcome : Outcome or None
        How it ended.
    history : tuple of Announcement
        Every message about it, the first included.
    """

    alert_id: str
    group: str
    action: Action
    rule: Rule
    state: AlertState
    opened: Announcement
    announced: Announcement
    end: datetime | None
    revision: int
    worst_severity: Severity
    reminded: bool = False
    called: bool = False
    ended: datetime | None = None
    outcome: Outcome | None = None
    history: tuple[Announcement, ...] = field(default=())

    @property
    def is_open(self) -> bool:
        """Whether the matter is still to be watched."""
        return self.state is not AlertState.ENDED
