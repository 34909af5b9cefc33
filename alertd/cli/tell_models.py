"""What models say, as lines and as JSON: for `assess` from an evaluation, for `why` from the audit log."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from alertd.core import (
    difference_in_unit,
    from_datetime64,
    in_unit,
    instant_text,
    parse_instant,
    temperature_text,
    threshold_text,
)
from alertd.messages import missing_text, when_text
from alertd.thermal.parameters import with_unit
from alertd.watch import model_evidence

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime

    from numpy.typing import NDArray

    from alertd.alerts import Garden
    from alertd.hindcast import HoursBelow
    from alertd.risk import Assessment, Threshold
    from alertd.thermal import Felt

#: Percentiles of the draws that `exposure_facts` gives.
_PERCENTILES = (5, 25, 50, 75, 95)

#: Figures that are differences [K], shares [1] and hours; the others are temperatures [°C].
_DIFFERENCES = frozenset({"gain"})
_SHARES = frozenset({"frozen_share"})
_HOURS = frozenset({"hours_below"})

_OWN_VALUE = "own value"

#: What nobody can put in, however much it matters: the weather of days that are gone, what nights taught growers, and
#: how the sky and hoar differ from what is usual.
_NOBODY_MEASURES = frozenset({"days_before_warmer_by", "reference_undercooling", "sky_deviation", "deposition_share"})


def model_line(threshold: Threshold, garden: Garden, now: datetime) -> str:
    """Return what a model says of a group, in a line.

    Parameters
    ----------
    threshold : Threshold
        Of a rule that judges by a model.
    garden : Garden
        Unit and local time.
    now : datetime
        Aware.

    Returns
    -------
    str
        Empty for a rule that judges the air.
    """
    if threshold.felt is None:
        return ""
    facts = model_evidence(threshold.rule, threshold.critical, threshold.felt)
    return f"model {facts['name']}: {figures_text(facts, garden, now)}"


def figures_text(facts: Mapping[str, Any], garden: Garden, now: datetime) -> str:
    """Return the numbers that a model gave, in a line.

    Parameters
    ----------
    facts : mapping
        As the audit log keeps them, or as an assessment has them.
    garden : Garden
        Unit and local time.
    now : datetime
        Aware.

    Returns
    -------
    str
        Like ``lowest 19 °F (17 to 22 °F) at 07:00 on Thu 22 Jan, uncertain by 2.3 °F, core 31 °F``.
    """
    when = when_text(parse_instant(facts["coldest"]), now, garden.site)
    if facts.get("is_bound"):
        return f"stays above {_degrees(facts['minimum_low'], garden)}, that is all that was needed"
    low, high = _degrees(facts["minimum_low"], garden), _degrees(facts["minimum_high"], garden)
    spread = "" if low == high else f" ({low.split()[0]} to {high})"
    parts = [f"lowest {_degrees(facts['minimum'], garden)}{spread} at {when}"]
    if facts["spread"]:
        parts.append(f"uncertain by {_difference(facts['spread'], garden)}")
    limit = threshold_text(facts["critical"], garden.units)
    parts += [_figure_text(name, value, limit, garden) for name, value in facts["figures"].items()]
    if facts["hours"]:
        parts.append(f"{facts['hours']:g} h past {limit}")
    return ", ".join(parts)


def _figure_text(name: str, value: float, limit: str, garden: Garden) -> str:
    """Return a further figure in a few words."""
    if name in _SHARES:
        return f"{100.0 * value:.0f} % of it below {limit}"
    if name in _DIFFERENCES:
        return f"gain {_difference(value, garden)}"
    return f"{name.replace('_', ' ')} {_degrees(value, garden)}"


def _degrees(temperature: float, garden: Garden) -> str:
    """Return a temperature in the reader's unit."""
    return temperature_text(temperature, garden.units)


def _difference(difference: float, garden: Garden) -> str:
    """Return a difference in the reader's unit, to a tenth."""
    return f"{difference_in_unit(difference, garden.units):.1f} {garden.units.symbol}"


def model_facts(threshold: Threshold, garden: Garden) -> dict[str, object] | None:
    """Return what a model says of a group, as JSON values.

    Parameters
    ----------
    threshold : Threshold
        Of any rule.
    garden : Garden
        Gives the unit.

    Returns
    -------
    dict or None
        Temperatures and differences in the configuration's unit, times RFC 3339 in UTC, the numbers that the model
        went by in their own units; ``None`` for a rule that judges the air.
    """
    if threshold.felt is None:
        return None
    kept = model_evidence(threshold.rule, threshold.critical, threshold.felt)
    facts = {name: value for name, value in kept.items() if name not in {"rule", "critical"}}
    for name in ("minimum", "minimum_low", "minimum_high"):
        facts[name] = _value(kept[name], name, garden)
    facts["spread"] = _value(kept["spread"], "gain", garden)
    facts["is_bound"] = threshold.felt.is_bound
    facts["figures"] = {name: _value(value, name, garden) for name, value in kept["figures"].items()}
    facts["parameters"] = [{**each, "share": _value(each["share"], "gain", garden)} for each in kept["parameters"]]
    return facts


def _value(value: float | None, name: str, garden: Garden) -> float | None:
    """Return a figure in the configuration's unit; ``None`` for what is no finite number."""
    if value is None or not np.isfinite(value):
        return None
    if name in _SHARES | _HOURS:
        return round(value, 4)
    converted = difference_in_unit(value, garden.units) if name in _DIFFERENCES else in_unit(value, garden.units)
    return round(converted, 2)


def exposure_facts(judged: Iterable[Assessment | HoursBelow], garden: Garden) -> list[dict[str, object]]:
    """Return what models compute hour by hour, ready for a chart, as JSON values.

    Parameters
    ----------
    judged : iterable of Assessment or HoursBelow
        Rules of groups, as they were judged now, or over a record.
    garden : Garden
        Gives the unit.

    Returns
    -------
    list of dict
        By group and rule: ``times`` (RFC 3339 in UTC) and values on them, in the configuration's unit; ``None`` where
        nothing is known.
    """
    return [
        _exposure(each.group, each.threshold, each.threshold.felt, garden)
        for each in judged
        if each.threshold.felt is not None
    ]


def _exposure(group: str, threshold: Threshold, felt: Felt, garden: Garden) -> dict[str, object]:
    """Return what a model computes for one rule of one group."""
    is_known = ~np.isnan(felt.exposure.temperature).all(axis=0)
    shares = np.full((len(_PERCENTILES), is_known.size), np.nan)
    shares[:, is_known] = np.nanpercentile(felt.exposure.temperature[:, is_known], _PERCENTILES, axis=0)
    return {
        "group": group,
        "rule": threshold.rule.value,
        "model": felt.model.value,
        "unit": garden.units.value,
        "critical": round(in_unit(threshold.critical.temperature, garden.units), 2),
        "times": [instant_text(from_datetime64(time)) for time in felt.exposure.times],
        "percentiles": {
            str(percent): _values(row, "temperature", garden) for percent, row in zip(_PERCENTILES, shares, strict=True)
        },
        **{name: _values(values, name, garden) for name, values in felt.medians.items()},
    }


def _values(values: NDArray[np.float64], name: str, garden: Garden) -> list[float | None]:
    """Return a figure over time in the configuration's unit."""
    return [_value(float(value), name, garden) for value in values]


def kept_lines(models: Iterable[Mapping[str, Any]], garden: Garden, now: datetime) -> list[str]:
    """Return what models said when a step in the life of an alert was told, for reading.

    Parameters
    ----------
    models : iterable of mapping
        As the audit log keeps them.
    garden : Garden
        Unit and local time.
    now : datetime
        Aware: when it was told.

    Returns
    -------
    list of str
        A line for each model.
    """
    return [f"  model {each['name']} for {each['rule']}: {figures_text(each, garden, now)}" for each in models]


def parameter_lines(models: Iterable[Mapping[str, Any]], group: str, garden: Garden) -> list[str]:
    """Return what models went by, for reading: numbers, where they come from, how much each may be wrong.

    Parameters
    ----------
    models : iterable of mapping
        As the audit log keeps them.
    group : str
        Id of the group.
    garden : Garden
        Gives the unit.

    Returns
    -------
    list of str
        A table for each model, what weather was assumed, and how to put in own numbers; empty if no model used any.
    """
    lines: list[str] = []
    seen: set[str] = set()
    for each in models:
        if each["name"] in seen or not (each["parameters"] or each["missing"] or each["remarks"]):
            continue
        seen.add(each["name"])
        lines.append(f"The model {each['name']} went by:")
        lines += [f"  {line}" for line in _table(each["parameters"], garden)]
        lines += [f"  {text}" for text in (missing_text(each["missing"]), *each["remarks"]) if text]
    numbers = (used for each in models for used in each["parameters"])
    assumed = next((used for used in numbers if used["is_assumed"] and used["name"] not in _NOBODY_MEASURES), None)
    if assumed is not None:
        lines.append(
            f"Put in what you measured under [groups.measured] of the group {group}, "
            f"like {assumed['name']} = {assumed['value']:g}; alertd schema describes each."
        )
    return lines


def _table(parameters: Sequence[Mapping[str, Any]], garden: Garden) -> list[str]:
    """Return numbers of a model as the lines of a table."""
    rows = [_row(each, garden) for each in parameters]
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]


def _row(parameter: Mapping[str, Any], garden: Garden) -> tuple[str, ...]:
    """Return a number of a model as the cells of a table."""
    known = _OWN_VALUE if parameter["provenance"] == _OWN_VALUE else "known"
    source = "" if parameter["provenance"] == _OWN_VALUE else f" ({parameter['provenance']})"
    return (
        parameter["name"],
        with_unit(f"{parameter['value']:g}", parameter["unit"]),
        "assumed" if parameter["is_assumed"] else known,
        f"adds {_difference(parameter['share'] or 0.0, garden)}",
        f"{parameter['meaning']}{source}",
    )
