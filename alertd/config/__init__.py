"""The configuration: one TOML file, the environment and credential files on top, all problems at once."""

from .document import json_schema
from .loaded import DeliverySettings, Loaded, Polling, Recipient
from .loading import load
from .starter import StarterAnswers, starter_text

__all__ = [
    "DeliverySettings",
    "Loaded",
    "Polling",
    "Recipient",
    "StarterAnswers",
    "json_schema",
    "load",
    "starter_text",
]
