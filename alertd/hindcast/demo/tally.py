"""What the demo tells at its end: what was sent, and how the cold met the trees."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TYPE_CHECKING

from alertd.alerts import NoticeKind, Outcome
from alertd.core import temperature_text
from alertd.hindcast.truth import HarmfulSpell, harmful_spells_of
from alertd.messages import condition_text, day_text
from alertd.plan import Action
from alertd.risk import Rule
from alertd.site import Cover

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from alertd.alerts import Alert, Garden, Notice
    from alertd.messages import Letter
    from alertd.site import Condition, TreeGroup
    from alertd.weather import Series

#: What each kind of notice is called in the summary, in this order.
_KINDS = {
    NoticeKind.OPENED: "new matters",
    NoticeKind.ACT: "calls to work",
    NoticeKind.CHANGED: "changes",
    NoticeKind.POSTPONED: "not yet after all",
    NoticeKind.REMINDER: "reminders",
    NoticeKind.FINAL_CALL: "last calls",
    NoticeKind.CANCELLED: "no need after all",
    NoticeKind.ALL_CLEAR: "all clear, or noted",
    NoticeKind.EXPIRED: "over, unanswered",
    NoticeKind.CLOSED: "over, set aside",
}

#: Tasks that help through one spell and leave nothing in place.
_FOR_ONE_SPELL = {Action.SHIELD, Action.REINFORCE, Action.COVER_IN_STORE}


class Met(StrEnum):
    """How a group met a spell that hurts it when it stands bare."""

    IN_PLACE = "in place"
    TENDED = "tended"
    SET_ASIDE = "set aside"
    UNMET = "unmet"


@dataclass(frozen=True, slots=True)
class Meeting:
    """One spell that would have hurt a group without any help, and how it met it.

    Parameters
    ----------
    spell : HarmfulSpell
        As the weather really was.
    met : Met
        How.
    words : str
        The same for the reader.
    """

    spell: HarmfulSpell
    met: Met
    words: str


def meetings(
    garden: Garden,
    series: Series,
    alerts: Sequence[Alert],
    conditions: Mapping[str, Sequence[tuple[datetime, Condition]]],
) -> tuple[Meeting, ...]:
    """Return how the groups met the cold that would have hurt them without any help.

    Parameters
    ----------
    garden : Garden
        Groups, classes, rules.
    series : Series
        What the weather did, shape (1, n_times) [°C].
    alerts : sequence of Alert
        All of the winter.
    conditions : mapping of str to sequence of (datetime, Condition)
        By group id: from when on it stood how.

    Returns
    -------
    tuple of Meeting
        By group, in order.
    """
    met = []
    for group in garden.groups:
        stood = conditions[group.group_id]
        helpless = [(since, _helpless(each)) for since, each in stood]
        hurt = harmful_spells_of(garden, group, series, stood)
        met += [
            _meeting(group, spell, hurt, alerts, stood) for spell in harmful_spells_of(garden, group, series, helpless)
        ]
    return tuple(met)


def summary(garden: Garden, letters: Sequence[Letter], notices: Sequence[Notice], met: Sequence[Meeting]) -> str:
    """Return what the demo tells at its end.

    Parameters
    ----------
    garden : Garden
        Names, units, local time.
    letters : sequence of Letter
        Everything that was sent.
    notices : sequence of Notice
        Every matter that the letters spoke of.
    met : sequence of Meeting
        How the groups met the cold.

    Returns
    -------
    str
        Lines.
    """
    readers = Counter(letter.recipient for letter in letters)
    kinds = Counter(notice.kind for notice in notices if notice.alert.rule is not Rule.BLIND)
    blind = sum(notice.alert.rule is Rule.BLIND for notice in notices)
    lines = [
        "The winter is over.",
        "",
        f"Letters: {', '.join(f'{count} to {reader}' for reader, count in readers.items())}. They spoke of:",
        *(f"- {words}: {kinds[kind]}" for kind, words in _KINDS.items() if kinds[kind]),
        f"- the watch blind, or seeing again: {blind}",
        "",
        "Cold that hurts these trees where they stand bare, and how it met them:",
    ]
    for group in garden.groups:
        of_group = [each for each in met if each.spell.group == group.group_id]
        for words in dict.fromkeys(each.words for each in of_group):
            alike = [each.spell for each in of_group if each.words == words]
            lines.append(f"- {group.name}, {_cold_text(garden, alike)}: {words}")
    return "\n".join(lines)


def _helpless(condition: Condition) -> Condition:
    """Return how a group would stand if nobody had done anything for it."""
    return condition if condition.cover is not Cover.IN_PLACE else replace(condition, cover=Cover.OFF)


def _meeting(
    group: TreeGroup,
    spell: HarmfulSpell,
    hurt: Sequence[HarmfulSpell],
    alerts: Sequence[Alert],
    stood: Sequence[tuple[datetime, Condition]],
) -> Meeting:
    """Return how a group met a spell."""
    condition = next(each for since, each in reversed(stood) if since <= spell.onset)
    if not any(_overlap(spell, each.onset, each.end) for each in hurt):
        return Meeting(spell, Met.IN_PLACE, condition_text(group, condition))
    about = [alert for alert in alerts if alert.group == spell.group and _speaks_of(alert, spell)]
    if any(alert.outcome is Outcome.DONE and alert.action in _FOR_ONE_SPELL for alert in about):
        return Meeting(spell, Met.TENDED, f"{condition_text(group, condition)}, and tended for it when told")
    if any(alert.outcome is Outcome.DECLINED for alert in about):
        return Meeting(spell, Met.SET_ASIDE, "told, and left as it was: not this time")
    return Meeting(spell, Met.UNMET, f"{condition_text(group, condition)}, and nothing was done")


def _speaks_of(alert: Alert, spell: HarmfulSpell) -> bool:
    """Return whether an alert was about a spell."""
    onset, end = alert.announced.onset, alert.end
    return onset is not None and end is not None and _overlap(spell, onset, end)


def _overlap(spell: HarmfulSpell, onset: datetime, end: datetime) -> bool:
    """Return whether a spell shares time with another stretch of time."""
    return onset <= spell.end and end >= spell.onset


def _cold_text(garden: Garden, spells: Sequence[HarmfulSpell]) -> str:
    """Return when cold came, how often, and how low it went."""
    days = list(dict.fromkeys(_day(garden, each) for each in (spells[0].onset, spells[-1].end)))
    lowest = temperature_text(min(spell.minimum for spell in spells), garden.units)
    often = "" if len(spells) == 1 else f"{len(spells)} times from "
    return f"{often}{' to '.join(days)}, down to {lowest}"


def _day(garden: Garden, instant: datetime) -> str:
    """Return a local day without its weekday."""
    return day_text(instant, garden.site).split(maxsplit=1)[1]
