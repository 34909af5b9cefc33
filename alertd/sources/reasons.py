"""What a failing answer means to a person: one phrase, with how to mend it."""

from __future__ import annotations

import http
import logging
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .request import Request
    from .transport import Reply

_logger = logging.getLogger(__name__)

#: Longest phrase of a service that people read. Assumed.
_LONGEST_REASON = 300

_NOT_ON_ONE_LINE = re.compile(r"[\x00-\x20\x7f-\xa0\u2028\u2029]+")

#: How to mend what a status says.
_MENDING: dict[int, str] = {
    304: "no answer of it is held any more; it is asked again later",
    401: "check the key of this source",
    403: "it wants a User-Agent with a contact and at most four decimals of the position, or has banned this address; "
    "check the contact of the site; it is left alone for hours",
    404: "it has nothing for this place, or at this address; check position and base_url",
    429: "it was asked too often; it is left alone for a while",
}


def reason_of(request: Request, reply: Reply) -> str:
    """Return what a failing status means: in the words of the request's own explanation if it has any.

    Parameters
    ----------
    request : Request
        What was asked.
    reply : Reply
        Of a failing status.

    Returns
    -------
    str
        One phrase that begins with the host; secrets may still be in it.
    """
    return _explained(request, reply) or _usual_reason(request.host, reply.status)


def one_line(text: str) -> str:
    """Return a text as one line of bounded length, without control characters."""
    line = _NOT_ON_ONE_LINE.sub(" ", text).strip()
    return line if len(line) <= _LONGEST_REASON else f"{line[: _LONGEST_REASON - 1]}…"


def _explained(request: Request, reply: Reply) -> str:
    """Return the phrase that the request's own explanation gives."""
    if request.explain is None:
        return ""
    try:
        phrase = one_line(request.explain(reply.status, reply.headers, reply.body))
    except Exception as error:  # noqa: BLE001 - a failing answer may be anything, and has a usual phrase
        _logger.debug("an answer of %s could not be explained: %s", request.host, type(error).__name__)
        return ""
    return f"{request.host}: {phrase}" if phrase else ""


def _usual_reason(host: str, status: int) -> str:
    """Return what a failing status means in general, and how to mend it."""
    named = f"{host} answered {status}"
    try:
        named = f"{named} {http.HTTPStatus(status).phrase}"
    except ValueError:
        return f"{named}; it is asked again later"
    mend = _MENDING.get(status)
    if mend is None:
        is_ours = http.HTTPStatus.BAD_REQUEST <= status < http.HTTPStatus.INTERNAL_SERVER_ERROR
        mend = "check base_url, position and options of this source" if is_ours else "it is asked again later"
    return f"{named}; {mend}"
