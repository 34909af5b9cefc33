"""What a source asks for, in a form that a fetcher can ask politely."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING
from urllib.parse import quote, urlencode, urlsplit

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from datetime import datetime

#: Without a word of the service, a key is not asked again before this. Assumed: models run every 1 to 6 h.
USUAL_PAUSE = timedelta(minutes=30)

#: Names of parameters and headers whose values are secrets, in lower case.
_SECRET_NAMES = frozenset({"apikey", "api_key", "api-key", "appid", "key", "token", "access_token", "authorization"})

#: What stands for a secret.
_HIDDEN = "***"

_SCHEMES = ("http", "https")


@dataclass(frozen=True, slots=True)
class Request:
    """One thing that a source asks for again and again.

    Parameters
    ----------
    key : str
        Name of the stored answer: unlike that of any other request, and without anything that changes from one request
        to the next, so that old answers make room for new ones. Not beginning with ``hold:``.
    url : str
        Absolute http or https URL without query, fragment, user or password.
    parameters : tuple of (str, str)
        Of the query, in this order. Values of parameters like ``apikey`` are never shown, logged or stored.
    headers : tuple of (str, str)
        Besides User-Agent, Accept-Encoding and those of conditional requests. Secret ones are never shown.
    pause : timedelta
        Not asked again before this, unless the service says otherwise; positive.
    shortest_pause : timedelta
        Not asked again before this since the last answer, even if the service says that it expires earlier: for what
        hardly ever changes. A lower bound, as ``shortest_pause`` of the fetcher's settings is for every request; not
        negative. What turns out wrong before its time must be forgotten or rejected by whoever asked.
    weight : float
        What it costs of a quota, in calls; see :mod:`alertd.sources.quota`.
    explain : callable, optional
        Turns a failing status, its headers (names in any case) and the body into one phrase for a person: what is
        wrong and how to mend it; ``""`` leaves it to the fetcher.
    held_until : callable, optional
        Turns a failing status, the body and the present instant into until when not to ask again; ``None`` leaves it to
        the fetcher. For services that say so in words instead of ``Retry-After``.

    Raises
    ------
    ValueError
        If the key or the URL is none of that kind, the pause or the weight is not positive, or the shortest pause is
        negative.

    Examples
    --------
    >>> request = Request("x", "https://api.example.org/v1", (("latitude", "40.71"), ("apikey", "canary")))
    >>> request.full_url
    'https://api.example.org/v1?latitude=40.71&apikey=canary'
    >>> request.shown_url
    'https://api.example.org/v1?latitude=40.71&apikey=***'
    """

    key: str
    url: str
    parameters: tuple[tuple[str, str], ...] = ()
    headers: tuple[tuple[str, str], ...] = ()
    pause: timedelta = USUAL_PAUSE
    shortest_pause: timedelta = timedelta(0)
    weight: float = 1.0
    explain: Callable[[int, Mapping[str, str], bytes], str] | None = None
    held_until: Callable[[int, bytes, datetime], datetime | None] | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be asked."""
        if not self.key or self.key.startswith("hold:"):
            message = f"the key of a request must be a name that does not begin with hold:, not {self.key!r}"
            raise ValueError(message)
        parts = urlsplit(self.url)
        if parts.scheme not in _SCHEMES or not parts.hostname or parts.query or parts.fragment or "@" in parts.netloc:
            message = f"the URL of request {self.key!r} must be http or https, without query, fragment or user"
            raise ValueError(message)
        if self.pause <= timedelta(0):
            message = f"the pause of request {self.key!r} must be positive, not {self.pause}"
            raise ValueError(message)
        if self.shortest_pause < timedelta(0):
            message = f"the shortest pause of request {self.key!r} must not be negative, not {self.shortest_pause}"
            raise ValueError(message)
        if not (math.isfinite(self.weight) and self.weight > 0.0):
            message = f"the weight of request {self.key!r} must be positive and finite, not {self.weight} calls"
            raise ValueError(message)

    @property
    def host(self) -> str:
        """Host and, if it is given, port."""
        parts = urlsplit(self.url)
        return f"{parts.hostname}" if parts.port is None else f"{parts.hostname}:{parts.port}"

    @property
    def full_url(self) -> str:
        """The URL as it is asked, secrets included."""
        return self._with_query(self.parameters)

    @property
    def shown_url(self) -> str:
        """The URL without secrets, for people, logs and the store."""
        shown = tuple((name, _HIDDEN if name.lower() in _SECRET_NAMES else value) for name, value in self.parameters)
        return self._with_query(shown)

    def without_secrets(self, text: str) -> str:
        """Return a text in which this request's secrets are hidden, plain or percent-encoded."""
        for name, value in (*self.parameters, *self.headers):
            if name.lower() in _SECRET_NAMES and value:
                for form in {value, quote(value), quote(value, safe="")}:
                    text = text.replace(form, _HIDDEN)
        return text

    def _with_query(self, parameters: tuple[tuple[str, str], ...]) -> str:
        query = urlencode(parameters, safe=",:*", quote_via=quote)
        return f"{self.url}?{query}" if query else self.url
