"""How well the alerts met what the weather did."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.core import ResponseType
from alertd.risk import Rule
from alertd.site import Cover

if TYPE_CHECKING:
    from alertd.alerts import Alert

    from .engine import Hindcast
    from .truth import HarmfulSpell

#: A spell and an alert this far apart still speak of the same cold. Assumed: half a day.
SAME_COLD = timedelta(hours=12)

_COLD_RULES = {
    Rule.CONTAINER_ROOTS,
    Rule.WOOD,
    Rule.SPRING_FROST,
    Rule.ROOT_ZONE,
    Rule.WOOD_TEMPERATURE,
    Rule.BUD_TEMPERATURE,
    Rule.STORE_ROOM,
}


@dataclass(frozen=True, slots=True)
class Score:
    """Counts of a two-by-two table without its fourth cell.

    Parameters
    ----------
    hits : int
        Harmful spells for which people were told to act before the onset.
    protected : int
        Harmful spells that found the group's protection in place from an earlier one.
    misses : int
        The other harmful spells.
    false_alarms : int
        Alerts that told people to act and met no harmful spell.
    """

    hits: int
    protected: int
    misses: int
    false_alarms: int


def score(hindcast: Hindcast) -> Score:
    """Return hits, misses and false alarms of a hindcast.

    Parameters
    ----------
    hindcast : Hindcast
        Alerts and truth.

    Returns
    -------
    Score
        An alert counts once it said Execute; one that only said Prepare asked for no trip.
    """
    told = [alert for alert in hindcast.alerts if alert.rule in _COLD_RULES]
    unwarned = [spell for spell in hindcast.harmful if not any(_warned(alert, spell) for alert in told)]
    protected = sum(1 for spell in unwarned if hindcast.stood_at(spell.group, spell.onset).cover is Cover.IN_PLACE)
    false_alarms = sum(
        1 for alert in told if _says_execute(alert) and not any(_is_same(alert, spell) for spell in hindcast.harmful)
    )
    return Score(len(hindcast.harmful) - len(unwarned), protected, len(unwarned) - protected, false_alarms)


def _says_execute(alert: Alert) -> bool:
    """Return whether an alert ever told people to act."""
    return any(told.response_type is ResponseType.EXECUTE for told in alert.history)


def _is_same(alert: Alert, spell: HarmfulSpell) -> bool:
    """Return whether an alert and a harmful spell speak of the same cold."""
    if alert.group != spell.group or alert.opened.onset is None:
        return False
    onsets = [told.onset for told in alert.history if told.onset is not None]
    end = max(*onsets, alert.end or onsets[0])
    return min(onsets) - SAME_COLD <= spell.end and spell.onset <= end + SAME_COLD


def _warned(alert: Alert, spell: HarmfulSpell) -> bool:
    """Return whether an alert told people to act before a harmful spell began."""
    return _is_same(alert, spell) and any(
        told.response_type is ResponseType.EXECUTE and told.sent < spell.onset for told in alert.history
    )
