"""The audit log: facts, chained by hash."""

from .event import AuditEvent

__all__ = ["AuditEvent"]
