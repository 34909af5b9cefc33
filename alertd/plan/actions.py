"""What can be done for a group, and how long it takes."""

from __future__ import annotations

from enum import StrEnum

from alertd.site import Protection


class Action(StrEnum):
    """Something that people do for a group."""

    MOVE_IN = "move_in"
    CLUSTER = "cluster"
    WRAP = "wrap"
    FILL_RING = "fill_ring"
    BEND_DOWN = "bend_down"
    SHIELD = "shield"
    REINFORCE = "reinforce"
    COVER_IN_STORE = "cover_in_store"
    OPEN_COVER = "open_cover"
    LIFT_COVER = "lift_cover"
    COVER_AGAIN = "cover_again"
    BRING_OUT = "bring_out"
    LOOK_YOURSELF = "look_yourself"


#: The action that puts each protection in place.
ACTION_OF_PROTECTION = {
    Protection.STORE: Action.MOVE_IN,
    Protection.CLUSTER: Action.CLUSTER,
    Protection.WRAP: Action.WRAP,
    Protection.MULCH_RING: Action.FILL_RING,
    Protection.BEND_AND_MULCH: Action.BEND_DOWN,
    Protection.NONE: Action.SHIELD,
}

#: [min] of one person's work for one tree. Assumed, all of them: nobody has published such times.
MINUTES_PER_TREE = {
    Action.MOVE_IN: 8.0,
    Action.CLUSTER: 5.0,
    Action.WRAP: 40.0,
    Action.FILL_RING: 30.0,
    Action.BEND_DOWN: 45.0,
    Action.SHIELD: 10.0,
    Action.REINFORCE: 15.0,
    Action.COVER_IN_STORE: 5.0,
    Action.OPEN_COVER: 5.0,
    Action.LIFT_COVER: 15.0,
    Action.COVER_AGAIN: 15.0,
    Action.BRING_OUT: 8.0,
    Action.LOOK_YOURSELF: 0.0,
}

#: [min] To fetch tools and get going, once a task. Assumed.
SET_UP_MINUTES = 15.0
