"""What models said as facts for the audit log: enough to see later why they said so."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from alertd.core import from_datetime64, instant_text
from alertd.thermal.lowest import figures_of, hours_past

if TYPE_CHECKING:
    from alertd.risk import CriticalTemperature, Rule
    from alertd.thermal import Felt, Used

#: Numbers of models differ by powers of ten; so many significant digits are kept of each.
_DIGITS = 6


def lowest_facts(felt: Felt) -> dict[str, Any]:
    """Return how cold a model has a tissue, as JSON values.

    Parameters
    ----------
    felt : Felt
        What the model says.

    Returns
    -------
    dict
        Temperatures in °C, the time as RFC 3339 text; ``None`` for what is not finite.
    """
    return {
        "name": felt.model.value,
        "minimum": _finite(felt.minimum),
        "minimum_low": _finite(felt.minimum_low),
        "minimum_high": _finite(felt.minimum_high),
        "coldest": instant_text(from_datetime64(felt.coldest)),
        "spread": _finite(felt.spread),
        **({"is_bound": True} if felt.is_bound else {}),
    }


def model_evidence(rule: Rule, critical: CriticalTemperature, felt: Felt) -> dict[str, Any]:
    """Return what a model said and what it went by, as JSON values.

    Parameters
    ----------
    rule : Rule
        That judges by it.
    critical : CriticalTemperature
        What the tissue stands.
    felt : Felt
        What the model says.

    Returns
    -------
    dict
        Temperatures in °C, each number of the model in its own unit with where it comes from.
    """
    hours = hours_past(felt.exposure, critical.temperature, at_or_below=critical.at_or_below)
    return {
        "rule": rule.value,
        "critical": _finite(critical.temperature),
        **lowest_facts(felt),
        "hours": _finite(hours),
        "figures": {name: _finite(value) for name, value in figures_of(felt).items()},
        "parameters": [_parameter(used) for used in felt.used],
        "missing": list(felt.missing),
        "remarks": list(felt.remarks),
    }


def _parameter(used: Used) -> dict[str, Any]:
    """Return a number that a model went by."""
    parameter = used.parameter
    return {
        "name": parameter.name,
        "value": _significant(parameter.value),
        "low": _significant(parameter.low),
        "high": _significant(parameter.high),
        "unit": parameter.unit,
        "meaning": parameter.meaning,
        "provenance": parameter.provenance,
        "is_assumed": parameter.is_assumed,
        "share": _finite(used.share),
    }


def _finite(value: float) -> float | None:
    """Return a value with the digits that mean anything, ``None`` if it is none that JSON has."""
    return round(value, 4) if math.isfinite(value) else None


def _significant(value: float) -> float | None:
    """Return a number of any size with its significant digits."""
    return float(f"{value:.{_DIGITS}g}") if math.isfinite(value) else None
