"""Reference times that lie ahead of the clock."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.core import SourceMalformed, instant_text

if TYPE_CHECKING:
    from datetime import datetime

#: How far a service's clock may be ahead of this one. Assumed: more, and the age of a forecast is unknown.
LARGEST_LEAD = timedelta(hours=1)


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
