"""One fact for the audit log."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime


@dataclass(frozen=True, slots=True)
class AuditEvent:
    """One fact for the audit log, before it is chained.

    Parameters
    ----------
    happened : datetime
        Aware UTC.
    kind : str
        A short word: evaluation, transition, letter, send, report, configuration, problem.
    body : mapping
        JSON values only, no secrets, no non-finite numbers.
    """

    happened: datetime
    kind: str
    body: Mapping[str, object]
