"""The unit as systemd itself judges it, without starting it, and its page."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
UNIT = ROOT / "deploy" / "alertd.service"
PAGE = ROOT / "deploy" / "SYSTEMD.md"
PROGRAM = "/opt/alertd/current/bin/alertd"

#: In tenths: 1.2 of 10, which systemd calls "OK".
MOST_EXPOSURE = 12

with_systemd = pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd-analyze is not installed")


def analyze(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["systemd-analyze", *arguments], capture_output=True, text=True, timeout=60, check=False)


def verify(folder: Path, text: str) -> str:
    """Return what systemd finds wrong with a unit; its exit code is 0 even for keys that it does not know."""
    unit = folder / "alertd.service"
    unit.write_text(text)
    result = analyze("verify", "--man=no", str(unit))
    return result.stdout + result.stderr


@with_systemd
def test_the_unit_exposes_no_more_than_it_must():
    result = analyze("security", "--offline=true", f"--threshold={MOST_EXPOSURE}", "--no-pager", str(UNIT))
    assert result.returncode == 0, result.stdout + result.stderr


@with_systemd
def test_a_unit_without_its_hardening_would_be_noticed(tmp_path):
    plain = re.sub(r"(?m)^(Protect|Private|Restrict|SystemCall|Capability)\w+=.*\n", "", UNIT.read_text())
    (tmp_path / "alertd.service").write_text(plain)
    threshold = f"--threshold={MOST_EXPOSURE}"
    assert analyze("security", "--offline=true", threshold, str(tmp_path / "alertd.service")).returncode != 0


@with_systemd
def test_systemd_finds_nothing_wrong_with_the_unit(tmp_path):
    text = UNIT.read_text()
    assert text.count(f"ExecStart={PROGRAM} run ") == 1
    assert verify(tmp_path, text.replace(PROGRAM, "/bin/true")) == ""


@with_systemd
@pytest.mark.parametrize(
    ("line", "complaint"), [("ProtectHomes=yes", "'ProtectHomes'"), ("WatchdogSec=often", "ignoring: often")]
)
def test_a_line_that_systemd_does_not_understand_would_be_noticed(tmp_path, line, complaint):
    text = UNIT.read_text().replace(PROGRAM, "/bin/true").replace("Type=notify", f"Type=notify\n{line}")
    assert complaint in verify(tmp_path, text)


def test_the_page_speaks_of_every_line_of_the_unit_and_of_no_other():
    lines = [line for line in UNIT.read_text().splitlines() if re.match(r"\w+=", line)]
    quoted = set(re.findall(r"`(\w+=[^`]*)`", PAGE.read_text()))
    by_name_alone = {"ExecStart", "ExecReload", "Wants", "After"}
    needs_no_word = {"Description", "WantedBy"}
    for line in lines:
        key = line.partition("=")[0]
        if key not in by_name_alone | needs_no_word:
            assert line in quoted
    assert {each.partition("=")[0] for each in quoted} == {line.partition("=")[0] for line in lines} - needs_no_word
