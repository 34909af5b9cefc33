"""What the cold threatens: rules, cold spells, probabilities."""

from .rules import Rule, Rules, RuleSettings

__all__ = ["Rule", "RuleSettings", "Rules"]
