"""One evaluation: gather, judge, commit; and what people report in between."""

from .cycle import CycleNote, SourceSeen, keep_cycle, read_cycle
from .evidence import announcement_facts, evaluation_event, letter_event, transition_events
from .health import Health, age_text, health, note_trouble, outbox_problems, refusal_text, wrongs
from .model_evidence import model_evidence
from .reports import MARKS, done, mark
from .watch import Readership, Watch, readership

__all__ = [
    "MARKS",
    "CycleNote",
    "Health",
    "Readership",
    "SourceSeen",
    "Watch",
    "age_text",
    "announcement_facts",
    "done",
    "evaluation_event",
    "health",
    "keep_cycle",
    "letter_event",
    "mark",
    "model_evidence",
    "note_trouble",
    "outbox_problems",
    "read_cycle",
    "readership",
    "refusal_text",
    "transition_events",
    "wrongs",
]
