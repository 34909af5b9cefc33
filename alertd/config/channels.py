"""From channel sections to channels: addresses, credential files, and what is wrong with them."""

from __future__ import annotations

import re
import stat
from pathlib import Path
from typing import TYPE_CHECKING, Any

from alertd.delivery import Channel, ChannelKind, check_channel

from .outline import key_path, shown

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from .findings import Findings

#: [bytes] A longer credential is no channel address. Assumed.
LARGEST_CREDENTIAL = 16 * 1024

#: What systemd puts before the names of files when it is given a whole directory of credentials by the name
#: ``alertd``. Source: systemd.exec(5) of systemd 252, LoadCredential=, seen.
HANDED_OVER_PREFIX = "alertd_"

_CONTROL = re.compile(r"[\x00-\x1f\x7f]")


def credential_directories(sound: Mapping[str, Any], base: Path, environ: Mapping[str, str]) -> tuple[Path, ...]:
    """Return where credential files are looked for, in order.

    Parameters
    ----------
    sound : mapping
        The configuration, as far as it has the right types.
    base : Path
        Directory of the configuration file.
    environ : mapping of str to str
        ``CREDENTIALS_DIRECTORY`` is where systemd puts credentials.

    Returns
    -------
    tuple of Path
        Directories.
    """
    handed_over = environ.get("CREDENTIALS_DIRECTORY")
    own = base / (sound.get("credentials_directory") or "credentials")
    return (Path(handed_over), own) if handed_over else (own,)


def build_channels(
    sound: Mapping[str, Any],
    base: Path,
    environ: Mapping[str, str],
    findings: Findings,
    judge: Callable[[Channel], str | None] = check_channel,
) -> tuple[Channel, ...]:
    """Return the channels that can be used, and note what is wrong with the others.

    Parameters
    ----------
    sound : mapping
        The configuration, as far as it has the right types.
    base : Path
        Directory of the configuration file; a relative ``file:`` address counts from it.
    environ : mapping of str to str
        Names the directory of credentials.
    findings : Findings
        Takes problems and warnings; none holds an address or a part of one.
    judge : callable
        Returns what is wrong with a channel, or ``None``.

    Returns
    -------
    tuple of Channel
        In the order of the file.
    """
    directories = credential_directories(sound, base, environ)
    channels = []
    for position, section in enumerate(sound.get("channels", [])):
        if section is None:
            continue
        path = ("channels", position)
        address = _address(section, path, directories, findings)
        if address is not None and "name" in section:
            where = (*path, "credential" if section.get("url") is None else "url")
            channel = Channel(section["name"], _with_absolute_directory(address, base))
            if _is_usable(channel, where, findings, judge):
                channels.append(channel)
    return tuple(channels)


def _address(
    section: Mapping[str, Any], path: tuple[str | int, ...], directories: tuple[Path, ...], findings: Findings
) -> str | None:
    url, credential = section.get("url"), section.get("credential")
    if url is not None and credential is not None:
        findings.refuse(path, "has both a url and a credential", "keep one of them")
        return None
    if url is not None:
        return str(url)
    if credential is not None:
        return read_credential(credential, (*path, "credential"), directories, findings)
    return None


def read_credential(
    name: str, path: tuple[str | int, ...], directories: tuple[Path, ...], findings: Findings
) -> str | None:
    """Return what a credential file holds, or note why it cannot be read.

    Parameters
    ----------
    name : str
        Bare name of the file.
    path : tuple of str or int
        Place of the key that names it.
    directories : tuple of Path
        Where it is looked for, in order.
    findings : Findings
        Takes problems and warnings; none holds any of its content.

    Returns
    -------
    str or None
        The text without white space around it.
    """
    looked_in = " or ".join(str(directory) for directory in directories)
    names = (name, f"{HANDED_OVER_PREFIX}{name}")
    file = next((found for place in directories for each in names if _exists(found := place / each)), None)
    if file is None:
        findings.refuse(
            path, f"there is no file {shown(name)} in {looked_in}", "put the channel's address into such a file"
        )
        return None
    try:
        mode = file.stat().st_mode
        if not stat.S_ISREG(mode):
            findings.refuse(path, f"{file} is no ordinary file", "put the channel's address into a file of that name")
            return None
        with file.open("rb") as opened:
            text = opened.read(LARGEST_CREDENTIAL).decode("utf-8").strip()
    except OSError as error:
        mend = "check its owner and permissions"
        if len(directories) > 1:
            mend += "; a service gets a new credential when it is started anew"
        findings.refuse(path, f"{file} cannot be read ({error.strerror})", mend)
        return None
    except UnicodeDecodeError:
        findings.refuse(path, f"{file} is not UTF-8 text", "write the channel's address into it, and nothing else")
        return None
    if not text:
        findings.refuse(path, f"{file} is empty", "write the channel's address into it")
        return None
    if mode & stat.S_IROTH:
        findings.warnings.append(f"{key_path(path)}: {file} can be read by everybody; run chmod 600 on it")
    return text


def _exists(file: Path) -> bool:
    """Whether something is there, also where one may not look."""
    try:
        return file.exists()
    except OSError:
        return True


def _with_absolute_directory(address: str, base: Path) -> str:
    prefix = ChannelKind.FILE.value
    rest = address.removeprefix(prefix)
    if not address.startswith(prefix) or not rest or rest.startswith("/"):
        return address
    return f"{prefix}{base / rest}"


def _is_usable(
    channel: Channel, where: Sequence[str | int], findings: Findings, judge: Callable[[Channel], str | None]
) -> bool:
    mend = "compare it with the examples"
    if _CONTROL.search(channel.url):
        findings.refuse(where, "the address has a line break or a control character in it", "write it on one line")
        return False
    try:
        reason = judge(channel)
    except (OSError, ValueError):
        reason = "the address cannot be understood"
    if reason is None:
        return True
    what, _, hint = reason.partition("; ")
    findings.refuse(where, what, hint or mend)
    return False
