"""What is remembered: alerts, conditions, outbox and audit log in one SQLite database."""

from .copies import Copied, back_up
from .records import Addressed, Commit, OutboxItem, OutboxState, OutboxSummary, StateChanged
from .restoring import Restored, restore
from .retention import Retention
from .site_lock import SiteLock
from .store import Store

__all__ = [
    "Addressed",
    "Commit",
    "Copied",
    "OutboxItem",
    "OutboxState",
    "OutboxSummary",
    "Restored",
    "Retention",
    "SiteLock",
    "StateChanged",
    "Store",
    "back_up",
    "restore",
]
