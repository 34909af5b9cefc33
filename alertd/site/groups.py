"""Tree groups and the condition in which people have reported them."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from .standing import CoverBuild, MulchBuild, Place, PotStanding

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from .place import Site
    from .standing import StoreRoom


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
    pot : PotStanding
        How its pots stand; for containers.
    cover_build : CoverBuild
        How its wrap is built; for groups that are wrapped.
    mulch_build : MulchBuild
        What lies in its rings or on its bent stems; for groups that are mulched.
    place : Place
        Where it stands.
    store_room : StoreRoom or None
        Where it winters; for groups that are stored. ``None`` for a room that nobody described: no model judges it, it
        is as its people chose it.
    parameters : tuple of tuple of str and float
        Names of model parameters with the values that its people measured, in the parameters' own units.

    Raises
    ------
    ValueError
        If a measured value is not finite or a parameter has two.
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
    pot: PotStanding = field(default_factory=PotStanding)
    cover_build: CoverBuild = field(default_factory=CoverBuild)
    mulch_build: MulchBuild = field(default_factory=MulchBuild)
    place: Place = field(default_factory=Place)
    store_room: StoreRoom | None = None
    parameters: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        """Refuse measured values that are none, or two for one parameter."""
        for name, value in self.parameters:
            if not math.isfinite(value):
                message = f"the measured {name} must be finite, not {value}"
                raise ValueError(message)
        if len(self.overrides) < len(self.parameters):
            message = f"a parameter has two measured values: {self.parameters}"
            raise ValueError(message)

    @property
    def overrides(self) -> Mapping[str, float]:
        """What the group's people measured, by the name of the model parameter, in its own unit."""
        return dict(self.parameters)


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
