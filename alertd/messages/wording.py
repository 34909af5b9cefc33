"""Words for actions, rules and conditions."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from alertd.plan import Action
from alertd.risk import Rule
from alertd.site import Cover, Protection

if TYPE_CHECKING:
    from alertd.site import Condition, TreeGroup

#: What is to be done, with the group's name to be filled in; begins with a verb.
ACTION_PHRASES = {
    Action.MOVE_IN: "move {name} into store",
    Action.CLUSTER: "push {name} together in a sheltered spot",
    Action.WRAP: "wrap {name}",
    Action.FILL_RING: "fill the mulch rings of {name}",
    Action.BEND_DOWN: "bend down and bury {name}",
    Action.SHIELD: "cover {name} for the night as well as you can",
    Action.REINFORCE: "add to the cover of {name}",
    Action.COVER_IN_STORE: "keep {name} in store from freezing",
    Action.OPEN_COVER: "open the covers of {name}",
    Action.LIFT_COVER: "lift the covers of {name}",
    Action.COVER_AGAIN: "cover {name} again",
    Action.BRING_OUT: "bring {name} out of store",
    Action.LOOK_YOURSELF: "read a forecast yourself",
}

#: How it is done, in a sentence or two. Common practice, no source.
ACTION_ADVICE = {
    Action.MOVE_IN: "Store them where it stays a little above freezing and dark or bright as the species wants it.",
    Action.CLUSTER: "Pot to pot, on the ground, against a heated wall on its south-west side if there is one.",
    Action.WRAP: (
        "Prune first but keep tips and side buds, they carry the early crop. Tie up, wrap, and close the wrap airtight "
        "down to the ground: a cover that lets air through protects nothing."
    ),
    Action.FILL_RING: "Coarse chips rot the wood less than straw. A tarp on top keeps the rain off.",
    Action.BEND_DOWN: "Bend the limbs slowly, stake them to the ground, mulch, and keep the rain off with a tarp.",
    Action.SHIELD: "A cover that reaches the ground and is closed all round holds some of the warmth of the soil.",
    Action.REINFORCE: "Another layer, the foot closed with soil or mulch, holes taped.",
    Action.COVER_IN_STORE: (
        "Stand the pots close together, away from the door and the outer walls, and cover them down to the floor with "
        "blankets. Barrels of water beside them hold some warmth. Heat only with a heater that is made for such a room."
    ),
    Action.OPEN_COVER: "Open the top or a side now and lift the rest later. Keep the cover beside the trees.",
    Action.LIFT_COVER: "On a cloudy mild day. Keep the cover beside the trees until frosts are surely over.",
    Action.COVER_AGAIN: "Close the cover down to the ground before sunset and open it in the morning.",
    Action.BRING_OUT: "Into shade first, then by steps into the sun. Keep a way back into store free.",
    Action.LOOK_YOURSELF: "Until the watch sees again, nobody here will tell you of a cold night.",
}

#: Which tissue a rule speaks for, and what happens to it.
RULE_REASONS = {
    Rule.CONTAINER_ROOTS: "below which roots in containers may take damage",
    Rule.WOOD: "at or below which the wood takes damage",
    Rule.SPRING_FROST: "below which shoots and buds in growth take damage",
    Rule.ROOT_ZONE: "below which roots may die, by what a model computes of the root balls",
    Rule.WOOD_TEMPERATURE: "at or below which the wood takes damage, by what a model computes of the wood",
    Rule.BUD_TEMPERATURE: "below which shoots and buds in growth take damage, by what a model computes of them",
    Rule.STORE_ROOM: "below which roots may die, by what a model computes of the pots in store",
}

_IN_PLACE = {
    Protection.STORE: "in store",
    Protection.CLUSTER: "pushed together",
    Protection.WRAP: "wrapped",
    Protection.MULCH_RING: "in their mulch rings",
    Protection.BEND_AND_MULCH: "bent down and buried",
    Protection.NONE: "covered",
}

_NOT_IN_PLACE = {Protection.STORE: "outside", Protection.CLUSTER: "outside", Protection.NONE: "bare, as planned"}


def action_phrase(action: Action, name: str) -> str:
    """Return what is to be done for a group, beginning with a verb in lower case."""
    return ACTION_PHRASES[action].format(name=name)


def percent_text(probability: float | None, *, is_exact: bool) -> str:
    """Return a probability as people read it, never as a certainty that a forecast cannot have.

    Parameters
    ----------
    probability : float or None
        0 to 1.
    is_exact : bool
        Whether the forecast is the truth.

    Returns
    -------
    str
        Like ``43 %``; ``unknown`` for ``None``.
    """
    if probability is None:
        return "unknown"
    if is_exact:
        return f"{100 * probability:.0f} %"
    return f"{min(max(round(100 * probability), 1), 99)} %"


def bound_text(text: str) -> str:
    """Return a text in which no number is parted from its unit at the end of a line."""
    return re.sub(r"(?<=\d) (?=°[CF]|%|h\b|min\b|L\b)", "\N{NO-BREAK SPACE}", text)


def sentence(text: str) -> str:
    """Return a text with its first letter in upper case."""
    return text[:1].upper() + text[1:]


def condition_text(group: TreeGroup, condition: Condition) -> str:
    """Return how a group stands, like ``wrapped`` or ``outside, uncovered``.

    Parameters
    ----------
    group : TreeGroup
        With its planned protection.
    condition : Condition
        As reported.

    Returns
    -------
    str
        A few words.
    """
    if condition.cover is Cover.IN_PLACE:
        return _IN_PLACE[group.protection]
    if condition.cover is Cover.OPENED:
        return "cover opened"
    if condition.cover is Cover.LIFTED:
        return "brought out" if group.protection is Protection.STORE else "cover lifted, kept at hand"
    return _NOT_IN_PLACE.get(group.protection, "not covered yet")
