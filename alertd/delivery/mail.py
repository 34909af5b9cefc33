"""Header fields of the mails that alertd sends."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from alertd.messages import Letter

#: Domain of the synthetic message ids; ``invalid`` never resolves (RFC 2606 section 2, from memory).
_THREAD_DOMAIN = "alertd.invalid"
#: Longest ``References`` [characters]. The mail plugin does not fold fields, and lines end at 998 (RFC 5322 section
#: 2.1.1, from memory).
_REFERENCES_LENGTH = 900
_NOT_IN_AN_ID = re.compile(r"[^A-Za-z0-9_-]+")


def mail_headers(letter: Letter, site_slug: str) -> dict[str, str]:
    """Return the header fields that a letter adds to a mail.

    Parameters
    ----------
    letter : Letter
        What is sent.
    site_slug : str
        Short name of the site; alert ids are unique within one.

    Returns
    -------
    dict of str to str
        ``Auto-Submitted`` so that no vacation notice answers, the reference, and the threads.

    Notes
    -----
    The ids in ``References`` belong to no mail that was ever sent. They are the same in all mails about an alert,
    and so mail programs show these together. Programs take the last id for the direct parent, therefore the most
    urgent alert stands last there and alone in ``In-Reply-To``. Where not all fit, the least urgent are left out.

    References
    ----------
    RFC 3834 (2004), section 5, and RFC 5322 (2008), section 3.6.4, both from memory.
    """
    headers = {"Auto-Submitted": "auto-generated", "X-Alertd-Reference": letter.reference}
    if letter.threads:
        roots = [thread_root(alert, site_slug) for alert in letter.threads]
        while len(roots) > 1 and sum(map(len, roots)) + len(roots) > _REFERENCES_LENGTH:
            roots.pop()
        headers["References"] = " ".join(reversed(roots))
        headers["In-Reply-To"] = roots[0]
    return headers


def thread_root(alert: str, site_slug: str) -> str:
    """Return the message id that stands for an alert's thread.

    Parameters
    ----------
    alert : str
        Id of the alert.
    site_slug : str
        Short name of the site.

    Returns
    -------
    str
        Like ``<a7.north-garden@alertd.invalid>``.

    Examples
    --------
    >>> thread_root("a7", "north-garden")
    '<a7.north-garden@alertd.invalid>'
    """
    parts = (_NOT_IN_AN_ID.sub("-", part).strip("-") or "x" for part in (alert, site_slug))
    return f"<{'.'.join(parts)}@{_THREAD_DOMAIN}>"
