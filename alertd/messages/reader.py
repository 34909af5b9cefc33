"""Who reads letters, and when."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from alertd.alerts import SITE

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import time

    from alertd.site import QuietHours


@dataclass(frozen=True, slots=True)
class Reader:
    """Who reads a letter.

    Parameters
    ----------
    name : str
        Name of the recipient.
    groups : frozenset of str
        Ids of the groups cared for; empty for all.
    quiet_hours : QuietHours or None
        In which letters wait that can.
    digest : datetime.time or None
        Local time of day of the daily digest.
    digest_when_calm : bool
        Whether the digest comes on days without any open matter, too.
    escalates_to : str
        Name of the recipient who is told when this one does not answer; ``""`` for nobody.
    """

    name: str
    groups: frozenset[str] = frozenset()
    quiet_hours: QuietHours | None = None
    digest: time | None = None
    digest_when_calm: bool = True
    escalates_to: str = ""

    def cares_for(self, group: str) -> bool:
        """Return whether matters of a group are for this reader; those of the whole site are for everybody."""
        return not self.groups or group in self.groups or group == SITE


def stand_ins(readers: Sequence[Reader], group: str) -> dict[str, str]:
    """Return who is asked when those who care for a group do not answer.

    Parameters
    ----------
    readers : sequence of Reader
        Everybody.
    group : str
        Id of the group.

    Returns
    -------
    dict of str to str
        By name of the person who is asked: the name of the one who did not answer. Those who care for the group
        themselves read of it anyway, so the question goes past them to the next.
    """
    by_name = {reader.name: reader for reader in readers}
    asked: dict[str, str] = {}
    for reader in readers:
        if not reader.cares_for(group):
            continue
        passed, following = {reader.name}, by_name.get(reader.escalates_to)
        while following is not None and following.cares_for(group) and following.name not in passed:
            passed.add(following.name)
            following = by_name.get(following.escalates_to)
        if following is not None and following.name not in passed:
            asked.setdefault(following.name, reader.name)
    return asked
