"""Reference times that lie ahead of the clock, or behind those of an earlier answer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Generic, TypeVar

from alertd.core import SourceMalformed, instant_text

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from alertd.core import Answer

T = TypeVar("T")

#: How far a service's clock may be ahead of this one. Assumed: more, and the age of a forecast is unknown.
LARGEST_LEAD = timedelta(hours=1)

_OLDER = "answers with an older forecast than before"


def refuse_future(reference_time: datetime, now: datetime) -> None:
    """Refuse a forecast that was made in the future by its own word: it would seem fresh for too long.

    Parameters
    ----------
    reference_time : datetime
        Aware: when the forecast was made, by its own word.
    now : datetime
        Aware.

    Raises
    ------
    SourceMalformed
        If it lies more than an hour ahead.
    """
    if reference_time > now + LARGEST_LEAD:
        message = (
            f"the forecast says that it was made at {instant_text(reference_time)}, after {instant_text(now)}, "
            "so its age is unknown; check the clock of this computer"
        )
        raise SourceMalformed(message)


def is_older(made: datetime, before: datetime, retrieved: datetime) -> bool:
    """Return whether a forecast is older than the one that was got before it.

    Services answer with days-old forecasts now and then, mostly from one of several servers that has fallen behind.

    Parameters
    ----------
    made : datetime
        Aware: when the new one was made, by its own word.
    before : datetime
        Aware: when the one before was made, by its own word.
    retrieved : datetime
        Aware: when the one before was got. It was made by then, whatever it claims, so that a wrong claim cannot hold
        off what is made after that; a claim more than an hour later is not believed at all.

    Returns
    -------
    bool
        False if both were made at the same time.
    """
    return before <= retrieved + LARGEST_LEAD and made < min(before, retrieved)


def older_forecast(host: str, made: datetime) -> str:
    """Return the phrase that a host has answered with an older forecast, made at an instant (aware)."""
    return f"{host} {_OLDER}, made {instant_text(made)}"


def tells_of_older(problem: str) -> bool:
    """Return whether the problem of an answer is that a later one had an older forecast."""
    return _OLDER in problem


@dataclass(frozen=True, slots=True)
class Reading(Generic[T]):
    """How a source reads an answer.

    Parameters
    ----------
    parse : callable
        Makes something of a body; raises `SourceMalformed` if it cannot be trusted.
    made : callable or None
        Tells from that when the forecast was made by its own word, if the source knows.
    """

    parse: Callable[[bytes], T]
    made: Callable[[T], datetime] | None

    def older(self, parsed: T, stored: Answer) -> datetime | None:
        """Return when a new forecast was made if it is older than the stored one, see `is_older`, and else ``None``.

        Parameters
        ----------
        parsed
            What `parse` made of the new answer.
        stored : Answer
            The one before; if it can be trusted no more, no forecast is older.
        """
        if self.made is None:
            return None
        try:
            before = self.made(self.parse(stored.body))
        except SourceMalformed:
            return None
        made = self.made(parsed)
        return made if is_older(made, before, stored.retrieved) else None
