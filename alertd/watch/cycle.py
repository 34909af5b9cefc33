"""What a cycle leaves in the database, so that whoever reads only the database knows how the daemon fares."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta  # noqa: TC003 - pydantic reads the annotations
from typing import TYPE_CHECKING

from pydantic import TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass

from alertd.alerts import Refusal  # noqa: TC001 - pydantic reads the annotations

if TYPE_CHECKING:
    from alertd.alerts import Decision
    from alertd.store import Store

#: Under this the store remembers the last cycle.
_NOTE = "cycle"


@dataclass(frozen=True)
class SourceSeen:
    """A forecast that a cycle went by.

    Parameters
    ----------
    name : str
        Of the source.
    made : datetime
        Its reference time, aware UTC.
    retrieved : datetime
        When it was read, aware UTC.
    credits : str
        Whom to thank.
    """

    name: str
    made: datetime
    retrieved: datetime
    credits: str = ""


@dataclass(frozen=True)
class CycleNote:
    """The last cycle of the daemon: when, how long, what it saw, and when it comes again.

    Parameters
    ----------
    version : str
        Of alertd.
    began : datetime
        Aware UTC.
    duration : timedelta
        Of the evaluation.
    every : timedelta
        Usual pause between two evaluations.
    next_look : datetime
        When the next one is due, aware UTC.
    used : tuple of SourceSeen
        Forecasts of the last evaluation that worked.
    refused : tuple of Refusal
        What was wrong with sources then.
    is_blind : bool
        Whether no forecast could be used then.
    open_alerts : int
        After it.
    letters : int
        Written since the cycle before.
    failures : int
        Evaluations that have failed in a row, this one included.
    problem : str
        Why this one failed, without secrets; empty if it worked.
    last_good : datetime or None
        When the last good cycle began: it worked, saw something, and letters were moving. Aware UTC.
    stopped : datetime or None
        When the daemon was stopped in order, aware UTC.
    """

    version: str
    began: datetime
    duration: timedelta
    every: timedelta
    next_look: datetime
    used: tuple[SourceSeen, ...] = ()
    refused: tuple[Refusal, ...] = ()
    is_blind: bool = False
    open_alerts: int = 0
    letters: int = 0
    failures: int = 0
    problem: str = ""
    last_good: datetime | None = None
    stopped: datetime | None = None

    def with_decision(self, decision: Decision) -> CycleNote:
        """Return the note with what an evaluation saw.

        Parameters
        ----------
        decision : Decision
            The evaluation.

        Returns
        -------
        CycleNote
            Otherwise the same.
        """
        used = tuple(
            SourceSeen(each.source, each.forecast_reference_time, each.retrieved, each.credits)
            for each in decision.outlook.used
        )
        return replace(self, used=used, refused=decision.outlook.refused, is_blind=decision.outlook.series is None)


_adapter = TypeAdapter(CycleNote)


def read_cycle(store: Store) -> CycleNote | None:
    """Return the note of the last cycle.

    Parameters
    ----------
    store : Store
        Of the site.

    Returns
    -------
    CycleNote or None
        ``None`` if there is none; a spoilt one counts as none.

    Raises
    ------
    StoreError
        If the store cannot be read.
    """
    try:
        return _adapter.validate_json(store.get_note(_NOTE) or "", strict=False)
    except ValidationError:
        return None


def keep_cycle(store: Store, note: CycleNote) -> None:
    """Write the note of a cycle.

    Parameters
    ----------
    store : Store
        Of the site.
    note : CycleNote
        Takes the place of the last one.

    Raises
    ------
    StoreError
        If the store cannot be written.
    """
    store.set_note(_NOTE, _adapter.dump_json(note).decode())
