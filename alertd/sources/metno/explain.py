"""Why MET Norway refused, in one phrase."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

#: Characters. Assumed.
_LONGEST_WORDS = 120

#: [bytes] No more of an error page is read. Assumed: the ones seen have a hundred.
_LARGEST_PAGE = 20_000

#: What a status means there, and what a person can do. *Seen* in its documentation.
_MEANINGS = {
    400: "it does not understand the request; check latitude, longitude and elevation of the site",
    403: "it refuses this client; give a real mail address as contact of the site",
    404: "it has no forecast for this place; check latitude and longitude of the site",
    422: "the place is outside its area; check latitude and longitude of the site",
    429: "it is asked too often; nothing to do, the next requests wait longer",
}


def explain_failure(status: int, headers: Mapping[str, str], body: bytes) -> str:
    """Return why a request failed, as one phrase for a person.

    Parameters
    ----------
    status : int
        HTTP status.
    headers : mapping of str to str
        Of the answer; ``Errorclass`` names the error where MET Norway sends it.
    body : bytes
        HTML or plain text, of any length.

    Returns
    -------
    str
        One line: status, meaning and the service's own words, shortened.

    Examples
    --------
    >>> explain_failure(429, {}, b"")
    'it answers 429: it is asked too often; nothing to do, the next requests wait longer'
    """
    meaning = _MEANINGS.get(status)
    if meaning is None:
        meaning = "it has trouble of its own; it is asked again later" if status >= 500 else "it gives no forecast"  # noqa: PLR2004 - server errors
    error_class = next((value for name, value in headers.items() if name.lower() == "errorclass"), "")
    words = _words(error_class.encode() + b" " + body[:_LARGEST_PAGE])
    return f"it answers {status}: {meaning}" + (f" ({words})" if words else "")


def _words(page: bytes) -> str:
    """Return the visible words of an error page in one line, shortened."""
    text = page.decode("utf-8", errors="replace")
    text = re.sub(r"<(script|style)\b[^>]*>.*?</\1\s*>", " ", text, flags=re.DOTALL | re.IGNORECASE)
    text = html.unescape(re.sub(r"<[^<>]*>", " ", text))
    text = " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())
    return text if len(text) <= _LONGEST_WORDS else f"{text[:_LONGEST_WORDS].rstrip()}…"
