"""What a public service once answered, as it is kept between two requests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer of a service, with what is needed to ask politely again.

    Parameters
    ----------
    url : str
        What was asked, without secrets.
    status : int
        HTTP status.
    body : bytes
        Decompressed.
    retrieved : datetime
        When the service last gave it or confirmed it, aware, UTC.
    expires : datetime or None
        Until when the service asks not to be asked again, aware, UTC; ``None`` if it does not say.
    etag : str or None
        The service's own name of this version, exactly as it was sent.
    last_modified : str or None
        The service's own time of this version, exactly as it was sent.
    content_type : str
        As it was sent, or ``""``.
    problem : str
        Why this is the stored last good answer and not a new one; ``""`` if it is as it should be. Never stored.
    """

    url: str
    status: int
    body: bytes
    retrieved: datetime
    expires: datetime | None
    etag: str | None
    last_modified: str | None
    content_type: str
    problem: str = ""
