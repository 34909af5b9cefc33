"""What people read."""

from .compose import Reader, compose, letter_for_test, letter_reference
from .item import Item, item_of
from .letter import Letter
from .warned import warning_lines
from .when import clock_text, day_text, length_text, month_day_text, span_text, when_text
from .wording import action_phrase, condition_text, sentence

__all__ = [
    "Item",
    "Letter",
    "Reader",
    "action_phrase",
    "clock_text",
    "compose",
    "condition_text",
    "day_text",
    "item_of",
    "length_text",
    "letter_for_test",
    "letter_reference",
    "month_day_text",
    "sentence",
    "span_text",
    "warning_lines",
    "when_text",
]
