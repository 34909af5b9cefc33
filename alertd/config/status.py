"""From the section of status to what the daemon tells of itself."""

from __future__ import annotations

import ipaddress
import re
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from .channels import credential_directories, read_credential
from .loaded import StatusSpec

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from .findings import Draft, Findings

_LARGEST_PORT = 65535
_NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9._-]{0,99}")
_PRINTABLE = re.compile(r"[!-~]+")


def status_spec(draft: Draft, base: Path, environ: Mapping[str, str], findings: Findings) -> StatusSpec:
    """Return how others learn that the program lives, and note what is wrong with it.

    Parameters
    ----------
    draft : Draft
        The configuration.
    base : Path
        Directory of the configuration file.
    environ : mapping of str to str
        Names the directory of credentials.
    findings : Findings
        Takes problems and warnings.

    Returns
    -------
    StatusSpec
        As far as it can be used.
    """
    section = draft.sound.get("status") or {}
    directories = credential_directories(draft.sound, base, environ)
    return StatusSpec(
        listen=_listen(section, findings),
        heartbeat=_heartbeat(section, directories, findings),
        test_message=section.get("test_message", "off"),
    )


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


def _heartbeat(section: Mapping[str, Any], directories: tuple[Path, ...], findings: Findings) -> str | None:
    given = section.get("heartbeat")
    if given is None:
        return None
    path, text = ("status", "heartbeat"), str(given).strip()
    url: str | None = text
    if "://" not in text:
        if _NAME.fullmatch(text) is None:
            mend = "write an address like https://checker.example.org/..., or the bare name of a credential file"
            findings.refuse(path, "is neither an address nor the name of a file", mend)
            return None
        url = read_credential(text, path, directories, findings)
    if url is not None and not _can_be_called(url):
        mend = "write one that begins with http:// or https://, without user, password or # in it"
        findings.refuse(path, "the address cannot be called", mend)
        return None
    return url


def _can_be_called(url: str) -> bool:
    """Whether an address is one of the web, and of nothing else on this machine or beyond."""
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError:
        return False
    is_web = parts.scheme in {"http", "https"} and bool(parts.hostname) and port != 0
    return is_web and "@" not in parts.netloc and not parts.fragment and _PRINTABLE.fullmatch(url) is not None
