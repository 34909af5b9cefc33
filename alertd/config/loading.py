"""Loading a configuration: all problems at once, or a checked result."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from alertd.core import ConfigurationError, Problem
from alertd.delivery import check_channel

from .building import (
    build_delivery,
    build_garden,
    build_polling,
    build_recipients,
    build_retention,
    database_path,
)
from .channels import build_channels
from .checks import check_across
from .document import Document
from .environment import EnvironmentPart, merged, read_environment
from .findings import Draft, Findings
from .loaded import Loaded
from .observations import observation_spec
from .outline import key_path, shown
from .problems import model_problems, sound_part
from .reading import read_toml
from .sources import source_specs
from .status import status_spec
from .temperatures import check_temperatures

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from pydantic_core import ErrorDetails

    from alertd.delivery import Channel


def load(path: Path, environ: Mapping[str, str], judge: Callable[[Channel], str | None] = check_channel) -> Loaded:
    """Read and check a configuration.

    Parameters
    ----------
    path : Path
        The TOML file.
    environ : mapping of str to str
        The environment: ``ALERTD_…`` over the file, ``CREDENTIALS_DIRECTORY`` and ``STATE_DIRECTORY``.
    judge : callable
        Returns what is wrong with a channel, or ``None``. What runs for long has that done apart, to stay small.

    Returns
    -------
    Loaded
        Ready to use.

    Raises
    ------
    ConfigurationError
        If the file cannot be read or is no TOML, or with every problem that its content has.
    """
    path = Path(path).absolute()
    file_part, digest = read_toml(path)
    environment = read_environment(environ)
    raw = merged(file_part, environment.values)
    document, errors = _document(raw)
    draft = Draft(raw, sound_part(raw, errors))
    findings = Findings([*environment.problems, *model_problems(raw, errors)])
    check_across(draft, findings)
    check_temperatures(draft, findings)
    channels = build_channels(draft.sound, path.parent, environ, findings, judge)
    sources = source_specs(draft, path.parent, environ, findings)
    observations = observation_spec(draft, path.parent, environ, findings)
    status = status_spec(draft, path.parent, environ, findings)
    if document is None or findings.problems:
        raise ConfigurationError([_with_origin(problem, environment) for problem in findings.problems])
    loaded = Loaded(
        path=path,
        garden=build_garden(document),
        channels=channels,
        recipients=build_recipients(document),
        sources=sources,
        observations=observations,
        polling=build_polling(document),
        delivery=build_delivery(document),
        status=status,
        database=database_path(document, path.parent, environ),
        retention=build_retention(document),
        warnings=tuple(findings.warnings),
        digest=digest,
    )
    return replace(loaded, warnings=loaded.warnings + _gaps(loaded))


def _document(raw: Mapping[str, Any]) -> tuple[Document | None, list[ErrorDetails]]:
    try:
        return Document.model_validate(raw), []
    except ValidationError as error:
        return None, error.errors(include_input=False, include_url=False)


def _with_origin(problem: Problem, environment: EnvironmentPart) -> Problem:
    """Name the variable that a refused value comes from."""
    for place, variable in environment.origins.items():
        text = key_path(place)
        if problem.where == text or problem.where.startswith((f"{text}.", f"{text}[")):
            return replace(problem, where=f"{problem.where} (from {variable})")
    return problem


def _gaps(loaded: Loaded) -> tuple[str, ...]:
    """Return what leaves somebody or something unwatched."""
    warnings = []
    if not loaded.sources:
        warnings.append("sources: there is none, so nothing can be watched; add one")
    warnings.extend(
        f"sources[{position}].path: there is no file {source.path} yet; the watch is blind until there is"
        for position, source in enumerate(loaded.sources)
        if source.path is not None and not _is_file(source.path)
    )
    if not loaded.recipients:
        warnings.append("recipients: there is none, so nobody is told anything; add one")
    told = {group for recipient in loaded.recipients for group in recipient.groups}
    used = {channel for recipient in loaded.recipients for channel in recipient.channels}
    if loaded.recipients:
        warnings.extend(
            f"groups[{position}]: nobody is told about {group.group_id}; add it to a recipient's groups"
            for position, group in enumerate(loaded.garden.groups)
            if group.group_id not in told
        )
        warnings.extend(
            f"channels[{position}]: no recipient uses {shown(channel.name)}; name it in a recipient's channels"
            for position, channel in enumerate(loaded.channels)
            if channel.name not in used
        )
    return tuple(warnings)


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except OSError:
        return False
