"""The audit log: facts, chained by hash."""

from .chain import GENESIS, AuditRow, Fault, Head, canonical_json, link, verify
from .event import AuditEvent

__all__ = ["GENESIS", "AuditEvent", "AuditRow", "Fault", "Head", "canonical_json", "link", "verify"]
