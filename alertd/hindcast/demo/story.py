"""The story between the letters, one line at a time."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from alertd.core import as_utc
from alertd.messages import clock_text, day_text
from alertd.plan import Action

from .people import Habit
from .script import TIME_ZONE

if TYPE_CHECKING:
    from alertd.site import Site

    from .people import Answer

#: Local hour from which a part of the day is called by its name.
_PARTS_OF_DAY = ((0, "night"), (5, "morning"), (12, "afternoon"), (17, "evening"), (22, "night"))

#: What people have done when they say so.
_DEEDS = {
    Action.MOVE_IN: "has carried {name} into store",
    Action.WRAP: "has wrapped {name}",
    Action.BEND_DOWN: "has bent down and buried {name}",
    Action.SHIELD: "has covered {name} for the night",
    Action.REINFORCE: "has added to the cover of {name}",
    Action.COVER_IN_STORE: "has covered {name} in store",
    Action.OPEN_COVER: "has opened the covers of {name}",
    Action.LIFT_COVER: "has lifted the covers of {name}",
    Action.COVER_AGAIN: "has covered {name} again",
    Action.BRING_OUT: "has brought {name} out of store",
}

_MARKS = {"budbreak": "The first buds of {name} have opened; the keeper marks it."}


def _at(year: int, month: int, day: int, hour: int) -> datetime:
    """Return a local hour of the demo, aware UTC."""
    return as_utc(datetime(year, month, day, hour, tzinfo=TIME_ZONE))


#: When the story says something by itself (aware UTC), and what.
CHAPTERS = (
    (_at(2025, 10, 1, 8), "Everything that grows in pots stands outside, nothing is covered. The watch begins."),
    (_at(2025, 10, 28, 18), "October has been mild. Now the wind turns north."),
    (
        _at(2025, 11, 2, 8),
        "The second night of frost was harder than the first. Every pot that it could hurt is indoors.",
    ),
    (_at(2025, 11, 24, 22), "The crew reads it in time: nobody has fetched a tarp yet, and nobody has to."),
    (_at(2025, 11, 26, 8), "A mild night. The hard freeze of last week's forecasts has not come."),
    (_at(2025, 12, 20, 8), "Cold enough for the wood of a bare fig; these are wrapped and buried."),
    (_at(2026, 1, 6, 9), "The forecast service stops answering."),
    (_at(2026, 1, 7, 16), "The forecast service answers again."),
    (_at(2026, 1, 23, 8), "The coldest morning of the winter."),
    (_at(2026, 2, 18, 14), "Warm as in April. Visitors ask when the wraps come off; the last-freeze date is far away."),
    (_at(2026, 2, 22, 8), "Winter is back. Under the wraps no bud has moved."),
    (_at(2026, 5, 14, 6), "Frost at dawn, in the middle of May. The pots are in, the covers are closed."),
)


def narrated(text: str, at: datetime, site: Site) -> str:
    """Return a line of the story.

    Parameters
    ----------
    text : str
        What happened.
    at : datetime
        Aware.
    site : Site
        Gives local time.

    Returns
    -------
    str
        Like ``— Sat 1 Nov, evening. …``.
    """
    hour = site.local(at).hour
    part = next(name for start, name in reversed(_PARTS_OF_DAY) if hour >= start)
    return f"— {day_text(at, site)}, {part}. {text}"


def answer_line(answer: Answer, name: str, site: Site) -> str:
    """Return what somebody has answered.

    Parameters
    ----------
    answer : Answer
        The report.
    name : str
        Of the group.
    site : Site
        Gives local time.

    Returns
    -------
    str
        A line of the story.
    """
    if answer.habit is Habit.DECLINES:
        text = f"The keeper says of {name}: not this time."
    else:
        text = f"By {clock_text(answer.at, site)} the crew {_DEEDS[answer.action].format(name=name)}, and says so."
    return narrated(text, answer.at, site)


def mark_line(word: str, name: str, at: datetime, site: Site) -> str:
    """Return what somebody has marked of their own accord.

    Parameters
    ----------
    word : str
        As it is marked.
    name : str
        Of the group.
    at : datetime
        Aware.
    site : Site
        Gives local time.

    Returns
    -------
    str
        A line of the story.
    """
    return narrated(_MARKS[word].format(name=name), at, site)
