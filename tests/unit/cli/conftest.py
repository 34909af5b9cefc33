"""A small configuration with a weather file, for the commands."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from tests.fakes.command_line import CONFIGURATION, CommandLine, write_forecast

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["CommandLine"]


@pytest.fixture
def command_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> CommandLine:
    """Return a command line in a folder with a configuration and a forecast that freezes the pots."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "alertd.toml").write_text(CONFIGURATION, encoding="utf-8")
    now = datetime.now(tz=UTC).replace(minute=0, second=0, microsecond=0)
    write_forecast(tmp_path / "forecast.csv", now - timedelta(hours=1), lowest=-14.0)
    return CommandLine(tmp_path)
