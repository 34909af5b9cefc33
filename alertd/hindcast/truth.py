"""What the weather really did to each group, to be compared with what was told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import from_datetime64, to_datetime64
from alertd.risk import cold_thresholds, is_judged_as_growing
from alertd.site import Condition
from alertd.thermal import Models, ModelWeather

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime, timedelta

    from numpy.typing import NDArray

    from alertd.alerts import Garden
    from alertd.risk import Rule, Rules, Threshold
    from alertd.site import TreeGroup
    from alertd.weather import Series


@dataclass(frozen=True, slots=True)
class HarmfulSpell:
    """A stretch of time in which a group passed a critical temperature.

    Parameters
    ----------
    group : str
        Group id.
    onset, end : datetime
        First and last harmful hour, aware UTC.
    minimum : float
        [°C] Lowest air temperature of the stretch.
    rules : tuple of Rule
        By which it did harm.
    """

    group: str
    onset: datetime
    end: datetime
    minimum: float
    rules: tuple[Rule, ...]


@dataclass(frozen=True, slots=True)
class HoursBelow:
    """How often the air, or what a model makes of it, passed a threshold, whatever was in place.

    Parameters
    ----------
    group : str
        Group id.
    threshold : Threshold
        Rule and critical temperature of the bare, dormant group.
    hours : int
        Number of record times that pass it.
    """

    group: str
    threshold: Threshold
    hours: int


def models_over(garden: Garden, series: Series, before: Series | None = None) -> dict[str, Models]:
    """Return what models say of each group over a record.

    Parameters
    ----------
    garden : Garden
        Groups, and the share of a root ball that may be lost.
    series : Series
        A record, shape (1, n_times) [°C].
    before : Series or None
        What the record says of the days before, from which models start; ``None`` where it says nothing.

    Returns
    -------
    dict of str to Models
        By group id; each computed once, when a rule asks for it.
    """
    weather = ModelWeather(garden.site, series, None if before is None or before.n_times == 0 else before)
    return {group.group_id: models_of(garden, group, weather) for group in garden.groups}


def hours_below(garden: Garden, series: Series, models: Mapping[str, Models] | None = None) -> tuple[HoursBelow, ...]:
    """Return how often the air, or what a model makes of it, passed each group's thresholds of winter.

    Parameters
    ----------
    garden : Garden
        Groups, classes, rules.
    series : Series
        A record, shape (1, n_times) [°C].
    models : mapping of str to Models or None
        From `models_over`; ``None`` makes them.

    Returns
    -------
    tuple of HoursBelow
        By group and rule.
    """
    said = models_over(garden, series) if models is None else models
    return tuple(
        HoursBelow(group.group_id, threshold, int(np.count_nonzero(passes(series, threshold))))
        for group in garden.groups
        for threshold in _thresholds(garden, said[group.group_id], Condition(), growing=False)
    )


def harmful_spells(
    garden: Garden, series: Series, models: Mapping[str, Models] | None = None
) -> tuple[HarmfulSpell, ...]:
    """Return the stretches of time that would have done harm to groups standing bare.

    Parameters
    ----------
    garden : Garden
        Groups, classes, rules.
    series : Series
        A record, shape (1, n_times) [°C].
    models : mapping of str to Models or None
        From `models_over`; ``None`` makes them.

    Returns
    -------
    tuple of HarmfulSpell
        By group, in order.
    """
    stood = [(from_datetime64(series.times[0]), Condition())]
    said = models_over(garden, series) if models is None else models
    return tuple(
        spell
        for group in garden.groups
        for spell in harmful_spells_of(garden, group, series, stood, said[group.group_id])
    )


def models_of(garden: Garden, group: TreeGroup, weather: ModelWeather) -> Models:
    """Return what models say of a group over a record.

    Parameters
    ----------
    garden : Garden
        Gives the share of a root ball that may be lost.
    group : TreeGroup
        The group.
    weather : ModelWeather
        The record, for all groups.

    Returns
    -------
    Models
        Computed when a rule asks for it.
    """
    return Models(group, weather, garden.rules.root_share)


def harmful_spells_of(
    garden: Garden,
    group: TreeGroup,
    series: Series,
    stood: Sequence[tuple[datetime, Condition]],
    models: Models | None = None,
) -> tuple[HarmfulSpell, ...]:
    """Return the stretches of time that did harm to a group, given how it stood.

    Harm is judged by the same thresholds as alerts: by the air, and by models where their rules are enabled.

    Parameters
    ----------
    garden : Garden
        Site, classes, rules.
    group : TreeGroup
        The group.
    series : Series
        A record, shape (1, n_times) [°C].
    stood : sequence of (datetime, Condition)
        From when on the group stood how, aware UTC, in order; the first at or before the record's start.
    models : Models or None
        What models say of the group over the record; ``None`` makes them.

    Returns
    -------
    tuple of HarmfulSpell
        In order. Harmful hours closer together than the shortest gap of the enabled rules are one.
    """
    said = models or models_of(garden, group, ModelWeather(garden.site, series, None))
    harmful = _harmful(garden, said, series, stood)
    hours = np.flatnonzero(np.any([np.zeros(series.n_times, dtype=bool), *harmful.values()], axis=0))
    if hours.size == 0:
        return ()
    gap = _shortest_gap(garden.rules)
    breaks = np.flatnonzero(np.diff(series.times[hours]) > np.timedelta64(gap)) + 1
    return tuple(
        HarmfulSpell(
            group.group_id,
            from_datetime64(series.times[part[0]]),
            from_datetime64(series.times[part[-1]]),
            float(np.nanmin(series.air_temperature[0, part[0] : part[-1] + 1])),
            tuple(rule for rule, passed in harmful.items() if passed[part].any()),
        )
        for part in np.split(hours, breaks)
    )


def _shortest_gap(rules: Rules) -> timedelta:
    """Return the shortest gap between spells of the enabled rules of cold."""
    of_air = (rules.wood, rules.container_roots, rules.spring_frost)
    of_models = (rules.root_zone, rules.wood_temperature, rules.bud_temperature, rules.store_room)
    return min(each.spell_gap for each in of_air + of_models if each.enabled)


def _harmful(
    garden: Garden, models: Models, series: Series, stood: Sequence[tuple[datetime, Condition]]
) -> dict[Rule, NDArray[np.bool_]]:
    """Return by which rule in which hours a tissue passed its critical temperature."""
    harmful: dict[Rule, NDArray[np.bool_]] = {}
    is_spring = np.array([garden.site.is_past_last_freeze(from_datetime64(time)) for time in series.times], dtype=bool)
    starts = np.array([to_datetime64(since) for since, _ in stood])
    segment = np.searchsorted(starts, series.times, side="right") - 1
    for index, (_, condition) in enumerate(stood):
        for spring in (False, True):
            hours = (segment == index) & (is_spring == spring)
            growing = is_judged_as_growing(condition, past_last_freeze=spring, protection=models.group.protection)
            for threshold in _thresholds(garden, models, condition, growing=growing) if hours.any() else ():
                before = harmful.setdefault(threshold.rule, np.zeros(series.n_times, dtype=bool))
                harmful[threshold.rule] = before | (hours & passes(series, threshold))
    return harmful


def _thresholds(garden: Garden, models: Models, condition: Condition, *, growing: bool) -> tuple[Threshold, ...]:
    """Return the rules of cold that apply to a group in a condition."""
    hardiness_class = garden.classes[models.group.hardiness_class]
    return cold_thresholds(models.group, condition, hardiness_class, garden.rules, growing=growing, models=models)


def passes(series: Series, threshold: Threshold) -> NDArray[np.bool_]:
    """Return in which hours of a record the exposure passes a critical temperature.

    Parameters
    ----------
    series : Series
        A record, shape (1, n_times) [°C].
    threshold : Threshold
        A rule. Where it judges by a model, the median of the model's draws counts: what the model has, without its
        uncertainty.

    Returns
    -------
    numpy.ndarray
        shape (n_times,), bool; of a model on a finer axis than the record's, whether any of its times until the next
        one of the record passes.
    """
    critical, felt = threshold.critical, threshold.felt
    if felt is None:
        exposure, times = series.air_temperature[0] + threshold.gain, series.times
    else:
        is_known = ~np.isnan(felt.exposure.temperature).all(axis=0)
        times = felt.exposure.times[is_known]
        exposure = np.nanmedian(felt.exposure.temperature[:, is_known], axis=0)
    crosses = exposure <= critical.temperature if critical.at_or_below else exposure < critical.temperature
    place = np.searchsorted(series.times, times[crosses], side="right") - 1
    passed = np.zeros(series.n_times, dtype=bool)
    passed[place[place >= 0]] = True
    return passed
