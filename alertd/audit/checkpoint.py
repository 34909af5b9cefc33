"""Checkpoints: what stands in the chain for rows that a policy has removed from its beginning.

Rows are only ever removed from the beginning, and in the same transaction a row of kind ``checkpoint`` is appended that
carries the number and the hash of the last one removed. So the row after it still has something to build upon, a
beginning that is gone without such a row is a fault, and so is one that goes further than the row says. Who can append
rows can append a checkpoint, too; heads kept elsewhere of rows that were removed can no longer be checked, and
`alertd.audit.verify` says so.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Self

from .chain import HASH, Head

if TYPE_CHECKING:
    from .chain import AuditRow

#: Kind of the rows.
CHECKPOINT = "checkpoint"


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """What one checkpoint tells.

    Parameters
    ----------
    removed : Head
        The last row that was removed, with all 64 digits of its hash.
    count : int
        How many rows were removed with it.
    before : str
        All that was removed had happened before this; RFC 3339.
    """

    removed: Head
    count: int
    before: str

    @property
    def body(self) -> dict[str, object]:
        """Body of its row."""
        return {
            "last_removed": self.removed.sequence,
            "hash": self.removed.hash,
            "count": self.count,
            "before": self.before,
        }

    @classmethod
    def read(cls, row: AuditRow) -> Self | None:
        """Return what a row tells.

        Parameters
        ----------
        row : AuditRow
            Of any kind.

        Returns
        -------
        Checkpoint or None
            ``None`` if the row is no checkpoint, or tells what none can tell.
        """
        if row.kind != CHECKPOINT:
            return None
        try:
            body = json.loads(row.body)
            last, digits, count, before = body["last_removed"], body["hash"], body["count"], body["before"]
        except (ValueError, KeyError, TypeError):
            return None
        if type(last) is not int or not 0 < last < row.sequence or type(count) is not int:
            return None
        if not isinstance(digits, str) or HASH.fullmatch(digits) is None:
            return None
        return cls(Head(last, digits), count, str(before))
