"""A decision as letters: one for each recipient, all matters of the evaluation in it, most urgent first."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from jinja2 import PackageLoader, StrictUndefined, select_autoescape
from jinja2.sandbox import ImmutableSandboxedEnvironment

from alertd.alerts import SITE, NoticeKind
from alertd.core import as_utc, difference_in_unit, instant_text
from alertd.site import Condition

from .item import Item, item_of
from .letter import Letter
from .warned import warning_lines
from .when import clock_text, day_text, when_text
from .wording import condition_text

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from alertd.alerts import Decision, Garden, Notice, Refusal

#: Sources that differ by this much or more are named in messages [°C]. Assumed: about one standard
#: deviation of a forecast of tomorrow's minimum.
DISAGREEMENT_TOLD = 2.0

#: Length of the short form. The two parts of a concatenated SMS hold 306 characters (from memory).
SHORT_LENGTH = 300

#: The order in which matters stand in a letter.
_WEIGHT = {
    NoticeKind.FINAL_CALL: 0,
    NoticeKind.OPENED: 1,
    NoticeKind.ACT: 1,
    NoticeKind.CHANGED: 1,
    NoticeKind.REMINDER: 1,
    NoticeKind.POSTPONED: 2,
    NoticeKind.EXPIRED: 3,
    NoticeKind.CANCELLED: 3,
    NoticeKind.ALL_CLEAR: 4,
    NoticeKind.CLOSED: 4,
}

#: Facts of an item that are not said twice in a letter.
_REFERRED_TO = {"How", "Take care"}

_environment = ImmutableSandboxedEnvironment(
    loader=PackageLoader("alertd.messages"),
    autoescape=select_autoescape(["html"]),
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
    keep_trailing_newline=True,
)


@dataclass(frozen=True, slots=True)
class Reader:
    """Who reads a letter.

    Parameters
    ----------
    name : str
        Name of the recipient.
    groups : frozenset of str
        Ids of the groups cared for; empty for all.
    """

    name: str
    groups: frozenset[str] = frozenset()


def compose(decision: Decision, garden: Garden, readers: Sequence[Reader], record: str) -> tuple[Letter, ...]:
    """Return the letters that an evaluation sends.

    Parameters
    ----------
    decision : Decision
        With its notices.
    garden : Garden
        Names, units, local time.
    readers : sequence of Reader
        Who reads.
    record : str
        Head of the audit log before this evaluation, as text; published in each letter.

    Returns
    -------
    tuple of Letter
        None for a reader whom nothing concerns.
    """
    letters = []
    for reader in readers:
        notices = [notice for notice in decision.notices if _concerns(notice, reader)]
        if notices:
            letters.append(_letter(decision, garden, reader, sorted(notices, key=_order), record))
    return tuple(letters)


def _concerns(notice: Notice, reader: Reader) -> bool:
    """Return whether a notice is for a reader; matters of the whole site are for everybody."""
    return not reader.groups or notice.alert.group in reader.groups or notice.alert.group == SITE


def _order(notice: Notice) -> tuple[int, float, int, str]:
    """Return the place of a notice in a letter: by weight, latest start, severity, name."""
    start_by = notice.alert.announced.start_by
    pressing = float("inf") if start_by is None else start_by.timestamp()
    return _WEIGHT[notice.kind], pressing, -notice.alert.announced.severity.rank, notice.alert.alert_id


def _letter(decision: Decision, garden: Garden, reader: Reader, notices: list[Notice], record: str) -> Letter:
    """Return one letter."""
    now = decision.now
    items = _without_repetition([item_of(notice, garden, now) for notice in notices])
    reference = letter_reference(now, record, reader.name)
    facts = {
        "site": garden.site.name,
        "written": f"{day_text(now, garden.site)} {clock_text(now, garden.site)}",
        "items": items,
        "remarks": _remarks(decision, garden),
        "standing": _standing(decision, garden, reader, notices),
        "sources": _sources(decision, garden),
        "record": record,
        "reference": reference,
    }
    return Letter(
        reference=reference,
        recipient=reader.name,
        composed=now,
        subject=_subject(items),
        text=_environment.get_template("letter.txt").render(facts),
        html=_environment.get_template("letter.html").render(facts),
        short=_short(items),
        threads=tuple(item.alert_id for item in items),
        response_type=notices[0].alert.announced.response_type.value,
    )


def _without_repetition(items: list[Item]) -> list[Item]:
    """Return items in which advice that an earlier one gives word for word is referred to by its number."""
    first: dict[tuple[str, str], int] = {}
    shortened = []
    for number, item in enumerate(items, start=1):
        facts = []
        for label, text in item.facts:
            earlier = first.setdefault((label, text), number)
            repeats = label in _REFERRED_TO and earlier < number
            facts.append((label, f"As in {earlier}." if repeats else text))
        shortened.append(replace(item, facts=tuple(facts)))
    return shortened


def _subject(items: list[Item]) -> str:
    """Return the first headline, and how many more there are."""
    more = len(items) - 1
    return items[0].headline if more == 0 else f"{items[0].headline} (and {more} more)"


def _short(items: list[Item]) -> str:
    """Return all headlines, as far as they fit."""
    text = ". ".join(item.headline for item in items)
    return text if len(text) <= SHORT_LENGTH else text[: SHORT_LENGTH - 1].rstrip() + "…"


def _remarks(decision: Decision, garden: Garden) -> list[str]:
    """Return what must be known of the forecasts: public warnings, disagreement, and sources left out."""
    remarks = warning_lines(decision, garden)
    merged = decision.outlook.merged
    if merged is not None and merged.disagreement is not None and merged.disagreement >= DISAGREEMENT_TOLD:
        spread = difference_in_unit(merged.disagreement, garden.units)
        remarks.append(f"Sources differ by {spread:.0f} {garden.units.symbol} about the lowest of the next two days.")
    remarks += dict.fromkeys(_refusal(refusal) for refusal in decision.outlook.refused)
    return remarks


def _refusal(refusal: Refusal) -> str:
    """Return what is wrong with a source, and whether it is used all the same."""
    if refusal.is_used:
        return f"{refusal.source} is used with its last good answer: {refusal.reason}."
    return f"Not used: {refusal.source}, {refusal.reason}."


def _standing(decision: Decision, garden: Garden, reader: Reader, notices: list[Notice]) -> list[tuple[str, str]]:
    """Return how the groups stand that the letter does not speak of."""
    spoken = {notice.alert.group for notice in notices}
    return [
        (group.name, condition_text(group, decision.conditions.get(group.group_id, Condition())))
        for group in garden.groups
        if group.group_id not in spoken and (not reader.groups or group.group_id in reader.groups)
    ]


def _sources(decision: Decision, garden: Garden) -> list[str]:
    """Return what was used, when it was made and read, and whom to credit."""
    lines = []
    for forecast in decision.outlook.used:
        made = when_text(forecast.forecast_reference_time, decision.now, garden.site)
        read = when_text(forecast.retrieved, decision.now, garden.site)
        credit = f" {forecast.credits}" if forecast.credits else ""
        lines.append(f"{forecast.source}, made {made}, read {read}.{credit}")
    return lines


def letter_reference(now: datetime, record: str, reader: str) -> str:
    """Return the name that a letter bears for ever.

    Parameters
    ----------
    now : datetime
        Aware.
    record : str
        Head of the audit log as ``number:hash``; its number makes the reference unique in one database.
    reader : str
        Name of the recipient.

    Returns
    -------
    str
        Like ``20260122T180000Z-1234-keeper``.
    """
    plain = re.sub(r"[^A-Za-z0-9]+", "-", reader).strip("-") or "reader"
    return f"{as_utc(now).strftime('%Y%m%dT%H%M%SZ')}-{record.partition(':')[0]}-{plain}"


def letter_for_test(garden: Garden, reader: Reader, now: datetime, record: str) -> Letter:
    """Return a letter that only proves that letters arrive."""
    reference = f"{letter_reference(now, record, reader.name)}-test"
    text = (
        f"{garden.site.name}, {instant_text(now)}\n\nThis is a Test message of alertd. Nothing is to be done.\n\n"
        f"Record {record}\nReference {reference}\n"
    )
    return Letter(
        reference=reference,
        recipient=reader.name,
        composed=now,
        subject=f"Test message from {garden.site.name}, nothing to do",
        text=text,
        html=_environment.from_string("<pre>{{ text | e }}</pre>\n").render(text=text),
        short=f"Test message from {garden.site.name}, nothing to do",
        threads=(),
        response_type="None",
    )
