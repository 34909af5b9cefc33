from __future__ import annotations

from datetime import UTC, datetime

import pytest

from alertd.messages import Letter


@pytest.fixture
def letter() -> Letter:
    return Letter(
        reference="N7-1",
        recipient="Ann",
        composed=datetime(2026, 1, 22, 9, tzinfo=UTC),
        subject="Wrap 4 figs — start by 14:10",
        text="Wrap 4 figs, start by 14:10.\n\n  expected \u221211 °C\n",
        html="<html><body class='x'><p>Wrap 4 figs</p></body></html>",
        short="Wrap 4 figs by 14:10",
        threads=("a7", "b2"),
        response_type="Execute",
    )
