"""One evaluation as one pure call."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from alertd.site import Condition

    from .alert import Alert


@dataclass(frozen=True, slots=True)
class State:
    """What is remembered between evaluations.

    Parameters
    ----------
    conditions : mapping of str to Condition
        By group id; a group without an entry is bare and dormant.
    alerts : tuple of Alert
        All open alerts, and those of this season that have ended.
    """

    conditions: Mapping[str, Condition]
    alerts: tuple[Alert, ...]
