"""What to mind while doing it.

Cautions ride with the task that needs them. They are reminders, not safety engineering: local codes and
licensed practice come first.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from .actions import Action
from .lifting import people_per_pot

if TYPE_CHECKING:
    from alertd.site import TreeGroup


class Caution(StrEnum):
    """One thing to mind. Texts: see ``CAUTION_TEXTS``."""

    HEAVY_POTS = "heavy_pots"
    WHEELS = "wheels"
    ICE = "ice"
    DARKNESS = "darkness"
    LADDER = "ladder"
    HEATERS = "heaters"
    STORE_HEAT = "store_heat"
    STORE_CORDS = "store_cords"
    BRITTLE_WOOD = "brittle_wood"
    HOT_COVER = "hot_cover"


#: Sources: NIOSH lifting equation (see ``lifting``); ladders, heaters, cords and carbon monoxide after
#: US CPSC and CDC advice (seen in press copies); the rest common practice, no source.
CAUTION_TEXTS = {
    Caution.HEAVY_POTS: (
        "A pot weighs about {kilograms} kg ({pounds} lb), more than one person should lift from the ground: use a hand "
        "truck or a low dolly, and a second person to steady."
    ),
    Caution.WHEELS: "Bend the knees, keep the pot close, and roll rather than carry where the ground allows.",
    Caution.ICE: "Clear and grit icy paths and steps before carrying anything.",
    Caution.DARKNESS: "Too little daylight is left; work with good light and not alone, or leave it.",
    Caution.LADDER: (
        "Ladder only on level firm ground, with a helper, never on ice or in wind; stay off the top three rungs."
    ),
    Caution.HEATERS: (
        "No heat lamp or heater under a wrap or near dry leaves. Outdoor cords only on a protected (GFCI or RCD) "
        "outlet, not chained, out of wet snow. Local codes and a licensed electrician come first."
    ),
    Caution.STORE_HEAT: (
        "Never burn fuel or charcoal in a closed store: carbon monoxide kills. If a store must be heated, use a listed "
        "electric heater with a metre of clear space; local codes and a licensed electrician come first."
    ),
    Caution.STORE_CORDS: (
        "Plug a heater straight into a wall outlet on a protected (GFCI or RCD) circuit, never into a thin or chained "
        "cord, keep blankets well away from it, and do as its maker says."
    ),
    Caution.BRITTLE_WOOD: "Frozen wood snaps: bend and tie in the mildest hour of the day.",
    Caution.HOT_COVER: "A closed cover overheats in sun: choose a cloudy mild day, and keep the cover beside the tree.",
}

_CARRYING = {Action.MOVE_IN, Action.BRING_OUT, Action.CLUSTER, Action.COVER_IN_STORE}
_COVERING = {Action.WRAP, Action.SHIELD, Action.REINFORCE, Action.COVER_AGAIN}
_INDOORS = {Action.LOOK_YOURSELF, Action.COVER_IN_STORE}


def cautions(group: TreeGroup, action: Action, *, expects_ice: bool, is_dark: bool) -> tuple[Caution, ...]:
    """Return what to mind for a task.

    Parameters
    ----------
    group : TreeGroup
        Pots and their volume, if known.
    action : Action
        What is done.
    expects_ice : bool
        Whether the work falls into frost.
    is_dark : bool
        Whether the daylight left is too short.

    Returns
    -------
    tuple of Caution
        Most serious first.
    """
    wanted: list[Caution] = []
    if action in _CARRYING:
        volume = group.container_volume
        wanted.append(Caution.HEAVY_POTS if volume is not None and people_per_pot(volume) > 1 else Caution.WHEELS)
    if action in {Action.MOVE_IN, Action.COVER_IN_STORE}:
        wanted.append(Caution.STORE_HEAT)
    if action is Action.COVER_IN_STORE:
        wanted.append(Caution.STORE_CORDS)
    if action is Action.BEND_DOWN:
        wanted.append(Caution.BRITTLE_WOOD)
    if action in _COVERING:
        wanted.append(Caution.HEATERS)
    if action in {Action.WRAP, Action.COVER_AGAIN}:
        wanted.append(Caution.LADDER)
    if action in {Action.OPEN_COVER, Action.LIFT_COVER}:
        wanted.append(Caution.HOT_COVER)
    if expects_ice and action not in _INDOORS:
        wanted.append(Caution.ICE)
    if is_dark:
        wanted.append(Caution.DARKNESS)
    return tuple(wanted)
