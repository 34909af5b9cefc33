"""Alerts and assessments as lines and as JSON, the same in every command."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from alertd.core import from_datetime64, in_unit, instant_text, parse_instant, temperature_text, threshold_text
from alertd.messages import action_phrase, condition_text, item_of, sentence, when_text
from alertd.risk import Rule
from alertd.site import Condition

from .tell_models import model_facts, model_line

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.alerts import Alert, Decision, Garden
    from alertd.risk import Assessment, ColdSpell
    from alertd.weather import Observed


def group_name(garden: Garden, group_id: str) -> str:
    """Return a group's name, or its id if the configuration no longer has it."""
    return next((group.name for group in garden.groups if group.group_id == group_id), group_id)


def alert_line(alert: Alert, garden: Garden, now: datetime) -> str:
    """Return an alert as one line: id, state, what to do, by when.

    Parameters
    ----------
    alert : Alert
        The alert.
    garden : Garden
        Names, units, local time.
    now : datetime
        Aware.

    Returns
    -------
    str
        Without a line end.
    """
    told = alert.announced
    if alert.rule is Rule.BLIND:
        return (
            f"{alert.alert_id}  {alert.state.value}: no usable forecast since {when_text(told.sent, now, garden.site)}"
        )
    phrase = action_phrase(alert.action, group_name(garden, alert.group))
    by = "" if told.start_by is None else f", start by {when_text(told.start_by, now, garden.site)}"
    lowest = "" if told.minimum is None else f", {_lowest(alert.rule)} {temperature_text(told.minimum, garden.units)}"
    chance = "" if told.probability is None or told.minimum is None else f", probability {100 * told.probability:.0f} %"
    return f"{alert.alert_id}  {alert.state.value}: {phrase}{by}{lowest}{chance}"


def assessment_lines(decision: Decision, garden: Garden) -> list[str]:
    """Return what an evaluation thinks of each group.

    Parameters
    ----------
    decision : Decision
        The evaluation.
    garden : Garden
        Names, units, local time.

    Returns
    -------
    list of str
        Sources first, then a line for each group and rule.
    """
    site, now = garden.site, decision.now
    lines = []
    for forecast in decision.outlook.used:
        made = when_text(forecast.forecast_reference_time, now, site)
        lines.append(
            f"source {forecast.source}: made {made}, {forecast.series.n_realizations} realization(s), until "
            f"{when_text(from_datetime64(forecast.series.times[-1]), now, site)}. {forecast.credits}".rstrip()
        )
    lines += [
        f"source {refusal.source}: {'last good answer used' if refusal.is_used else 'not used'}, {refusal.reason}"
        for refusal in decision.outlook.refused
    ]
    if decision.outlook.series is None:
        lines.append("The watch is blind: nothing is known of the cold ahead.")
    by_group: dict[str, list[Assessment]] = {}
    for assessment in decision.assessments:
        by_group.setdefault(assessment.group, []).append(assessment)
    for group in garden.groups:
        condition = decision.conditions.get(group.group_id, Condition())
        lines.append(f"{sentence(group.name)} ({condition_text(group, condition)})")
        judged = by_group.get(group.group_id, [])
        is_by_air = any(each.threshold.felt is None for each in judged)
        if not is_by_air and decision.outlook.series is not None:
            lines.append("  not judged by the outdoor air")
        for each in judged:
            said = model_line(each.threshold, garden, now)
            lines += [f"  {_assessment_text(each, garden, now)}", *([f"    {said}"] if said else [])]
    lines += [f"would be told: {item_of(notice, garden, now).headline}" for notice in decision.notices]
    return lines


def _assessment_text(assessment: Assessment, garden: Garden, now: datetime) -> str:
    """Return what one rule says of one group."""
    critical = threshold_text(assessment.threshold.critical.temperature, garden.units)
    head = f"{assessment.threshold.rule.value} {critical}"
    if not assessment.spells:
        return f"{head}: nothing threatens"
    rule = assessment.threshold.rule
    return f"{head}: " + "; ".join(_spell_text(spell, rule, garden, now) for spell in assessment.spells)


def _lowest(rule: Rule) -> str:
    """Return of what the temperature of a spell is the lowest, where that may be mistaken."""
    return "lowest air" if rule.judges_by_model else "lowest"


def _spell_text(spell: ColdSpell, rule: Rule, garden: Garden, now: datetime) -> str:
    """Return a cold spell in a few words."""
    lowest, low, high = (
        temperature_text(value, garden.units) for value in (spell.minimum, spell.minimum_low, spell.minimum_high)
    )
    return (
        f"from {when_text(spell.onset, now, garden.site)}, {_lowest(rule)} {lowest} ({low} to {high}), "
        f"probability {100 * spell.probability:.0f} %, {spell.severity.value}"
    )


def source_facts(decision: Decision) -> list[dict[str, object]]:
    """Return what became of each source, as JSON values.

    Parameters
    ----------
    decision : Decision
        The evaluation.

    Returns
    -------
    list of dict
        Sources that are used first; times RFC 3339 in UTC, the horizon in hours from now.
    """
    problems = {refusal.source: refusal.reason for refusal in decision.outlook.refused}
    facts: list[dict[str, object]] = []
    for forecast in decision.outlook.used:
        end = from_datetime64(forecast.series.times[-1])
        facts.append(
            {
                "name": forecast.source,
                "ok": forecast.source not in problems,
                "problem": problems.pop(forecast.source, None),
                "forecast_reference_time": instant_text(forecast.forecast_reference_time),
                "retrieved": instant_text(forecast.retrieved),
                "n_realizations": forecast.series.n_realizations,
                "horizon_h": round((end - decision.now).total_seconds() / 3600.0, 1),
                "credits": forecast.credits,
            }
        )
    return facts + [{"name": name, "ok": False, "problem": reason} for name, reason in problems.items()]


#: Percentiles of the realizations that `series_facts` gives.
_PERCENTILES = (5, 25, 50, 75, 95)


def series_facts(decision: Decision, garden: Garden) -> list[dict[str, object]]:
    """Return the merged forecast as percentiles of its realizations, as JSON values.

    Parameters
    ----------
    decision : Decision
        The evaluation.
    garden : Garden
        Gives the unit.

    Returns
    -------
    list of dict
        By time; air temperature in the configuration's unit. Hours of which nothing is known are left out.
    """
    series = decision.outlook.series
    if series is None:
        return []
    facts: list[dict[str, object]] = []
    for index, time in enumerate(series.times):
        values = series.air_temperature[:, index]
        known = values[~np.isnan(values)]
        if known.size:
            shares = np.percentile(known, _PERCENTILES)
            air = {
                str(percent): round(in_unit(float(each), garden.units), 2)
                for percent, each in zip(_PERCENTILES, shares, strict=True)
            }
            facts.append({"time": instant_text(from_datetime64(time)), "air_temperature": air})
    return facts


def assessment_facts(decision: Decision, garden: Garden) -> list[dict[str, object]]:
    """Return what an evaluation thinks of each group, as JSON values.

    Parameters
    ----------
    decision : Decision
        The evaluation.
    garden : Garden
        Gives the unit.

    Returns
    -------
    list of dict
        Temperatures in the configuration's unit, times RFC 3339 in UTC.
    """
    return [
        {
            "group": each.group,
            "rule": each.threshold.rule.value,
            "critical": round(in_unit(each.threshold.critical.temperature, garden.units), 2),
            "spells": [
                {
                    "onset": instant_text(spell.onset),
                    "end": instant_text(spell.end),
                    "minimum": round(in_unit(spell.minimum, garden.units), 2),
                    "minimum_low": round(in_unit(spell.minimum_low, garden.units), 2),
                    "minimum_high": round(in_unit(spell.minimum_high, garden.units), 2),
                    "probability": round(spell.probability, 4),
                    "severity": spell.severity.value,
                    "certainty": spell.certainty.value,
                }
                for spell in each.spells
            ],
            "model": model_facts(each.threshold, garden),
        }
        for each in decision.assessments
    ]


def observed_facts(observed: Observed, garden: Garden) -> list[dict[str, object]]:
    """Return what thermometers said in the last day, as JSON values.

    Parameters
    ----------
    observed : Observed
        Checked.
    garden : Garden
        Gives the unit.

    Returns
    -------
    list of dict
        By station: time and value of the last observation, and the lowest value.
    """
    facts: list[dict[str, object]] = []
    for row, station in enumerate(observed.stations):
        values = observed.series.air_temperature[row] if observed.series is not None else np.array([])
        known = np.flatnonzero(~np.isnan(values))
        if observed.series is not None and known.size:
            facts.append(
                {
                    "station": station,
                    "time": instant_text(from_datetime64(observed.series.times[known[-1]])),
                    "air_temperature": round(in_unit(float(values[known[-1]]), garden.units), 2),
                    "minimum": round(in_unit(float(np.nanmin(values)), garden.units), 2),
                }
            )
    return facts


def observed_lines(observed: Observed, garden: Garden, now: datetime) -> list[str]:
    """Return what thermometers said in the last day, for reading.

    Parameters
    ----------
    observed : Observed
        Checked.
    garden : Garden
        Unit and local time.
    now : datetime
        Aware.

    Returns
    -------
    list of str
        A line for each station.
    """
    symbol, lines = garden.units.symbol, []
    for each in observed_facts(observed, garden):
        when = when_text(parse_instant(str(each["time"])), now, garden.site)
        last, lowest = f"{each['air_temperature']} {symbol}", f"{each['minimum']} {symbol}"
        lines.append(f"thermometer {each['station']}: {last} at {when}, lowest of the last day {lowest}")
    return lines
