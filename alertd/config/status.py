"""From the section of status to what the daemon tells of itself."""

from __future__ import annotations

import ipaddress
from typing import TYPE_CHECKING, Any

from .loaded import StatusSpec

if TYPE_CHECKING:
    from collections.abc import Mapping

    from .findings import Draft, Findings

_LARGEST_PORT = 65535


def status_spec(draft: Draft, findings: Findings) -> StatusSpec:
    """Return how others learn that the program lives, and note what is wrong with it.

    Parameters
    ----------
    draft : Draft
        The configuration.
    findings : Findings
        Takes problems and warnings.

    Returns
    -------
    StatusSpec
        As far as it can be used.
    """
    section = draft.sound.get("status") or {}
    return StatusSpec(listen=_listen(section, findings))


def _listen(section: Mapping[str, Any], findings: Findings) -> tuple[str, int] | None:
    text = section.get("listen")
    if text is None:
        return None
    path = ("status", "listen")
    address, _, port = text.rpartition(":")
    try:
        is_loopback = ipaddress.IPv4Address(address).is_loopback
    except ValueError:
        is_loopback = None
    if is_loopback is None or int(port) > _LARGEST_PORT:
        findings.refuse(path, "is no address and port", "write one like 127.0.0.1:9108")
        return None
    if not is_loopback and not section.get("open_to_network"):
        mend = "listen at 127.0.0.1, or set status.open_to_network to true if others shall ask"
        findings.refuse(path, "can be reached from other machines", mend)
        return None
    return address, int(port)
