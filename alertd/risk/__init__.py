"""What the cold threatens: rules, cold spells, probabilities."""

from .assessment import (
    DEFAULT_ROOT_ZONE,
    LAG,
    SEEN_BEYOND,
    Assessment,
    Threshold,
    assess,
    cold_thresholds,
    frost_probability,
    is_in_store,
    is_judged_as_growing,
)
from .critical import CriticalTemperature, critical_temperature
from .nights import Night, nights_ahead
from .rules import Rule, Rules, RuleSettings
from .spells import ColdSpell, cold_spells

__all__ = [
    "DEFAULT_ROOT_ZONE",
    "LAG",
    "SEEN_BEYOND",
    "Assessment",
    "ColdSpell",
    "CriticalTemperature",
    "Night",
    "Rule",
    "RuleSettings",
    "Rules",
    "Threshold",
    "assess",
    "cold_spells",
    "cold_thresholds",
    "critical_temperature",
    "frost_probability",
    "is_in_store",
    "is_judged_as_growing",
    "nights_ahead",
]
