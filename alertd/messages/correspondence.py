"""What one person has been told, kept between evaluations."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class Told:
    """How much of an alert a person knows.

    Parameters
    ----------
    revision : int
        Number of the last message about the alert that the person has read, counted by the alert; 0 for none.
    is_over : bool
        Whether the person has been told that nothing more is asked: somebody who stood in for another.
    """

    revision: int = 0
    is_over: bool = False


@dataclass(frozen=True, slots=True)
class Correspondence:
    """What one person has been told.

    Parameters
    ----------
    told : mapping of str to Told
        By alert id; only alerts of which the person has read, and whose end has not been told yet.
    digest_day : datetime.date or None
        Local day of the last digest.
    """

    told: Mapping[str, Told] = field(default_factory=lambda: MappingProxyType({}))
    digest_day: date | None = None

    @property
    def text(self) -> str:
        """All of it as JSON text, for the store."""
        told = {name: [each.revision, each.is_over] for name, each in sorted(self.told.items())}
        day = None if self.digest_day is None else self.digest_day.isoformat()
        return json.dumps({"told": told, "digest_day": day}, separators=(",", ":"))

    @classmethod
    def parse(cls, text: str) -> Correspondence:
        """Return what a text holds.

        Parameters
        ----------
        text : str
            As `text` makes it.

        Returns
        -------
        Correspondence
            Equal to the one that was written; an empty one if the text is spoilt: rather told twice than never.
        """
        try:
            document = json.loads(text)
            told = {str(name): Told(int(revision), bool(over)) for name, (revision, over) in document["told"].items()}
            day = document["digest_day"]
            return cls(told, None if day is None else date.fromisoformat(day))
        except (AttributeError, KeyError, TypeError, ValueError):
            return cls()
