"""What people read."""

from .compose import compose, letter_for_test, letter_reference
from .correspondence import Correspondence, Told
from .digest import Digest, digest_of
from .felt import missing_text
from .item import Item, item_of
from .letter import Letter
from .patience import breaks_quiet_hours, due_at, is_for_digest
from .reader import Reader, stand_ins
from .telling import Telling, tell
from .warned import warning_lines
from .when import clock_text, day_text, length_text, month_day_text, span_text, when_text
from .wording import action_phrase, condition_text, sentence

__all__ = [
    "Correspondence",
    "Digest",
    "Item",
    "Letter",
    "Reader",
    "Telling",
    "Told",
    "action_phrase",
    "breaks_quiet_hours",
    "clock_text",
    "compose",
    "condition_text",
    "day_text",
    "digest_of",
    "due_at",
    "is_for_digest",
    "item_of",
    "length_text",
    "letter_for_test",
    "letter_reference",
    "missing_text",
    "month_day_text",
    "sentence",
    "span_text",
    "stand_ins",
    "tell",
    "warning_lines",
    "when_text",
]
