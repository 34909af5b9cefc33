"""Every error that alertd raises on purpose, in one tree.

::

    AlertdError                  a person reads its text: what, where, how to mend it
    ├── ConfigurationError       the configuration cannot be used; holds every problem found
    ├── SourceError              a weather source gave nothing usable
    │   ├── SourceUnavailable    it could not be reached or read; later may work
    │   └── SourceMalformed      it answered, but the answer cannot be trusted
    ├── StoreError               the database cannot be used
    │   ├── StoreFull            the disk is full
    │   └── StoreTooNew          it was written by a newer alertd
    ├── AuditError               the audit log does not verify
    └── ReportError              a person's report (done, mark) names nothing that exists

Pure code raises ``ValueError`` with the value and its unit; that is a bug of the caller, not of a person.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


class AlertdError(Exception):
    """Base of all errors whose text is written for a person."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong with a configuration.

    Parameters
    ----------
    where : str
        The key path, like ``groups[2].class``, or the name of a file or variable.
    what : str
        What is wrong, without secrets.
    mend : str
        What to do about it.
    """

    where: str
    what: str
    mend: str

    def __str__(self) -> str:
        """Return the problem as one line."""
        return f"{self.where}: {self.what}; {self.mend}"


class ConfigurationError(AlertdError):
    """The configuration cannot be used.

    Parameters
    ----------
    problems : sequence of Problem
        All of them, at least one.
    """

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class SourceError(AlertdError):
    """A weather source gave nothing usable."""


class SourceUnavailable(SourceError):
    """The source could not be reached or read."""


class SourceMalformed(SourceError):
    """The source answered, but its answer cannot be trusted."""


class StoreError(AlertdError):
    """The database cannot be used."""


class StoreFull(StoreError):
    """The disk is full; nothing of the change was written."""


class StoreTooNew(StoreError):
    """The database was written by a newer version of alertd."""


class AuditError(AlertdError):
    """The audit log does not verify."""


class ReportError(AlertdError):
    """A person's report names something that does not exist or does not fit."""
