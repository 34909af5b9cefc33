"""The pinned packages against the database of known vulnerabilities, where that can be reached."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

#: What the tool says when it cannot get at the database.
_UNREACHABLE = re.compile(
    r"ConnectionError|Connection refused|Max retries|timed? ?out|NameResolution|ProxyError|SSLError"
)


@pytest.mark.long
def test_no_pinned_package_has_a_known_vulnerability():
    command = [sys.executable, "-m", "pip_audit", "--require-hashes", "--disable-pip", "--progress-spinner", "off"]
    command += ["--format", "json", "--timeout", "15", "--requirement", str(ROOT / "deploy" / "constraints.txt")]
    try:
        result = subprocess.run(command, capture_output=True, text=True, timeout=600, check=False)
    except subprocess.TimeoutExpired:
        pytest.skip("the database of vulnerabilities did not answer within ten minutes")
    if not result.stdout.strip():
        if _UNREACHABLE.search(result.stderr):
            pytest.skip("the database of vulnerabilities cannot be reached from here")
        pytest.fail(f"pip-audit failed: {result.stderr[-2000:]}")
    packages = json.loads(result.stdout)["dependencies"]
    assert len(packages) > 20
    left_out = {each["name"]: each["skip_reason"] for each in packages if "skip_reason" in each}
    if len(left_out) == len(packages):
        pytest.skip("the index that is reached from here knows no vulnerabilities: no package could be looked up")
    assert left_out == {}
    assert {each["name"]: [found["id"] for found in each["vulns"]] for each in packages if each["vulns"]} == {}
