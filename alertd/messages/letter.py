"""A letter: one message to one recipient, ready to be sent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime


@dataclass(frozen=True, slots=True)
class Letter:
    """What one recipient reads of one evaluation.

    Parameters
    ----------
    reference : str
        Names the letter for ever; a letter that is sent again carries the same one.
    recipient : str
        Name of the recipient.
    composed : datetime
        Aware UTC.
    subject : str
        The one thing to do and by when.
    text, html : str
        The same facts twice.
    short : str
        For titles of chats and SMS.
    threads : tuple of str
        Alert ids that the letter speaks of, most urgent first; a mail carries them in References.
    response_type : str
        CAP response type of the most urgent matter.
    """

    reference: str
    recipient: str
    composed: datetime
    subject: str
    text: str
    html: str
    short: str
    threads: tuple[str, ...]
    response_type: str
