"""Which rules speak for a group, and what they say of the weather ahead."""

from __future__ import annotations

from dataclasses import dataclass, field
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
    from alertd.thermal import Exposure, Felt, Models
    from alertd.weather import Series

    from .rules import Rules, RuleSettings
    from .spells import ColdSpell

#: [°C] Root temperature of classes that state none. Assumed: 23 °F, as of the built-in fig classes.
DEFAULT_ROOT_ZONE = -5.0

#: Root balls and covers follow the air by hours; the lowest air so long before a spell of theirs belongs to it.
#: Assumed: the night before.
LAG = timedelta(hours=18)

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
    felt : Felt or None
        What a model says the tissue will feel, for a rule that judges by it; ``None`` for one that judges the air.
    """

    rule: Rule
    critical: CriticalTemperature
    gain: float
    settings: RuleSettings
    felt: Felt | None = field(default=None, compare=False)

    def exposure(self, series: Series, start: datetime, end: datetime) -> Exposure:
        """Return what the tissue feels with start <= time < end.

        Parameters
        ----------
        series : Series
            Weather.
        start, end : datetime
            Aware.

        Returns
        -------
        Exposure
            By the model if there is one, else by the air.
        """
        if self.felt is not None:
            return self.felt.exposure.window(start, end)
        return air_exposure(series.window(start, end), self.critical.tissue, self.gain)


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
    models: Models | None = None,
) -> tuple[Threshold, ...]:
    """Return the rules of cold that apply to a group in its condition.

    Roots in containers are judged by the air as it is: a wrap is not credited to them. A group in
    store is out of the outdoor air and judged by none of the rules of the air.

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
    models : Models or None
        What models say of the group; without them, the rules that judge by models are silent.

    Returns
    -------
    tuple of Threshold
        Enabled rules only; those that judge the air first.
    """
    of_models = () if models is None else model_thresholds(models, condition, hardiness_class, rules, growing=growing)
    if is_in_store(group, condition):
        return of_models
    gain = rules.credits.get(group.protection.value, 0.0) if condition.cover is Cover.IN_PLACE else 0.0
    wanted = [(Rule.WOOD, Tissue.WOOD, gain, rules.wood)]
    if group.growing is Growing.CONTAINER:
        root_gain = gain if group.protection is Protection.CLUSTER else 0.0
        wanted.append((Rule.CONTAINER_ROOTS, Tissue.ROOTS, root_gain, rules.container_roots))
    if growing:
        wanted.append((Rule.SPRING_FROST, Tissue.GROWTH, gain, rules.spring_frost))
    of_air = tuple(
        Threshold(rule, critical_temperature(hardiness_class, tissue, rules.container_threshold), credit, settings)
        for rule, tissue, credit, settings in wanted
        if settings.enabled
    )
    return of_air + of_models


def model_thresholds(
    models: Models,
    condition: Condition,
    hardiness_class: HardinessClass,
    rules: Rules,
    *,
    growing: bool,
) -> tuple[Threshold, ...]:
    """Return the rules that judge a group in its condition by models.

    Parameters
    ----------
    models : Models
        What models say of the group.
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
        Those that are enabled and whose model has something to say.
    """
    group, is_in_place = models.group, condition.cover is Cover.IN_PLACE
    wood = CriticalTemperature(Tissue.WOOD, hardiness_class.wood, at_or_below=True)
    buds = CriticalTemperature(Tissue.GROWTH, hardiness_class.spring_limit, at_or_below=False)
    if is_in_store(group, condition):
        wanted = [(Rule.STORE_ROOM, root_zone_limit(hardiness_class), rules.store_room)]
    else:
        wanted = [(Rule.WOOD_TEMPERATURE, wood, rules.wood_temperature)]
        if group.growing is Growing.CONTAINER:
            wanted.append((Rule.ROOT_ZONE, root_zone_limit(hardiness_class), rules.root_zone))
        if growing:
            wanted.append((Rule.BUD_TEMPERATURE, buds, rules.bud_temperature))
    thresholds = []
    for rule, critical, settings in wanted:
        limit = critical.temperature + settings.margin + settings.hysteresis
        felt = None
        if settings.enabled:
            felt = models.felt(critical.tissue, limit, critical.temperature, is_in_place=is_in_place)
        if felt is not None:
            thresholds.append(Threshold(rule, critical, 0.0, settings, felt))
    return tuple(thresholds)


def root_zone_limit(hardiness_class: HardinessClass) -> CriticalTemperature:
    """Return what roots stand, as their own temperature.

    Parameters
    ----------
    hardiness_class : HardinessClass
        Values of the class.

    Returns
    -------
    CriticalTemperature
        That of an own class that states none is `DEFAULT_ROOT_ZONE`.
    """
    own = hardiness_class.root_zone
    return CriticalTemperature(Tissue.ROOTS, DEFAULT_ROOT_ZONE if own is None else own, at_or_below=False)


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
    exposure = threshold.exposure(series, now, last_onset + SEEN_BEYOND)
    air_temperature = series.window(now, last_onset + SEEN_BEYOND).air_temperature
    if exposure.repeats > 1:
        air_temperature = np.repeat(air_temperature, exposure.repeats, axis=0)
    lead = timedelta(0) if threshold.felt is None else LAG
    spells = cold_spells(
        exposure, air_temperature, threshold.critical, threshold.settings, lingering=lingering, lead=lead
    )
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
