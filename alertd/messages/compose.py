"""What a reader is told, as one letter: all matters in it, most urgent first."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from jinja2 import PackageLoader, StrictUndefined, select_autoescape
from jinja2.sandbox import ImmutableSandboxedEnvironment

from alertd.alerts import NoticeKind
from alertd.core import ResponseType, as_utc, difference_in_unit, instant_text
from alertd.site import Condition

from .digest import digest_of
from .item import Item, item_of
from .letter import Letter
from .patience import breaks_quiet_hours, is_for_digest
from .warned import warning_lines
from .when import clock_text, day_text, when_text
from .wording import condition_text

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.alerts import Decision, Garden, Notice, Refusal

    from .digest import Digest
    from .reader import Reader
    from .telling import Telling

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
    NoticeKind.ANSWERED: 3,
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


def compose(telling: Telling, decision: Decision, garden: Garden, record: str) -> Letter:
    """Return the letter in which a reader is told.

    Parameters
    ----------
    telling : Telling
        What is told; there must be something to write.
    decision : Decision
        The evaluation.
    garden : Garden
        Names, units, local time.
    record : str
        Head of the audit log before this evaluation, as text; published in each letter.

    Returns
    -------
    Letter
        Most urgent matters first; the digest's own parts below them.
    """
    now, reader = decision.now, telling.reader
    notices = sorted(telling.notices, key=_order)
    items = _without_repetition([item_of(notice, garden, now) for notice in notices])
    told = {item.alert_id for item in items}
    digest = digest_of(decision, garden, reader, told) if telling.is_digest else None
    spoken = set() if digest is not None else {notice.alert.group for notice in notices}
    reference = letter_reference(now, record, reader.name)
    subject = _subject(items) if digest is None or _presses(notices) else _subject_of_day(digest, now, garden)
    facts = {
        "subject": subject,
        "site": garden.site.name,
        "written": f"{day_text(now, garden.site)} {clock_text(now, garden.site)}",
        "items": items,
        "why_now": _why_now(telling),
        "digest": digest,
        "remarks": _remarks(decision, garden),
        "standing": _standing(decision, garden, reader, spoken),
        "sources": _sources(decision, garden),
        "record": record,
        "reference": reference,
    }
    return Letter(
        reference=reference,
        recipient=reader.name,
        composed=now,
        subject=subject,
        text=_environment.get_template("letter.txt").render(facts),
        html=_environment.get_template("letter.html").render(facts),
        short=_short(subject, items) if digest is not None else _short("", items),
        threads=tuple(item.alert_id for item in items),
        response_type=_response_type(notices, decision, reader),
    )


def _presses(notices: list[Notice]) -> bool:
    """Return whether the first of several matters asks for something: to act, to leave it, or to look at the trees."""
    return bool(notices) and (not is_for_digest(notices[0]) or notices[0].kind is NoticeKind.EXPIRED)


def _subject_of_day(digest: Digest, now: datetime, garden: Garden) -> str:
    """Return the subject of a digest: what comes next, and how cold it gets."""
    coldest = f"; coldest {digest.coldest}" if digest.coldest else ""
    return f"{day_text(now, garden.site)}: {digest.following}{coldest}"


def _response_type(notices: list[Notice], decision: Decision, reader: Reader) -> str:
    """Return CAP's response to a letter: that of its most urgent matter, or to keep an eye on what is open."""
    if notices:
        is_answered = notices[0].kind is NoticeKind.ANSWERED
        return (ResponseType.NONE if is_answered else notices[0].alert.announced.response_type).value
    is_open = any(reader.cares_for(standing.alert.group) for standing in decision.standings)
    return (ResponseType.MONITOR if is_open else ResponseType.NONE).value


def _why_now(telling: Telling) -> str:
    """Return why a letter comes in its reader's quiet hours, if it does."""
    if not telling.is_in_quiet_hours:
        return ""
    if any(breaks_quiet_hours(notice) for notice in telling.notices):
        return "This comes in your quiet hours because the cold is severe and there is something to do."
    return "This comes in your quiet hours because it would be too late at their end."


def _order(notice: Notice) -> tuple[int, float, int, str]:
    """Return the place of a notice in a letter: by weight, latest start, severity, name."""
    start_by = notice.alert.announced.start_by
    pressing = float("inf") if start_by is None else start_by.timestamp()
    return _WEIGHT[notice.kind], pressing, -notice.alert.announced.severity.rank, notice.alert.alert_id


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


def _short(first: str, items: list[Item]) -> str:
    """Return the subject of a digest and all headlines, as far as they fit."""
    headlines = [item.headline for item in items if item.headline not in first]
    text = ". ".join([first, *headlines] if first else headlines)
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


def _standing(decision: Decision, garden: Garden, reader: Reader, spoken: set[str]) -> list[tuple[str, str]]:
    """Return how the reader's groups stand of which nothing was said."""
    return [
        (group.name, condition_text(group, decision.conditions.get(group.group_id, Condition())))
        for group in garden.groups
        if group.group_id not in spoken and reader.cares_for(group.group_id)
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
