"""How the daemon fares, judged from its database alone: in one line, and as a list of what is wrong."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.core import instant_text, parse_instant
from alertd.store import OutboxState

from .cycle import read_cycle

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.alerts import Refusal
    from alertd.store import OutboxItem, OutboxSummary, Store

    from .cycle import CycleNote

#: A look may be late by this, or by the usual pause if that is longer. Assumed: a failed one is repeated after minutes.
LEAST_PATIENCE = timedelta(minutes=10)

#: A letter that waits for longer than this is stuck. Assumed: by then it was tried some seven times.
LETTER_WAITS_LONG = timedelta(minutes=45)

#: Letters that were given up are told for this long. Assumed: somebody looks once a week.
GIVEN_UP_TOLD_FOR = timedelta(days=7)

#: A look that lies ahead of this machine's clock by more than this was made with another clock. Assumed.
CLOCK_TOLERANCE = timedelta(minutes=5)

#: Parts of the daemon that may note a trouble of their own, under `note_trouble`.
TROUBLED_PARTS = ("backup", "heartbeat", "status port")

_MINUTE, _HOUR, _DAY = 60, 3600, 86400


@dataclass(frozen=True, slots=True)
class Health:
    """Whether the watch can be relied on now.

    Parameters
    ----------
    is_healthy : bool
        Whether the last good cycle is recent, and letters move.
    line : str
        One line for people: that it is, or why not.
    """

    is_healthy: bool
    line: str


def age_text(age: timedelta) -> str:
    """Return an age or a pause as people say it: in the largest unit that makes exactly one, or two and more.

    Parameters
    ----------
    age : timedelta
        Not negative.

    Returns
    -------
    str
        Like ``45 s``, ``90 min``, ``1 h`` or ``2 d``.

    Examples
    --------
    >>> [age_text(timedelta(seconds=each)) for each in (45, 3600, 3 * 3600 + 5, 3 * 86400)]
    ['45 s', '1 h', '3 h', '3 d']
    """
    seconds = int(age.total_seconds())
    for unit, name in ((_DAY, "d"), (_HOUR, "h"), (_MINUTE, "min")):
        if seconds >= 2 * unit or seconds == unit:
            return f"{seconds // unit} {name}"
    return f"{seconds} s"


def health(store: Store, every: timedelta, now: datetime) -> Health:
    """Judge whether the watch can be relied on.

    Parameters
    ----------
    store : Store
        Of the site.
    every : timedelta
        Usual pause between two looks, as the configuration has it.
    now : datetime
        Aware UTC.

    Returns
    -------
    Health
        A blind watch is not healthy.

    Raises
    ------
    StoreError
        If the store cannot be read.
    """
    note = read_cycle(store)
    reasons = [*_daemon_problems(note, every, now), *outbox_problems(store, now)]
    if note is not None and not reasons:
        limit = _limit(every)
        if note.last_good is None or now - note.last_good > limit:
            since = "there was no good look yet" if note.last_good is None else _last_good_text(note.last_good, now)
            reasons = [f"{since}: {(_look_problems(note) or ['the looks since had their troubles'])[0]}"]
    if note is None or note.last_good is None or reasons:
        return Health(is_healthy=False, line=f"not healthy: {reasons[0]}")
    return Health(is_healthy=True, line=f"healthy: last good look {age_text(_age(note.last_good, now))} ago")


def wrongs(store: Store, every: timedelta, now: datetime) -> list[str]:
    """Return all that is wrong, one line for each matter.

    Parameters
    ----------
    store : Store
        Of the site.
    every : timedelta
        Usual pause between two looks, as the configuration has it.
    now : datetime
        Aware UTC.

    Returns
    -------
    list of str
        What weighs most first; empty if all is well.

    Raises
    ------
    StoreError
        If the store cannot be read.
    """
    note = read_cycle(store)
    found = _daemon_problems(note, every, now)
    if note is not None:
        found += _look_problems(note)
        found += [refusal_text(refusal) for refusal in note.refused]
    return found + outbox_problems(store, now) + _given_up(store, now) + _troubles(store, now)


def refusal_text(refusal: Refusal) -> str:
    """Return what is wrong with a source."""
    how = "is used with its last good answer" if refusal.is_used else "is not used"
    return f"source {refusal.source} {how}: {refusal.reason}"


def outbox_problems(store: Store, now: datetime, summary: OutboxSummary | None = None) -> list[str]:
    """Return whether letters are stuck.

    Parameters
    ----------
    store : Store
        Of the site.
    now : datetime
        Aware UTC.
    summary : OutboxSummary, optional
        If it has been read already.

    Returns
    -------
    list of str
        One line, or none.

    Raises
    ------
    StoreError
        If the store cannot be read.
    """
    oldest = (summary or store.outbox_summary()).oldest_waiting
    if oldest is None or now - oldest <= LETTER_WAITS_LONG:
        return []
    items = [*store.outbox_items(OutboxState.WAITING), *store.outbox_items(OutboxState.CLAIMED)]
    waiting = sorted((item for item in items if now - item.created > LETTER_WAITS_LONG), key=lambda item: item.created)
    if not waiting:  # it went out while we looked
        return []
    reason = waiting[0].last_error or "it was not tried yet"
    return [
        (
            f"{_letters(len(waiting))} waiting, the oldest for {age_text(now - waiting[0].created)} "
            f"({_way(waiting[0])}: {reason})"
        )
    ]


def note_trouble(store: Store, part: str, text: str, now: datetime) -> None:
    """Note what is wrong with a part of the daemon, for `wrongs`.

    Parameters
    ----------
    store : Store
        Of the site.
    part : str
        One of `TROUBLED_PARTS`.
    text : str
        What, without secrets; empty once it works again.
    now : datetime
        Aware UTC.

    Raises
    ------
    StoreError
        If the store cannot be read or written.
    """
    key = _trouble_key(part)
    before = _trouble(store, part)
    if not text:
        if before is not None:
            store.set_note(key, "")
    elif before is None or before[0] != text:
        since = now if before is None else before[1]
        store.set_note(key, json.dumps({"text": text, "since": instant_text(since)}))


def _trouble_key(part: str) -> str:
    return f"trouble:{part}"


def _trouble(store: Store, part: str) -> tuple[str, datetime] | None:
    """Return what was noted; a spoilt note counts as none."""
    try:
        noted = json.loads(store.get_note(_trouble_key(part)) or "")
        return str(noted["text"]), parse_instant(noted["since"])
    except (ValueError, KeyError, TypeError):
        return None


def _troubles(store: Store, now: datetime) -> list[str]:
    noted = ((part, _trouble(store, part)) for part in TROUBLED_PARTS)
    return [f"{part} (since {age_text(_age(found[1], now))}): {found[0]}" for part, found in noted if found is not None]


def _daemon_problems(note: CycleNote | None, every: timedelta, now: datetime) -> list[str]:
    """Return whether nobody looks, or with the wrong time."""
    if note is None:
        return ["no look at a forecast is recorded yet; start alertd run"]
    if note.stopped is not None:
        ago = age_text(_age(note.stopped, now))
        return [f"alertd was stopped {ago} ago and watches nothing; start alertd run"]
    if note.began - now > CLOCK_TOLERANCE:
        ahead = age_text(note.began - now)
        return [f"the last look lies {ahead} ahead of this machine's clock; set the clock"]
    if now - note.began > _limit(every):
        ago = age_text(now - note.began)
        return [
            (
                f"the last look was {ago} ago, and one is due every {age_text(every)}: alertd does not run, or hangs; "
                "see its log"
            )
        ]
    return []


def _look_problems(note: CycleNote) -> list[str]:
    """Return what was wrong with the last look itself."""
    found = []
    if note.problem:
        times = "the last look" if note.failures == 1 else f"the last {note.failures} looks"
        found.append(f"{times} ended with an error: {note.problem}")
    if note.is_blind:
        found.append("the watch is blind: no source has a usable forecast; read a forecast yourself")
    return found


def _given_up(store: Store, now: datetime) -> list[str]:
    """Return what was given up lately."""
    dead = [
        item
        for item in store.outbox_items(OutboxState.DEAD)
        if item.settled is not None and now - item.settled <= GIVEN_UP_TOLD_FOR
    ]
    if not dead:
        return []
    last = max(dead, key=lambda item: (item.settled or item.created, item.item_id))
    ago = age_text(_age(last.settled or last.created, now))
    return [
        (
            f"{_letters(len(dead))} given up in the last {GIVEN_UP_TOLD_FOR.days} days, the last one {ago} ago "
            f"({_way(last)}: {last.last_error}); mend the channel, then alertd check --send"
        )
    ]


def _limit(every: timedelta) -> timedelta:
    """Return how old the last look may be."""
    return every + max(every, LEAST_PATIENCE)


def _age(instant: datetime, now: datetime) -> timedelta:
    return max(now - instant, timedelta(0))


def _last_good_text(last_good: datetime, now: datetime) -> str:
    return f"the last good look was {age_text(_age(last_good, now))} ago"


def _letters(number: int) -> str:
    return "1 letter" if number == 1 else f"{number} letters"


def _way(item: OutboxItem) -> str:
    return f"to {item.recipient} by {item.channel}"
