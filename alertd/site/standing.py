"""How trees stand, as far as a person can say it: what is under a pot, what a cover is made of, how deep mulch lies.

Nobody has to say any of it; what is left out is the usual case, and that is assumed. Numbers of the models themselves
can be measured, too; they are kept by name in the group's `parameters`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum


class StandsOn(StrEnum):
    """What is under a pot."""

    PAVING = "paving"
    SOIL = "soil"
    FEET = "feet"


class Substrate(StrEnum):
    """What a pot is filled with."""

    POTTING_MIX = "potting_mix"
    BARK_MIX = "bark_mix"
    MINERAL_MIX = "mineral_mix"
    PEAT = "peat"


class Wetness(StrEnum):
    """How wet the root ball is when the cold comes."""

    DRY = "dry"
    MOIST = "moist"
    WET = "wet"


class Insulation(StrEnum):
    """What is wrapped round the pot itself."""

    NONE = "none"
    BUBBLE_WRAP = "bubble_wrap"
    BLANKET = "blanket"
    JUTE = "jute"
    STYROFOAM = "styrofoam"


class CoverMaterial(StrEnum):
    """What a wrap is made of."""

    TARP = "tarp"
    BLANKET_AND_TARP = "blanket_and_tarp"
    FROST_CLOTH = "frost_cloth"
    BUBBLE_WRAP = "bubble_wrap"


class CoverFill(StrEnum):
    """What a wrap is filled with."""

    DRY_LEAVES = "dry_leaves"
    STRAW = "straw"


class MulchMaterial(StrEnum):
    """What lies on bent stems or in a ring."""

    STRAW = "straw"
    DRY_LEAVES = "dry_leaves"
    WET_LEAVES = "wet_leaves"
    WOOD_CHIPS = "wood_chips"


class StoreKind(StrEnum):
    """Where pots winter."""

    UNHEATED_GARAGE = "unheated_garage"
    SHED = "shed"
    CELLAR = "cellar"


@dataclass(frozen=True, slots=True)
class PotStanding:
    """How the pots of a group stand.

    Parameters
    ----------
    stands_on : StandsOn
        What is under them; ``feet`` lets the wind through.
    together : int
        How many stand side by side, touching; 1 for pots that stand alone.
    substrate : Substrate
        What they are filled with.
    wetness : Wetness
        Of the root ball.
    insulation : Insulation
        Round the pot.
    mulch : float
        [m] of loose mulch on top of the root ball.
    sun : float
        0 to 1, share of the day's direct sun that reaches the pot; 0 in full shade. Assumed: 0.4, as beside a house.
    top_diameter, height : float or None
        [m] Measured inside; ``None`` takes the usual form of a pot of that volume.

    Raises
    ------
    ValueError
        If fewer than one stand together, a length is not possible or the share of sun is outside 0 to 1.
    """

    stands_on: StandsOn = StandsOn.PAVING
    together: int = 1
    substrate: Substrate = Substrate.POTTING_MIX
    wetness: Wetness = Wetness.MOIST
    insulation: Insulation = Insulation.NONE
    mulch: float = 0.0
    sun: float = 0.4
    top_diameter: float | None = None
    height: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no pot can do."""
        if self.together < 1:
            message = f"at least 1 pot stands together, not {self.together}"
            raise ValueError(message)
        _check_between("mulch on a pot", self.mulch, 0.0, math.inf, "m")
        _check_between("share of sun", self.sun, 0.0, 1.0, "1")
        for name, length in (("top diameter of a pot", self.top_diameter), ("height of a pot", self.height)):
            if length is not None:
                _check_above_zero(name, length, "m")


@dataclass(frozen=True, slots=True)
class CoverBuild:
    """How the wrap of a group is built.

    Parameters
    ----------
    material : CoverMaterial
        From inside to outside. Assumed: blankets under a tarp.
    diameter, height : float
        [m] Of the column, over one tree or over all that share the wrap. Assumed: 0.6 and 2.0.
    is_closed_at_ground : bool
        Whether no air gets in at the foot.
    skirt : float
        [m] How far the cover reaches out over the ground beyond the column, all round.
    fill : CoverFill or None
        What the space round the wood is filled with.
    measured_gain : float or None
        [K] How much warmer than the air outside it was inside in a cold night, by own thermometers.

    Raises
    ------
    ValueError
        If a length is not possible or the gain is not finite.
    """

    material: CoverMaterial = CoverMaterial.BLANKET_AND_TARP
    diameter: float = 0.6
    height: float = 2.0
    is_closed_at_ground: bool = True
    skirt: float = 0.0
    fill: CoverFill | None = None
    measured_gain: float | None = None

    def __post_init__(self) -> None:
        """Refuse what no cover can be."""
        _check_above_zero("diameter of a cover", self.diameter, "m")
        _check_above_zero("height of a cover", self.height, "m")
        _check_between("skirt of a cover", self.skirt, 0.0, math.inf, "m")
        if self.measured_gain is not None:
            _check_finite("measured gain of a cover", self.measured_gain, "K")


@dataclass(frozen=True, slots=True)
class MulchBuild:
    """What lies in a ring or on bent stems.

    Parameters
    ----------
    material : MulchMaterial
        Of it. Assumed: straw.
    depth : float
        [m] Above the wood. Assumed: 0.2.
    has_tarp : bool
        Whether something keeps the rain off.

    Raises
    ------
    ValueError
        If the depth is not above 0.
    """

    material: MulchMaterial = MulchMaterial.STRAW
    depth: float = 0.2
    has_tarp: bool = False

    def __post_init__(self) -> None:
        """Refuse what covers nothing."""
        _check_above_zero("depth of mulch", self.depth, "m")


@dataclass(frozen=True, slots=True)
class Place:
    """Where the trees of a group stand.

    Parameters
    ----------
    wall_view : float
        0 to 1, how much of what the trees see is the wall of a heated building; 0 in the open, about 0.3 close beside.
    wall_warmer_by : float
        [K] How much warmer than the air that wall is in a cold night. Assumed: 3.
    hollow_offset : float
        [K] 0 or below: how much colder than forecast it gets here in calm clear nights, by an own minimum thermometer.
    branch : float
        [m] Diameter of the thinnest wood that must live. Assumed: 0.005, a shoot of last year.

    Raises
    ------
    ValueError
        If the view is outside 0 to 1, a difference is not finite, the offset is above 0 or the branch has no diameter.
    """

    wall_view: float = 0.0
    wall_warmer_by: float = 3.0
    hollow_offset: float = 0.0
    branch: float = 0.005

    def __post_init__(self) -> None:
        """Refuse what no place can be."""
        _check_between("view of a wall", self.wall_view, 0.0, 1.0, "1")
        _check_finite("warmth of a wall", self.wall_warmer_by, "K")
        _check_between("offset of a hollow", self.hollow_offset, -math.inf, 0.0, "K")
        _check_above_zero("diameter of a branch", self.branch, "m")


@dataclass(frozen=True, slots=True)
class StoreRoom:
    """Where the pots of a group winter.

    Parameters
    ----------
    kind : StoreKind
        Of room. Assumed: an unheated garage.
    time_constant : float or None
        [s] In which the room has followed a change of the air outside to about two thirds; ``None`` takes the usual
        one of its kind.
    sensor : str or None
        Station name of an own thermometer in the room.
    kept_above : float or None
        [°C] At or above which heating keeps the room; ``None`` for one without.

    Raises
    ------
    ValueError
        If the time constant is not above 0 or what the room is kept above is not finite.
    """

    kind: StoreKind = StoreKind.UNHEATED_GARAGE
    time_constant: float | None = None
    sensor: str | None = None
    kept_above: float | None = None

    def __post_init__(self) -> None:
        """Refuse a room that follows in no time, and one that is kept at no temperature."""
        if self.time_constant is not None:
            _check_above_zero("time constant of a store room", self.time_constant, "s")
        if self.kept_above is not None:
            _check_finite("temperature that a store room is kept above", self.kept_above, "°C")


def _check_finite(name: str, value: float, unit: str) -> None:
    _check_between(name, value, -math.inf, math.inf, unit)


def _check_between(name: str, value: float, low: float, high: float, unit: str) -> None:
    if not math.isfinite(value) or not low <= value <= high:
        message = f"the {name} must be finite and {low:g} to {high:g} [{unit}], not {value}"
        raise ValueError(message)


def _check_above_zero(name: str, value: float, unit: str) -> None:
    if not math.isfinite(value) or value <= 0.0:
        message = f"the {name} must be finite and above 0 [{unit}], not {value}"
        raise ValueError(message)
