"""Checks across keys: names that must match, protections that must fit, numbers that must agree.

Every check works on the part of the configuration that has the right types, so that one mistake does
not hide another.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

from alertd.hardiness import BUILT_IN_CLASSES
from alertd.risk import RuleSettings

from .garden_sections import WorkSection
from .outline import is_plain, nearest, shown
from .quantities import length_of_time, quiet_hours, time_of_day
from .service_sections import DeliverySection, PollingSection
from .standing_checks import check_standing

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from .findings import Draft, Findings

_BUILT_IN = tuple(built.name for built in BUILT_IN_CLASSES)

#: Where each protection can be used.
_CONTAINERS_ONLY = ("store", "cluster")
_IN_GROUND_ONLY = ("mulch_ring", "bend_and_mulch")

#: Lists whose entries have a name that must be used only once, and the key of that name.
_NAMED_LISTS = (("groups", "id"), ("channels", "name"), ("recipients", "name"), ("sources", "name"))

#: Alerts about the whole site carry this instead of a group's id.
_RESERVED_GROUP_ID = "site"

#: The rules that have numbers of their own.
RULE_NAMES = (
    "container_roots",
    "wood",
    "spring_frost",
    "root_zone",
    "wood_temperature",
    "bud_temperature",
    "store_room",
    "uncover",
    "bring_out",
)


def check_across(draft: Draft, findings: Findings) -> None:
    """Note what does not fit together.

    Parameters
    ----------
    draft : Draft
        The configuration.
    findings : Findings
        Takes problems.
    """
    for name, key in _NAMED_LISTS:
        _check_names(draft, name, key, findings)
    known = known_classes(draft)
    for position, group in draft.entries("groups"):
        _check_group(position, group, known, findings)
        check_standing(position, group, draft, findings)
    _check_own_classes(draft, findings)
    for position, recipient in draft.entries("recipients"):
        _check_recipient(position, recipient, draft, findings)
        _check_digest(position, recipient, findings)
    _check_escalation(draft, findings)
    for position, _ in draft.entries("channels"):
        _check_has_address(position, draft, findings)
    for rule in RULE_NAMES:
        _check_probabilities(rule, draft, findings)
    _check_hours(draft, findings)
    _check_pauses(draft, findings)


def known_classes(draft: Draft) -> tuple[str, ...]:
    """Return the names of all hardiness classes, built in and own.

    Parameters
    ----------
    draft : Draft
        The configuration.

    Returns
    -------
    tuple of str
        Built-in ones first.
    """
    own = draft.raw.get("classes")
    return _BUILT_IN + tuple(name for name in (own if isinstance(own, dict) else {}) if name not in _BUILT_IN)


def _check_names(draft: Draft, name: str, key: str, findings: Findings) -> None:
    first: dict[str, int] = {}
    for position, entry in draft.entries(name):
        text = entry.get(key)
        if text is None:
            continue
        if text in first:
            what = f"{shown(text)} is already used by {name}[{first[text]}]"
            findings.refuse((name, position, key), what, f"give each of the {name} its own {key}")
        first.setdefault(text, position)


def _check_group(position: int, group: Mapping[str, Any], known: Sequence[str], findings: Findings) -> None:
    path = ("groups", position)
    if group.get("id") == _RESERVED_GROUP_ID:
        findings.refuse((*path, "id"), '"site" stands for the whole site', "choose another id")
    if "class" in group and group["class"] not in known:
        _refuse_name((*path, "class"), group["class"], "hardiness class", known, findings)
    growing, protection = group.get("growing"), group.get("protection")
    if growing == "in_ground" and protection in _CONTAINERS_ONLY:
        mend = "use wrap, mulch_ring, bend_and_mulch or none"
        findings.refuse((*path, "protection"), f'"{protection}" is for containers only', mend)
    if growing == "container" and protection in _IN_GROUND_ONLY:
        mend = "use store, cluster, wrap or none"
        findings.refuse((*path, "protection"), f'"{protection}" is for trees in the ground only', mend)
    if growing == "in_ground" and group.get("litres") is not None:
        findings.refuse((*path, "litres"), "is for containers only", "remove it")


def _check_own_classes(draft: Draft, findings: Findings) -> None:
    for name in draft.sound.get("classes", {}):
        if name in _BUILT_IN:
            continue
        for key in ("wood", "spring_limit"):
            if not draft.has("classes", name, key):
                mend = f"add it, or use the name of a built-in class ({', '.join(_BUILT_IN)})"
                findings.refuse(("classes", name, key), "is missing in an own class", mend)


def _check_recipient(position: int, recipient: Mapping[str, Any], draft: Draft, findings: Findings) -> None:
    for owner, name_key, noun in (("channels", "name", "channel"), ("groups", "id", "group")):
        known = draft.names(owner, name_key)
        named = recipient.get(owner) or []
        for place, name in enumerate(named):
            path = ("recipients", position, owner, place)
            if name is None:
                continue
            if name not in known:
                _refuse_name(path, name, noun, known, findings)
            elif name in named[:place]:
                findings.refuse(path, f"{shown(name)} is named twice", "remove one of the two")


def _check_digest(position: int, recipient: Mapping[str, Any], findings: Findings) -> None:
    quiet, digest = recipient.get("quiet_hours"), recipient.get("digest")
    if quiet and digest and quiet_hours(quiet).has(time_of_day(digest)):
        what = f"the digest at {digest} would come in the quiet hours {quiet}"
        findings.refuse(("recipients", position, "digest"), what, "choose an hour outside, like their end")


def _check_escalation(draft: Draft, findings: Findings) -> None:
    """Refuse names that nobody bears, and rings: who asks in a ring may find nobody who has not been asked."""
    known = draft.names("recipients", "name")
    following: dict[str, str] = {}
    for position, recipient in draft.entries("recipients"):
        name, target = recipient.get("name"), recipient.get("escalate_to")
        if target is None:
            continue
        path = ("recipients", position, "escalate_to")
        if target not in known:
            _refuse_name(path, target, "recipient", known, findings)
        elif target == name:
            findings.refuse(path, f"{shown(target)} is this very recipient", "name another one, or leave it out")
        elif name is not None:
            ring = _chain(following, target)
            if ring[-1] == name:
                way = ", ".join(f"{shown(first)} to {shown(second)}" for first, second in pairwise([name, *ring]))
                findings.refuse(path, f"goes round in a ring: {way}", "let the last one name nobody")
            else:
                following.setdefault(name, target)


def _chain(following: Mapping[str, str], name: str) -> list[str]:
    """Return who is asked after whom, from a name on; free of rings, since none is let in."""
    chain = [name]
    while chain[-1] in following:
        chain.append(following[chain[-1]])
    return chain


def _check_has_address(position: int, draft: Draft, findings: Findings) -> None:
    path = ("channels", position)
    if not draft.has(*path, "url") and not draft.has(*path, "credential"):
        mend = "add one of them; a credential names a file that holds the address"
        findings.refuse(path, "has neither a url nor a credential", mend)


def _check_probabilities(rule: str, draft: Draft, findings: Findings) -> None:
    opening = draft.value(("rules", rule, "probability_open"), RuleSettings().probability_open)
    closing = draft.value(("rules", rule, "probability_close"), RuleSettings().probability_close)
    if opening is not None and closing is not None and closing > opening:
        key = "probability_close" if draft.has("rules", rule, "probability_close") else "probability_open"
        what = f"the closing probability {closing:g} is above the opening one {opening:g}"
        findings.refuse(("rules", rule, key), what, "close at or below the opening probability")


def _check_hours(draft: Draft, findings: Findings) -> None:
    earliest = draft.value(("work", "earliest"), WorkSection().earliest)
    latest = draft.value(("work", "latest"), WorkSection().latest)
    if earliest and latest and time_of_day(earliest) >= time_of_day(latest):
        key = "latest" if draft.has("work", "latest") else "earliest"
        what = f"working hours from {earliest} to {latest} are empty"
        findings.refuse(("work", key), what, "let the latest time come after the earliest one")


def _check_pauses(draft: Draft, findings: Findings) -> None:
    every = draft.value(("polling", "every"), PollingSection().every)
    stale = draft.value(("polling", "stale_after"), PollingSection().stale_after)
    if every and stale and length_of_time(every) > length_of_time(stale):
        key = "every" if draft.has("polling", "every") else "stale_after"
        what = f"a look every {every} is rarer than the {stale} after which a forecast is stale"
        findings.refuse(("polling", key), what, "look more often, or trust forecasts for longer")
    first = draft.value(("delivery", "first_retry"), DeliverySection().first_retry)
    longest = draft.value(("delivery", "max_retry"), DeliverySection().max_retry)
    if first and longest and length_of_time(first) > length_of_time(longest):
        key = "first_retry" if draft.has("delivery", "first_retry") else "max_retry"
        what = f"the first pause {first} is longer than the longest one {longest}"
        findings.refuse(("delivery", key), what, "let max_retry be at least first_retry")


def _refuse_name(path: tuple[str | int, ...], name: str, noun: str, known: Sequence[str], findings: Findings) -> None:
    plain = [each for each in dict.fromkeys(known) if is_plain(each)]
    near = nearest(name, plain)
    hint = f'did you mean "{near}"? ' if near else ""
    mend = f"{hint}use one of: {', '.join(plain)}" if plain else f"add a {noun} of that name"
    findings.refuse(path, f"{shown(name)} is no known {noun}", mend)
