"""What a configuration comes to once it is checked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import timedelta
    from pathlib import Path

    from alertd.alerts import Garden
    from alertd.delivery import Channel
    from alertd.sources import FileSource


@dataclass(frozen=True, slots=True)
class Recipient:
    """Somebody who is told.

    Parameters
    ----------
    name : str
        Unique.
    channels : tuple of str
        Names of channels in order: the next is used when one fails.
    groups : tuple of str
        Ids of the groups that the person is told about, in the order of the garden.
    """

    name: str
    channels: tuple[str, ...]
    groups: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Polling:
    """How often sources are asked.

    Parameters
    ----------
    every : timedelta
        Pause between two looks.
    stale_after : timedelta
        A forecast older than this by its own reference time is not trusted; also in `Garden`.
    """

    every: timedelta
    stale_after: timedelta


@dataclass(frozen=True, slots=True)
class DeliverySettings:
    """How hard messages are tried.

    Parameters
    ----------
    deadline : timedelta
        How long one send may take.
    first_retry, max_retry : timedelta
        Pause after the first failure, and the longest one.
    max_tries : int
        Tries on one channel before it is given up.
    """

    deadline: timedelta
    first_retry: timedelta
    max_retry: timedelta
    max_tries: int


@dataclass(frozen=True, slots=True)
class Loaded:
    """A checked configuration.

    Parameters
    ----------
    path : Path
        The file that it was read from, absolute.
    garden : Garden
        What the pure core needs.
    channels : tuple of Channel
        Ways to reach people, in the order of the file.
    recipients : tuple of Recipient
        People, in the order of the file.
    sources : tuple of FileSource
        Where forecasts come from, in the order of the file; paths are absolute.
    polling : Polling
        How often to look.
    delivery : DeliverySettings
        How hard to try.
    database : Path
        Where to remember, absolute.
    warnings : tuple of str
        What can be used and should not stay so, one line each.
    """

    path: Path
    garden: Garden
    channels: tuple[Channel, ...]
    recipients: tuple[Recipient, ...]
    sources: tuple[FileSource, ...]
    polling: Polling
    delivery: DeliverySettings
    database: Path
    warnings: tuple[str, ...]
