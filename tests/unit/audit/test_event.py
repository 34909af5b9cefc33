from datetime import UTC, datetime

import pytest

from alertd.audit import AuditEvent


def test_an_event_cannot_be_changed():
    event = AuditEvent(datetime(2026, 1, 23, tzinfo=UTC), "send", {"reference": "r-1"})
    with pytest.raises(AttributeError):
        event.kind = "letter"
