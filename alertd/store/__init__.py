"""What is remembered: alerts, conditions, outbox and audit log in one SQLite database."""

from .records import Addressed, Commit, OutboxItem, OutboxState, OutboxSummary, StateChanged
from .retention import Retention
from .site_lock import SiteLock
from .store import Store

__all__ = [
    "Addressed",
    "Commit",
    "OutboxItem",
    "OutboxState",
    "OutboxSummary",
    "Retention",
    "SiteLock",
    "StateChanged",
    "Store",
]
