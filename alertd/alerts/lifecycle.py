"""The life of an alert, as one table.

Theory
======
An alert is one matter: a group, an action and, for cold, one spell, however many forecasts speak of it.

::

                 foreseen                     due
    (absent) ──────────────► prepare ──────────────► execute ◄──┐ worsened, reminder, final call
        │                     │  ▲  ▲                │  │  │ │   │
        │        due          │  │  └── postponed ───┘  │  │ └───┘
        └─────────────────────┼──┼──► execute           │  │
                              │  └ worsened             │  │
                  done        ▼           done          │  │ declined
                  ┌────────► done ◄─────────────────────┘  └──────► declined
                  │           │ eased or passed: all clear             │ eased or passed
                  ▼           ▼                                        ▼
               prepare      ended ◄─────────── eased: cancelled, passed: expired

* A later working slot would still do: *prepare*. The slots left are needed: *execute*. The step from one
  to the other is made at the last responsible moment, once; it goes back (*postponed*) only when the
  forecast moves the work by half a day or more, so that nobody makes a needless trip.
* A change is told when it changes what somebody does, measured against what was last told. What was told
  only ratchets, so a forecast that swings back and forth falls silent by itself.
* One reminder before the latest start, one final call at it; then no nagging.
* Whoever reports the task done ends reminders at once; the alert stays, silent, until the spell is over
  and the all clear is given. *Not this time* does the same, but a spell that becomes more severe speaks up.
* Every alert ends, in exactly one of four ways, and each end has its own short message: *done* (all
  clear), *declined*, *cancelled* (the forecast eased before the cold came), *expired* (the cold came and
  went and nobody reported).
* A pair of state and event that is not in the table cannot happen; meeting one is a bug, not a message.
"""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple

from .alert import AlertState, Outcome


class Event(StrEnum):
    """What happens to an alert."""

    FORESEEN = "foreseen"
    DUE = "due"
    WORSENED = "worsened"
    POSTPONED = "postponed"
    REMINDER = "reminder"
    FINAL_CALL = "final_call"
    EASED = "eased"
    PASSED = "passed"
    REPORTED_DONE = "reported_done"
    DECLINED = "declined"
    UNDONE = "undone"


class NoticeKind(StrEnum):
    """What people are told about an alert.

    All but ``ANSWERED`` are in the table; that one releases somebody who was asked in another's place.
    """

    OPENED = "opened"
    ACT = "act"
    CHANGED = "changed"
    POSTPONED = "postponed"
    REMINDER = "reminder"
    FINAL_CALL = "final_call"
    CANCELLED = "cancelled"
    EXPIRED = "expired"
    ALL_CLEAR = "all_clear"
    CLOSED = "closed"
    ANSWERED = "answered"


class Step(NamedTuple):
    """What an event does to an alert: where it goes, what is told, how it ended."""

    state: AlertState
    notice: NoticeKind | None = None
    outcome: Outcome | None = None


_PREPARE, _EXECUTE, _DONE, _DECLINED, _ENDED = (
    AlertState.PREPARE,
    AlertState.EXECUTE,
    AlertState.DONE,
    AlertState.DECLINED,
    AlertState.ENDED,
)

#: (state, event) → step. ``None`` is the state of a matter that has no alert yet.
TABLE: dict[tuple[AlertState | None, Event], Step] = {
    (None, Event.FORESEEN): Step(_PREPARE, NoticeKind.OPENED),
    (None, Event.DUE): Step(_EXECUTE, NoticeKind.OPENED),
    (_PREPARE, Event.DUE): Step(_EXECUTE, NoticeKind.ACT),
    (_PREPARE, Event.WORSENED): Step(_PREPARE, NoticeKind.CHANGED),
    (_PREPARE, Event.EASED): Step(_ENDED, NoticeKind.CANCELLED, Outcome.CANCELLED),
    (_PREPARE, Event.PASSED): Step(_ENDED, NoticeKind.EXPIRED, Outcome.EXPIRED),
    (_PREPARE, Event.REPORTED_DONE): Step(_DONE),
    (_PREPARE, Event.DECLINED): Step(_DECLINED),
    (_EXECUTE, Event.WORSENED): Step(_EXECUTE, NoticeKind.CHANGED),
    (_EXECUTE, Event.POSTPONED): Step(_PREPARE, NoticeKind.POSTPONED),
    (_EXECUTE, Event.REMINDER): Step(_EXECUTE, NoticeKind.REMINDER),
    (_EXECUTE, Event.FINAL_CALL): Step(_EXECUTE, NoticeKind.FINAL_CALL),
    (_EXECUTE, Event.EASED): Step(_ENDED, NoticeKind.CANCELLED, Outcome.CANCELLED),
    (_EXECUTE, Event.PASSED): Step(_ENDED, NoticeKind.EXPIRED, Outcome.EXPIRED),
    (_EXECUTE, Event.REPORTED_DONE): Step(_DONE),
    (_EXECUTE, Event.DECLINED): Step(_DECLINED),
    (_DONE, Event.EASED): Step(_ENDED, NoticeKind.ALL_CLEAR, Outcome.DONE),
    (_DONE, Event.PASSED): Step(_ENDED, NoticeKind.ALL_CLEAR, Outcome.DONE),
    (_DONE, Event.UNDONE): Step(_EXECUTE, NoticeKind.ACT),
    (_DECLINED, Event.EASED): Step(_ENDED, NoticeKind.CLOSED, Outcome.DECLINED),
    (_DECLINED, Event.PASSED): Step(_ENDED, NoticeKind.CLOSED, Outcome.DECLINED),
    (_DECLINED, Event.WORSENED): Step(_EXECUTE, NoticeKind.CHANGED),
    (_DECLINED, Event.REPORTED_DONE): Step(_DONE),
}


def step(state: AlertState | None, event: Event) -> Step:
    """Return what an event does in a state.

    Parameters
    ----------
    state : AlertState or None
        ``None`` for a matter that has no alert yet.
    event : Event
        What happens.

    Returns
    -------
    Step
        New state, notice and outcome.

    Raises
    ------
    ValueError
        If the event cannot happen in that state.
    """
    try:
        return TABLE[state, event]
    except KeyError:
        message = f"the event {event.value!r} cannot happen to an alert in state {state and state.value!r}"
        raise ValueError(message) from None
