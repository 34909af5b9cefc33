"""Whether a log is whole."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from .chain import GENESIS, HASH, Head, link
from .checkpoint import Checkpoint

if TYPE_CHECKING:
    from collections.abc import Iterable

    from .chain import AuditRow

#: Row faults that are listed one by one; a log that is wrong all over needs no longer list. Assumed.
LISTED_FAULTS = 20


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong with the log.

    Parameters
    ----------
    sequence : int
        The first row that is affected; 0 where no single row is.
    text : str
        What is wrong, for a person.
    """

    sequence: int
    text: str


def verify(rows: Iterable[AuditRow], recorded_head: Head | None, published: Iterable[Head]) -> list[Fault]:
    """Return everything that is wrong with a log.

    Rows are read once, one after another. At most 20 faults of rows are listed. A log may begin after its first row if
    a checkpoint within it says so, see `alertd.audit.checkpoint`.

    Parameters
    ----------
    rows : iterable of AuditRow
        The whole log from the first row that is stored, as it is stored.
    recorded_head : Head or None
        The end of the log as recorded beside it; ``None`` where none is known.
    published : iterable of Head
        Ends of the log at earlier times, kept elsewhere. One of a row that was removed by a policy cannot be checked
        any more, which is a fault, too.

    Returns
    -------
    list of Fault
        Ordered by row; empty if the log is whole.
    """
    heads = _Heads(published)
    walk = _Walk()
    heads.look(0, GENESIS)
    for row in rows:
        walk.step(row)
        heads.look(row.sequence, row.hash)
    beginning = walk.beginning()
    if beginning.checkpoint is not None:
        heads.pass_removed(beginning.checkpoint)
    faults = [*beginning.faults, *walk.finish(), *heads.faults(walk.last)]
    if recorded_head is not None:
        faults += _recorded_head_faults(recorded_head, walk)
    return sorted(faults, key=lambda fault: fault.sequence)


@dataclass(frozen=True, slots=True)
class _Beginning:
    """What is wrong with the beginning of a log; the checkpoint that stands for removed rows, if it is sound."""

    faults: tuple[Fault, ...] = ()
    checkpoint: Checkpoint | None = None


class _Walk:
    """A walk along the rows.

    ``anchors`` are the hashes that the next row may build upon; none means that the row before is not known. Whether
    rows may be missing before the first one is known at the end only: the checkpoint that tells so comes later.
    """

    def __init__(self) -> None:
        self.last = 0
        self.last_hash = GENESIS
        self._anchors: tuple[str, ...] = (GENESIS,)
        self._faults: list[Fault] = []
        self._count = 0
        self._first: AuditRow | None = None
        self._checkpoint: tuple[int, Checkpoint] | None = None

    def step(self, row: AuditRow) -> None:
        if row.sequence <= self.last:
            self._note(row.sequence, f"row {row.sequence} stands after row {self.last}: out of order or twice")
            return
        if row.sequence > self.last + 1:
            if self._first is not None:
                self._note(self.last + 1, _missing_text(self.last + 1, row.sequence - 1))
            self._anchors = ()
        self._first = self._first or row
        computed = [link(anchor, *row[:4]) for anchor in self._anchors]
        if computed and row.hash not in computed:
            self._note(row.sequence, f"row {row.sequence} does not fit its hash: it was changed, or rows before it")
            self._anchors = tuple(anchor for anchor in (row.hash, *computed) if HASH.fullmatch(anchor))
        else:
            self._anchors = (row.hash,) if HASH.fullmatch(row.hash) else ()
            self._hear(row)
        self.last = row.sequence
        self.last_hash = row.hash

    def _hear(self, row: AuditRow) -> None:
        """Take note of a sound checkpoint; the one that reaches furthest counts."""
        told = Checkpoint.read(row)
        if told is None:
            return
        if self._checkpoint is None or told.removed.sequence > self._checkpoint[1].removed.sequence:
            self._checkpoint = (row.sequence, told)

    def beginning(self) -> _Beginning:
        """Return whether the log begins where it may."""
        first = 1 if self._first is None else self._first.sequence
        if self._checkpoint is None:
            return _Beginning() if first == 1 else _Beginning((Fault(1, _missing_text(1, first - 1)),))
        teller, told = self._checkpoint
        removed = told.removed
        if first > removed.sequence + 1:
            return _Beginning((Fault(removed.sequence + 1, _missing_text(removed.sequence + 1, first - 1)),))
        if first <= removed.sequence:
            text = f"row {first} is there, but row {teller} tells that all to row {removed.sequence} were removed"
            return _Beginning((Fault(first, text),))
        if self._first is not None and link(removed.hash, *self._first[:4]) != self._first.hash:
            text = f"row {first} does not fit what row {teller} tells of the rows before it: one of them was changed"
            return _Beginning((Fault(first, text),))
        return _Beginning(checkpoint=told)

    def _note(self, sequence: int, text: str) -> None:
        self._count += 1
        if self._count <= LISTED_FAULTS:
            self._faults.append(Fault(sequence, text))

    def finish(self) -> list[Fault]:
        unlisted = self._count - LISTED_FAULTS
        if unlisted > 0:
            text = f"{unlisted} more rows do not fit; they are not listed"
            return [*self._faults, Fault(self._faults[-1].sequence, text)]
        return self._faults


def _missing_text(first: int, last: int) -> str:
    return f"row {first} is missing" if first == last else f"rows {first} to {last} are missing"


class _Heads:
    """Heads that rows are compared with as they pass."""

    def __init__(self, heads: Iterable[Head]) -> None:
        self._unseen: dict[int, set[str]] = {}
        for head in heads:
            self._unseen.setdefault(head.sequence, set()).add(head.hash)
        self._faults: list[Fault] = []

    def look(self, sequence: int, row_hash: str) -> None:
        if not self._unseen:
            return
        for wanted in sorted(self._unseen.pop(sequence, ())):
            if not row_hash.startswith(wanted):
                text = f"row {sequence}, or rows before it, were written anew: {Head(sequence, wanted)} was published"
                self._faults.append(Fault(sequence, text))

    def pass_removed(self, checkpoint: Checkpoint) -> None:
        """Take note of what was removed: its last row is known, those before it are not."""
        removed = checkpoint.removed
        self.look(removed.sequence, removed.hash)
        for sequence in [each for each in self._unseen if each < removed.sequence]:
            for wanted in sorted(self._unseen.pop(sequence)):
                text = f"row {sequence} was removed by the policy with all before {checkpoint.before}"
                head = Head(sequence, wanted)
                self._faults.append(Fault(sequence, f"{text}, so {head} cannot be checked any more; take a later one"))

    def faults(self, last: int) -> list[Fault]:
        lost = [Head(sequence, wanted) for sequence, hashes in self._unseen.items() for wanted in hashes]
        return self._faults + [_lost_head_fault(head, last, "published") for head in lost]


def _lost_head_fault(head: Head, last: int, how: str) -> Fault:
    if head.sequence > last:
        return Fault(last + 1, f"the log ends at row {last}, but {head} was {how}: its end was cut off")
    return Fault(head.sequence, f"row {head.sequence} is missing, but {head} was {how}")


def _recorded_head_faults(head: Head, walk: _Walk) -> list[Fault]:
    if head.sequence > walk.last:
        return [_lost_head_fault(head, walk.last, "recorded as its end")]
    if head.sequence < walk.last:
        text = f"the log goes on to row {walk.last}, but {head} was recorded as its end: rows were added"
        return [Fault(head.sequence + 1, text)]
    if not walk.last_hash.startswith(head.hash):
        text = f"the last row, {walk.last}, or rows before it, were written anew: {head} was recorded as the end"
        return [Fault(walk.last, text)]
    return []
