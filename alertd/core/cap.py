"""Tokens of the Common Alerting Protocol, spelled as the standard spells them.

References
----------
OASIS, Common Alerting Protocol Version 1.2, 1 July 2010, schema ``CAP-v1.2.xsd`` (seen). Only the
tokens that alertd uses are listed.
"""

from __future__ import annotations

from enum import StrEnum


class MessageType(StrEnum):
    """CAP ``msgType``."""

    ALERT = "Alert"
    UPDATE = "Update"
    CANCEL = "Cancel"


class ResponseType(StrEnum):
    """CAP ``responseType``."""

    PREPARE = "Prepare"
    EXECUTE = "Execute"
    MONITOR = "Monitor"
    ASSESS = "Assess"
    ALL_CLEAR = "AllClear"
    NONE = "None"


class Urgency(StrEnum):
    """CAP ``urgency``."""

    IMMEDIATE = "Immediate"
    EXPECTED = "Expected"
    FUTURE = "Future"
    PAST = "Past"
    UNKNOWN = "Unknown"


class Severity(StrEnum):
    """CAP ``severity``."""

    EXTREME = "Extreme"
    SEVERE = "Severe"
    MODERATE = "Moderate"
    MINOR = "Minor"
    UNKNOWN = "Unknown"

    @property
    def rank(self) -> int:
        """Order for comparison: 0 (Unknown) to 4 (Extreme)."""
        return _SEVERITY_ORDER.index(self)


_SEVERITY_ORDER = (Severity.UNKNOWN, Severity.MINOR, Severity.MODERATE, Severity.SEVERE, Severity.EXTREME)


class Certainty(StrEnum):
    """CAP ``certainty``."""

    OBSERVED = "Observed"
    LIKELY = "Likely"
    POSSIBLE = "Possible"
    UNLIKELY = "Unlikely"
    UNKNOWN = "Unknown"
