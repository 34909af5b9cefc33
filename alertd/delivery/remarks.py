"""Remarks on letters that took another way, and reports of those that arrived nowhere."""

from __future__ import annotations

import re
from dataclasses import replace
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.messages import Letter

#: Last line of a letter that may arrive a second time.
SENT_AGAIN = "Sent again under the same reference because the first try ended without an answer."

#: First line of a letter that is sent long after it was written.
SENT_LATE = "This message is late: it could not be sent when it was written. A later one may say otherwise."

_BODY_START = re.compile(r"<body\b[^>]*>", flags=re.IGNORECASE)
_BODY_END = re.compile(r"</body\s*>", flags=re.IGNORECASE)
_REPORT_REFERENCE = re.compile(r".+-unreached-\d+")


def put_in_front(letter: Letter, line: str) -> Letter:
    """Return a letter with one line before its text.

    Parameters
    ----------
    letter : Letter
        Left as it is.
    line : str
        Plain text.

    Returns
    -------
    Letter
        Under the same reference.
    """
    start = _BODY_START.search(letter.html)
    place = 0 if start is None else start.end()
    html = f"{letter.html[:place]}<p>{escape(line)}</p>{letter.html[place:]}"
    return replace(letter, text=f"{line}\n\n{letter.text}", html=html)


def put_at_end(letter: Letter, line: str) -> Letter:
    """Return a letter with one line after its text.

    Parameters
    ----------
    letter : Letter
        Left as it is.
    line : str
        Plain text.

    Returns
    -------
    Letter
        Under the same reference.
    """
    ends = list(_BODY_END.finditer(letter.html))
    place = ends[-1].start() if ends else len(letter.html)
    html = f"{letter.html[:place]}<p>{escape(line)}</p>{letter.html[place:]}"
    return replace(letter, text=f"{letter.text.rstrip()}\n\n{line}\n", html=html)


def not_taken(channel: str, reason: str) -> str:
    """Return the line that opens a letter which another channel did not take.

    Parameters
    ----------
    channel : str
        Name of the channel that failed.
    reason : str
        Why, in the fixed vocabulary.

    Returns
    -------
    str
        One line.
    """
    return f'The channel "{channel}" did not take this message ({reason}), so it comes by another one.'


def report_unreached(
    letter: Letter, recipient: str, *, number: int, channel: str, reason: str, now: datetime
) -> Letter:
    """Return a letter that tells somebody that another letter arrived nowhere.

    Parameters
    ----------
    letter : Letter
        The one that no channel took.
    recipient : str
        Who is told; perhaps the very one who was not reached.
    number : int
        Makes the reference of the report unique.
    channel : str
        Name of the channel that failed last.
    reason : str
        Why, in the fixed vocabulary.
    now : datetime
        Aware UTC.

    Returns
    -------
    Letter
        Short, with the subject of the other.
    """
    is_own = recipient == letter.recipient
    subject = "A message to you could not be sent" if is_own else f"{letter.recipient} could not be reached"
    lines = (
        f'No channel took a message to {letter.recipient}; the last was "{channel}" ({reason}).',
        f"Its subject: {letter.subject}",
        f"Its reference: {letter.reference}",
        "Look at alertd status for how things stand now."
        if is_own
        else f"Please tell {letter.recipient}, or see to it yourself.",
    )
    paragraphs = "".join(f"<p>{escape(line)}</p>" for line in lines)
    return replace(
        letter,
        reference=f"{letter.reference}-unreached-{number}",
        recipient=recipient,
        composed=now,
        subject=f"{subject}: {letter.subject}",
        text="\n".join(lines) + "\n",
        html=f"<!DOCTYPE html><html><head><title>{escape(subject)}</title></head><body>{paragraphs}</body></html>",
        short=f"{subject}: {letter.short}",
    )


def is_report(letter: Letter) -> bool:
    """Whether a letter tells that somebody could not be reached.

    Parameters
    ----------
    letter : Letter
        Any.

    Returns
    -------
    bool
        Such letters are not reported themselves, or reports would never end.
    """
    return _REPORT_REFERENCE.fullmatch(letter.reference) is not None
