"""Test messages by the calendar: proof, from end to end, that messages still arrive.

One letter to each person by each of their channels, without a next channel to fall back on, through the same outbox as
any other. Which day had its letters is noted in the transaction that puts them there: a day has them once, whatever
becomes of clocks and processes. A day that passed while nothing ran is made up for, once.
"""

from __future__ import annotations

import json
import logging
from dataclasses import replace
from datetime import date, datetime, timedelta
from html import escape
from typing import TYPE_CHECKING

from alertd.messages import clock_text, condition_text, day_text, letter_for_test, when_text
from alertd.site import Condition
from alertd.store import Addressed, Commit
from alertd.watch import letter_event, read_cycle, wrongs

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import time

    from alertd.config import Loaded
    from alertd.messages import Letter, Reader
    from alertd.store import Store
    from alertd.watch import Readership

_logger = logging.getLogger(__name__)

#: Under this the store remembers the last day that had its letters.
_NOTE = "rehearsal"

_DAY = timedelta(days=1)


def due_day(local: datetime, clock: time, rhythm: str) -> date:
    """Return the latest day that must have had its letters.

    Parameters
    ----------
    local : datetime
        Local time.
    clock : datetime.time
        Time of day from which on letters are written.
    rhythm : str
        ``weekly``: Mondays; ``monthly``: first days of months.

    Returns
    -------
    date
        Today at the latest.

    Examples
    --------
    >>> from datetime import time
    >>> [str(due_day(datetime(2026, 12, 1, hour), time(7), "monthly")) for hour in (6, 7)]
    ['2026-11-01', '2026-12-01']
    """
    day = local.date() if local.time() >= clock else local.date() - _DAY
    return day.replace(day=1) if rhythm == "monthly" else day - day.weekday() * _DAY


def following_day(day: date, rhythm: str) -> date:
    """Return the day of the letters after those of a day.

    Parameters
    ----------
    day : date
        As from `due_day`.
    rhythm : str
        ``weekly`` or ``monthly``.

    Returns
    -------
    date
        A week or a month later.
    """
    return (day + 31 * _DAY).replace(day=1) if rhythm == "monthly" else day + 7 * _DAY


def has_none_yet(due: date, last: date, today: date) -> bool:
    """Return whether a day that is due has not had its letters.

    Parameters
    ----------
    due : date
        As from `due_day`.
    last : date
        The last day that had them.
    today : date
        Local.

    Returns
    -------
    bool
        A day of the far future was noted with a wrong clock, and silences nothing.
    """
    return last < due or last > today + _DAY


class Rehearsal:
    """Writes Test messages when they are due.

    Parameters
    ----------
    loaded : Loaded
        The configuration; `status.test_message` is the rhythm, `work.earliest` the time of day.
    store : Store
        Takes the letters, and remembers the day over a restart.
    readership : Readership
        Who is written to.
    clock : callable
        Returns the present as aware UTC.
    """

    def __init__(self, loaded: Loaded, store: Store, readership: Readership, clock: Callable[[], datetime]) -> None:
        self._garden = loaded.garden
        self._every = loaded.polling.every
        self._rhythm = loaded.status.test_message
        self._store = store
        self._readership = readership
        self._clock = clock

    def look(self) -> None:
        """Write the letters if a day is due that had none.

        Raises
        ------
        StoreError
            If the database cannot be used; then the letters come later.
        """
        now = self._clock()
        local = self._garden.site.local(now)
        due = due_day(local, self._garden.work.earliest, self._rhythm)
        last = _noted(self._store.get_note(_NOTE))
        if last is None:  # the first day comes with the calendar; alertd check --send is there for those in a hurry
            self._store.set_note(_NOTE, _note(due))
            _logger.info("Test messages: the first one comes on %s", following_day(due, self._rhythm))
        elif has_none_yet(due, last, local.date()):
            self._write(now, due)

    def _write(self, now: datetime, due: date) -> None:
        record = str(self._store.head())
        letters = tuple(
            Addressed(self._letter(reader, number, channel, now, due, record), (channel,), record)
            for reader in self._readership.readers
            for number, channel in enumerate(self._readership.channels[reader.name], start=1)
        )
        events = tuple(letter_event(each.letter, each.channels) for each in letters)
        self._store.commit(Commit(now, letters=letters, events=events, notes={_NOTE: _note(due)}))
        _logger.info("Test messages: %d written for %s", len(letters), due)

    def _letter(self, reader: Reader, number: int, channel: str, now: datetime, due: date, record: str) -> Letter:
        plain = letter_for_test(self._garden, reader, now, record)
        reference = f"{plain.reference}-{number}"
        site = self._garden.site
        following = following_day(due, self._rhythm)
        noon = datetime(following.year, following.month, following.day, 12, tzinfo=site.time_zone)
        paragraphs = (
            f"{site.name}, {day_text(now, site)} {clock_text(now, site)}",
            f"This is the {self._rhythm} Test message of alertd by the channel {channel}. Nothing is to be done.",
            *self._situation(reader, now),
            (
                f"The next one comes on {day_text(noon, site)}. If it does not come on that day, then alertd, its "
                "machine or this channel has stopped: read a forecast yourself, and run alertd status and "
                "alertd check --send on that machine."
            ),
            f"Keep this message: alertd audit verify --head {record} finds any change to the record up to here.",
            f"Record {record}",
            f"Reference {reference}",
        )
        body = "".join(f"<p>{escape(line)}</p>" for line in paragraphs)
        html = f"<!DOCTYPE html><html><head><title>{escape(plain.short)}</title></head><body>{body}</body></html>"
        return replace(plain, reference=reference, text="\n\n".join(paragraphs) + "\n", html=html)

    def _situation(self, reader: Reader, now: datetime) -> list[str]:
        """Return what is watched, by what, and what is wrong."""
        site, note = self._garden.site, read_cycle(self._store)
        state = self._store.load_state(site.season_start(now))
        standing = {
            group.group_id: condition_text(
                group, state.conditions.get(group.group_id, Condition()).in_season(site, now)
            )
            for group in self._garden.groups
        }
        groups = [
            f"{group.name} ({standing[group.group_id]})"
            for group in self._garden.groups
            if not reader.groups or group.group_id in reader.groups
        ]
        lines = [f"Watched: {'; '.join(groups)}."]
        if note is not None:
            made = [f"{each.name}, made {when_text(each.made, now, site)}" for each in note.used]
            lines.append(f"Forecasts: {'; '.join(made) or 'none'}. Last look {when_text(note.began, now, site)}.")
        found = wrongs(self._store, self._every, now)
        return [*lines, f"Wrong: {'; '.join(found)}." if found else "Nothing is wrong."]


def _note(day: date) -> str:
    return json.dumps({"day": day.isoformat()})


def _noted(text: str | None) -> date | None:
    """Return what was noted; a spoilt note counts as none."""
    try:
        return date.fromisoformat(json.loads(text or "")["day"])
    except (ValueError, KeyError, TypeError):
        return None
