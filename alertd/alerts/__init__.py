"""Alerts: what opens, changes and ends them."""

from .alert import Alert, AlertState, Announcement, Outcome
from .decision import State
from .garden import Garden

__all__ = ["Alert", "AlertState", "Announcement", "Garden", "Outcome", "State"]
