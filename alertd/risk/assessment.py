"""Which rules speak for a group, and what they say of the weather ahead."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.site import Cover, Growing, Protection
from alertd.thermal import Tissue, air_exposure

from .critical import CriticalTemperature, critical_temperature
from .rules import Rule
from .spells import cold_spells

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.hardiness import HardinessClass
    from alertd.site import Condition, TreeGroup
    from alertd.weather import Series

    from .rules import Rules, RuleSettings
    from .spells import ColdSpell

#: How far past its horizon a rule follows a spell that begins within it. Assumed: two more nights.
SEEN_BEYOND = timedelta(hours=48)


@dataclass(frozen=True, slots=True)
class Threshold:
    """One rule as it applies to one group.

    Parameters
    ----------
    rule : Rule
        Which rule.
    critical : CriticalTemperature
        What the tissue stands.
    gain : float
        [°C] Credit of the protection in place.
    settings : RuleSettings
        Numbers of the rule.
    """

    rule: Rule
    critical: CriticalTemperature
    gain: float
    settings: RuleSettings


@dataclass(frozen=True, slots=True)
class Assessment:
    """What one rule says of one group.

    Parameters
    ----------
    group : str
        Group id.
    threshold : Threshold
        Rule, critical temperature and credit.
    spells : tuple of ColdSpell
        In order of onset; empty if nothing threatens within the rule's horizon.
    """

    group: str
    threshold: Threshold
    spells: tuple[ColdSpell, ...]


def is_judged_as_growing(condition: Condition, *, past_last_freeze: bool, protection: Protection | None = None) -> bool:
    """Return whether a frost would meet growing tissue.

    Past the date from which the site's people trust the spring, whatever stands bare is in growth,
    reported or not: a late frost must not pass in silence because nobody looked at the buds. Pots that
    were pushed together, and groups without a protection, stand bare even where that is in place.

    Parameters
    ----------
    condition : Condition
        What people reported.
    past_last_freeze : bool
        Whether the site's last-freeze date has passed.
    protection : Protection or None
        What the group gets, where known.

    Returns
    -------
    bool
        Whether the spring limit applies.
    """
    is_bare = condition.cover is Cover.OFF or protection in {Protection.CLUSTER, Protection.NONE}
    return condition.is_in_growth or (past_last_freeze and is_bare)


def is_in_store(group: TreeGroup, condition: Condition) -> bool:
    """Return whether the group stands in store, out of the outdoor air."""
    return group.protection is Protection.STORE and condition.cover is Cover.IN_PLACE


def cold_thresholds(
    group: TreeGroup,
    condition: Condition,
    hardiness_class: HardinessClass,
    rules: Rules,
    *,
    growing: bool,
) -> tuple[Threshold, ...]:
    """Return the rules of cold that apply to a group in its condition.

    Roots in containers are judged by the air as it is: a wrap is not credited to them. A group in
    store is out of the outdoor air and judged by none.

    Parameters
    ----------
    group : TreeGroup
        The group.
    condition : Condition
        Its condition.
    hardiness_class : HardinessClass
        Its class.
    rules : Rules
        The site's rules.
    growing : bool
        Whether frost would meet growing tissue.

    Returns
    -------
    tuple of Threshold
        Enabled rules only.
    """
    if is_in_store(group, condition):
        return ()
    gain = rules.credits.get(group.protection.value, 0.0) if condition.cover is Cover.IN_PLACE else 0.0
    wanted = [(Rule.WOOD, Tissue.WOOD, gain, rules.wood)]
    if group.growing is Growing.CONTAINER:
        root_gain = gain if group.protection is Protection.CLUSTER else 0.0
        wanted.append((Rule.CONTAINER_ROOTS, Tissue.ROOTS, root_gain, rules.container_roots))
    if growing:
        wanted.append((Rule.SPRING_FROST, Tissue.GROWTH, gain, rules.spring_frost))
    return tuple(
        Threshold(rule, critical_temperature(hardiness_class, tissue, rules.container_threshold), credit, settings)
        for rule, tissue, credit, settings in wanted
        if settings.enabled
    )


def assess(
    group_id: str,
    threshold: Threshold,
    series: Series,
    now: datetime,
    *,
    lingering: bool = False,
    is_open: bool = False,
) -> Assessment:
    """Return what one rule says of one group from now on.

    Spells count when they begin within the rule's horizon. They are followed `SEEN_BEYOND` past it, so
    that the nights of a spell are seen together when its first hour comes into view, and people are not
    told of each next night as if the forecast had changed. For an alert that is open already a spell counts
    wherever it is seen: one that slips back over the horizon has not eased.

    Parameters
    ----------
    group_id : str
        The group.
    threshold : Threshold
        The rule as it applies to it.
    series : Series
        Weather with its uncertainty in realizations.
    now : datetime
        Aware.
    lingering : bool
        Judge as for an alert that is open already, with hysteresis.
    is_open : bool
        Count spells as for an alert that is open already, however far ahead they begin.

    Returns
    -------
    Assessment
        With its cold spells.
    """
    last_onset = now + threshold.settings.horizon
    ahead = series.window(now, last_onset + SEEN_BEYOND)
    exposure = air_exposure(ahead, threshold.critical.tissue, threshold.gain)
    spells = cold_spells(exposure, ahead.air_temperature, threshold.critical, threshold.settings, lingering=lingering)
    return Assessment(group_id, threshold, tuple(spell for spell in spells if is_open or spell.onset <= last_onset))


def frost_probability(series: Series, now: datetime, settings: RuleSettings, limit: float) -> float | None:
    """Return the probability that the air falls below a limit within a rule's horizon.

    Parameters
    ----------
    series : Series
        Weather.
    now : datetime
        Aware.
    settings : RuleSettings
        Horizon, and the margin added to the limit.
    limit : float
        [°C]

    Returns
    -------
    float or None
        0 to 1; ``None`` if the forecast does not reach to the horizon: nothing is called safe unseen.
    """
    end = now + settings.horizon
    ahead = series.window(now, end)
    if ahead.n_times == 0 or np.datetime64(end.replace(tzinfo=None), "s") - ahead.times[-1] > _UNSEEN_AT_MOST:
        return None
    known = ~np.all(np.isnan(ahead.air_temperature), axis=1)
    if not known.any():
        return None
    lowest = np.nanmin(ahead.air_temperature[known], axis=1)
    return float(np.mean(lowest < limit + settings.margin))


#: How much of a horizon may lie beyond the forecast's last hour: the step of the coarsest axis in use.
_UNSEEN_AT_MOST = np.timedelta64(6 * 3600, "s")
