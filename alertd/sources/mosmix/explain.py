"""Why the server of the German weather service refused, in one phrase."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

_NOT_FOUND = 404


def explain_failure(status: int, headers: Mapping[str, str], body: bytes) -> str:  # noqa: ARG001 - one form for all sources
    """Return why a request failed, as one phrase for a person.

    Parameters
    ----------
    status : int
        HTTP status.
    headers : mapping of str to str
        Of the answer; not used.
    body : bytes
        A page of the server; not used.

    Returns
    -------
    str
        What is wrong and how to mend it, or ``""`` for what every web server may answer.

    Examples
    --------
    >>> explain_failure(404, {}, b"")
    'there is no forecast for this station; check station, an id in the list of MOSMIX stations, and base_url'
    """
    if status == _NOT_FOUND:
        return (
            "there is no forecast for this station; check station, an id in the list of MOSMIX stations, and base_url"
        )
    return ""
