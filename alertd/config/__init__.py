"""The configuration: one TOML file, the environment and credential files on top, all problems at once."""

from .document import json_schema
from .history import History, build_history
from .loaded import DeliverySettings, Loaded, ObservationSpec, Polling, Recipient, SourceSpec, StatusSpec
from .loading import load
from .quantities import length_of_time, month_day, time_zone
from .sources import Services, build_services, default_source_kinds
from .starter import StarterAnswers, starter_text

__all__ = [
    "DeliverySettings",
    "History",
    "Loaded",
    "ObservationSpec",
    "Polling",
    "Recipient",
    "Services",
    "SourceSpec",
    "StarterAnswers",
    "StatusSpec",
    "build_history",
    "build_services",
    "default_source_kinds",
    "json_schema",
    "length_of_time",
    "load",
    "month_day",
    "starter_text",
    "time_zone",
]
