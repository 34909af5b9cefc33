"""An invented letter, with whatever a test needs changed."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from alertd.messages import Letter, compose, tell

_LETTER = Letter(
    reference="N7-1",
    recipient="Ann",
    composed=datetime(2026, 1, 22, 9, tzinfo=UTC),
    subject="Wrap 4 figs",
    text="Wrap 4 figs, start by 14:10.\n",
    html="<html><body><p>Wrap 4 figs</p></body></html>",
    short="Wrap 4 figs by 14:10",
    threads=("a7",),
    response_type="Execute",
)


def make_letter(**changes: object) -> Letter:
    """Return the letter with some fields changed."""
    return replace(_LETTER, **changes)


def letters_of(decision, garden, *readers, record: str = "17:0123abcd") -> tuple[Letter, ...]:
    """Return what readers who have read nothing yet are written about a decision."""
    told = tell(decision, garden, readers, {})
    return tuple(compose(each, decision, garden, record) for each in told if each.is_letter)
