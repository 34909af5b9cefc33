"""One evaluation: gather, judge, commit; and what people report in between."""

from .evidence import announcement_facts, evaluation_event, letter_event, transition_events
from .reports import MARKS, done, mark
from .watch import Readership, Watch, readership

__all__ = [
    "MARKS",
    "Readership",
    "Watch",
    "announcement_facts",
    "done",
    "evaluation_event",
    "letter_event",
    "mark",
    "readership",
    "transition_events",
]
