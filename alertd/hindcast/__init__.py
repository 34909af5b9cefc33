"""Past weather run through the whole chain."""

from .engine import Hindcast, HindcastSettings, run_hindcast
from .record_source import RecordSource
from .report import alert_facts, hindcast_facts, hindcast_text
from .score import SAME_COLD, Score, score
from .truth import HarmfulSpell, HoursBelow, harmful_spells, hours_below

__all__ = [
    "SAME_COLD",
    "HarmfulSpell",
    "Hindcast",
    "HindcastSettings",
    "HoursBelow",
    "RecordSource",
    "Score",
    "alert_facts",
    "harmful_spells",
    "hindcast_facts",
    "hindcast_text",
    "hours_below",
    "run_hindcast",
    "score",
]
