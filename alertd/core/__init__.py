"""What everything else stands on: units, instants, CAP tokens, errors."""

from .answer import Answer
from .cap import Certainty, MessageType, ResponseType, Severity, Urgency
from .errors import (
    AlertdError,
    AuditError,
    ConfigurationError,
    Problem,
    ReportError,
    SourceError,
    SourceMalformed,
    SourceUnavailable,
    StoreError,
    StoreFull,
    StoreTooNew,
)
from .instants import as_utc, from_datetime64, instant_text, parse_instant, to_datetime64
from .temperature import (
    TemperatureUnit,
    celsius,
    celsius_difference,
    difference_in_unit,
    in_unit,
    temperature_text,
    threshold_text,
)

__all__ = [
    "AlertdError",
    "Answer",
    "AuditError",
    "Certainty",
    "ConfigurationError",
    "MessageType",
    "Problem",
    "ReportError",
    "ResponseType",
    "Severity",
    "SourceError",
    "SourceMalformed",
    "SourceUnavailable",
    "StoreError",
    "StoreFull",
    "StoreTooNew",
    "TemperatureUnit",
    "Urgency",
    "as_utc",
    "celsius",
    "celsius_difference",
    "difference_in_unit",
    "from_datetime64",
    "in_unit",
    "instant_text",
    "parse_instant",
    "temperature_text",
    "threshold_text",
    "to_datetime64",
]
