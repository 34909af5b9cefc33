"""Tree groups and the condition in which people have reported them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import datetime

    from .place import Site


class Growing(StrEnum):
    """Where the roots are."""

    CONTAINER = "container"
    IN_GROUND = "in_ground"


class Protection(StrEnum):
    """What a group gets when real cold comes."""

    STORE = "store"
    CLUSTER = "cluster"
    WRAP = "wrap"
    MULCH_RING = "mulch_ring"
    BEND_AND_MULCH = "bend_and_mulch"
    NONE = "none"


class Cover(StrEnum):
    """How far a group's protection is in place, as people have reported it.

    For a group whose protection is ``store``, in place means in store, and lifted means brought out.
    """

    OFF = "off"
    IN_PLACE = "in-place"
    OPENED = "opened"
    LIFTED = "lifted"


class Stage(StrEnum):
    """Whether buds have moved."""

    DORMANT = "dormant"
    BUDBREAK = "budbreak"


@dataclass(frozen=True, slots=True)
class TreeGroup:
    """Trees that are judged and handled together.

    Parameters
    ----------
    group_id : str
        Short name for commands and the log, like ``patio-pots``.
    name : str
        As people call the group in messages, like ``the patio pots``.
    growing : Growing
        In containers or in the ground.
    count : int
        How many trees.
    species : str
        For the reader.
    hardiness_class : str
        Name of the class that holds the group's critical temperatures.
    protection : Protection
        What it gets when cold comes.
    container_volume : float or None
        [L] of one container, where known.
    minutes_per_tree : float or None
        [min] of one person's work to protect one tree; ``None`` takes the default of the action.
    notes : str
        Repeated in messages.
    """

    group_id: str
    name: str
    growing: Growing
    count: int
    species: str
    hardiness_class: str
    protection: Protection
    container_volume: float | None = None
    minutes_per_tree: float | None = None
    notes: str = ""


@dataclass(frozen=True, slots=True)
class Condition:
    """What people have last reported of a group.

    Parameters
    ----------
    cover : Cover
        How far the protection is in place.
    stage : Stage
        Dormant, or buds have moved.
    cover_since, stage_since : datetime or None
        Aware UTC; ``None`` before any report.
    """

    cover: Cover = Cover.OFF
    stage: Stage = Stage.DORMANT
    cover_since: datetime | None = None
    stage_since: datetime | None = None

    def in_season(self, site: Site, now: datetime) -> Condition:
        """Return the condition with last season's reports forgotten.

        A wrap that nobody reported lifted is not believed to be on still when the next autumn
        comes: a group must never count as protected because of a report from another winter.

        Parameters
        ----------
        site : Site
            Gives the hemisphere.
        now : datetime
            Aware.

        Returns
        -------
        Condition
            Reports older than the season's start replaced by bare and dormant.
        """
        start = site.season_start(now)
        current = self
        if self.cover_since is not None and self.cover_since < start:
            current = replace(current, cover=Cover.OFF, cover_since=None)
        if self.stage_since is not None and self.stage_since < start:
            current = replace(current, stage=Stage.DORMANT, stage_since=None)
        return current

    @property
    def is_in_growth(self) -> bool:
        """Whether the group has woken: buds have moved, or its cover was opened or lifted this season."""
        return self.stage is Stage.BUDBREAK or self.cover in {Cover.OPENED, Cover.LIFTED}
