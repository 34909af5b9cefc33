"""The audit log: facts, chained by hash."""

from .chain import GENESIS, AuditRow, Head, canonical_json, link
from .checkpoint import CHECKPOINT, Checkpoint
from .event import AuditEvent
from .verifying import Fault, verify

__all__ = [
    "CHECKPOINT",
    "GENESIS",
    "AuditEvent",
    "AuditRow",
    "Checkpoint",
    "Fault",
    "Head",
    "canonical_json",
    "link",
    "verify",
]
