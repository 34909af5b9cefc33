"""What checks find: problems and warnings, all collected before anybody is told."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from alertd.core import Problem

from .outline import key_path
from .problems import value_at

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence


@dataclass(slots=True)
class Findings:
    """What was found so far.

    Parameters
    ----------
    problems : list of Problem
        What stops the configuration from being used.
    warnings : list of str
        What can be used and should not stay so.
    """

    problems: list[Problem] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def refuse(self, path: Sequence[str | int], what: str, mend: str) -> None:
        """Note a problem at a place of the configuration."""
        self.problems.append(Problem(key_path(path), what, mend))


@dataclass(frozen=True, slots=True)
class Draft:
    """A configuration that is being checked.

    Parameters
    ----------
    raw : mapping
        As read.
    sound : mapping
        The part that has the right types; refused entries of lists are None.
    """

    raw: Mapping[str, Any]
    sound: Mapping[str, Any]

    def entries(self, name: str) -> Iterator[tuple[int, Mapping[str, Any]]]:
        """Yield the sound entries of a list of tables with their positions."""
        for position, entry in enumerate(self.sound.get(name, [])):
            if entry is not None:
                yield position, entry

    def names(self, name: str, key: str) -> list[str]:
        """Return the names in a list of tables as read, refused entries included."""
        found = self.raw.get(name)
        entries = found if isinstance(found, list) else []
        named = [entry.get(key) for entry in entries if isinstance(entry, dict)]
        return [text for text in named if isinstance(text, str)]

    def has(self, *path: str | int) -> bool:
        """Whether the file has anything at a place, right or wrong."""
        return value_at(self.raw, path) is not None

    def value(self, path: tuple[str | int, ...], default: Any) -> Any | None:  # noqa: ANN401 - any value of a file
        """Return what stands at a place, the default if nothing does, or None if it was refused."""
        found = value_at(self.sound, path)
        return default if found is None and not self.has(*path) else found
