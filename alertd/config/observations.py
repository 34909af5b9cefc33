"""From the section of observations to what the daemon collects."""

from __future__ import annotations

from typing import TYPE_CHECKING

from alertd.sources import PushSettings

from .channels import credential_directories, read_credential
from .loaded import ObservationSpec

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from .findings import Draft, Findings


def observation_spec(draft: Draft, base: Path, environ: Mapping[str, str], findings: Findings) -> ObservationSpec:
    """Return what is observed, and note what is wrong with it.

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
    ObservationSpec
        As far as it can be used.
    """
    section = draft.sound.get("observations") or {}
    wants_stations = bool(section.get("nearest_stations"))
    if wants_stations and not draft.has("site", "contact"):
        what = "is missing, and the weather service wants to know whom it may write to"
        findings.refuse(("site", "contact"), what, "add a mail address, or leave out observations.nearest_stations")
    given = section.get("file")
    return ObservationSpec(
        file=None if given is None else base / given,
        station=section.get("station", "thermometer"),
        push=_push(draft, section, base, environ, findings),
        nearest_stations=wants_stations,
    )


def _push(
    draft: Draft, section: Mapping[str, object], base: Path, environ: Mapping[str, str], findings: Findings
) -> PushSettings | None:
    listen, name = section.get("push"), section.get("push_token")
    if listen is None and name is None:
        return None
    for key, value in (("push", listen), ("push_token", name)):
        if value is None and not draft.has("observations", key):
            findings.refuse(("observations", key), "is missing, and its other half is there", "add it")
    if listen is None or name is None:
        return None
    path = ("observations", "push_token")
    token = read_credential(str(name), path, credential_directories(draft.sound, base, environ), findings)
    if token is None:
        return None
    address, _, port = str(listen).rpartition(":")
    try:
        return PushSettings(address, int(port), token)
    except ValueError as error:
        findings.refuse(("observations", "push"), str(error), "compare it with the documentation of the key")
        return None
