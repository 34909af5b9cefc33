"""The environment on top of the file: ``ALERTD_WORK__PEOPLE=2`` is ``work.people = 2``."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

from pydantic_settings import EnvSettingsSource, SettingsError

from alertd.core import Problem

from .document import DELIMITER, PREFIX, Document, EnvironmentDocument
from .outline import annotation_at, keys_at, nearest

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pydantic import BaseModel


@dataclass(frozen=True, slots=True)
class EnvironmentPart:
    """What the environment says about the configuration.

    Parameters
    ----------
    values : dict
        Nested like the file.
    origins : dict of tuple to str
        The variable that each place comes from.
    problems : tuple of Problem
        Variables that cannot be used.
    """

    values: dict[str, Any]
    origins: dict[tuple[str, ...], str]
    problems: tuple[Problem, ...]


class _GivenEnvironment(EnvSettingsSource):
    """The settings library's reading of variables, from a given mapping instead of the process."""

    def __init__(self, variables: Mapping[str, str]) -> None:
        self._variables = variables
        super().__init__(EnvironmentDocument)

    def _load_env_vars(self) -> Mapping[str, str | None]:
        return {name.lower(): value for name, value in self._variables.items()}


def read_environment(environ: Mapping[str, str]) -> EnvironmentPart:
    """Return what the environment says about the configuration.

    Parameters
    ----------
    environ : mapping of str to str
        All variables; those without the prefix ``ALERTD_`` are ignored.

    Returns
    -------
    EnvironmentPart
        Values, where they come from, and what is wrong with them.
    """
    values: dict[str, Any] = {}
    origins: dict[tuple[str, ...], str] = {}
    problems: list[Problem] = []
    for name in sorted(environ):
        if not name.upper().startswith(PREFIX):
            continue
        path = tuple(name[len(PREFIX) :].lower().split(DELIMITER))
        if annotation_at(Document, path) is None:
            problems.append(_unknown_variable(name))
            continue
        try:
            part = _GivenEnvironment({name: environ[name]})()
        except (SettingsError, RecursionError):
            mend = "write it as JSON, with lists in square brackets and tables in braces"
            problems.append(Problem(name, "is not valid JSON", mend))
            continue
        values = merged(values, _with_literal(part, path))
        origins[path] = name
    return EnvironmentPart(values, origins, tuple(problems))


def merged(below: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    """Return two nested tables as one.

    Parameters
    ----------
    below, above : mapping
        Where both have a value that is no table, `above` wins.

    Returns
    -------
    dict
        A new table.
    """
    result = dict(below)
    for key, value in above.items():
        under = result.get(key)
        result[key] = merged(under, value) if isinstance(under, dict) and isinstance(value, dict) else value
    return result


def _with_literal(part: dict[str, Any], path: tuple[str, ...]) -> dict[str, Any]:
    """Read numbers, true and false where the configuration expects them; the environment knows only text."""
    *tables, last = path
    table = part
    for key in tables:
        table = cast("dict[str, Any]", table[key])
    value = table[last]
    if isinstance(value, str) and annotation_at(Document, path) in {int, float, bool}:
        try:
            table[last] = json.loads(value.strip().lower())
        except ValueError:
            return part
    return part


def _unknown_variable(name: str) -> Problem:
    near = nearest(name.upper(), _known_variables(Document, ()))
    mend = f"did you mean {near}?" if near else f"remove it; names are like {PREFIX}SITE{DELIMITER}LATITUDE"
    return Problem(name, "matches no key of the configuration", mend)


def _known_variables(model: type[BaseModel], path: tuple[str, ...]) -> list[str]:
    names = []
    for key in keys_at(model, path):
        place = (*path, key)
        names.append(PREFIX + DELIMITER.join(place).upper())
        names.extend(_known_variables(model, place))
    return names
