"""What is installed is what was pinned: each package with its hash, each requirement with its bounds."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import PackageNotFoundError, requires
from pathlib import Path

import pytest
from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).parents[2]
FILES = ("deploy/constraints.txt", "tests/constraints.txt")

#: Named by years; a newer one is always wanted.
WITHOUT_AN_END = {"tzdata"}

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
RUN_TIME = [Requirement(text) for text in PROJECT["project"]["dependencies"]]
BUILD = [Requirement(text) for text in PROJECT["build-system"]["requires"]]


def pins(file: str) -> dict[str, tuple[Version, list[str]]]:
    """Return version and hashes of each package that a file pins."""
    found: dict[str, tuple[Version, list[str]]] = {}
    text = (ROOT / file).read_text(encoding="utf-8").replace("\\\n", " ")
    for line in text.splitlines():
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        match = re.fullmatch(r"([a-z0-9][a-z0-9.-]*)==(\S+)(?: ; [^-]+?)?((?: +--hash=sha256:[0-9a-f]{64})*) *", line)
        assert match is not None, f"{file} has a line that pins nothing: {line[:80]}"
        found[canonicalize_name(match[1])] = Version(match[2]), re.findall(r"sha256:(\w+)", match[3])
    return found


@pytest.mark.parametrize("file", FILES)
def test_every_package_is_pinned_with_hashes(file):
    found = pins(file)
    assert len(found) > len(RUN_TIME)
    assert [name for name, (_, hashes) in found.items() if not hashes] == []


@pytest.mark.parametrize("file", FILES)
@pytest.mark.parametrize("requirement", RUN_TIME, ids=lambda each: each.name)
def test_every_requirement_is_pinned_within_its_bounds(file, requirement):
    version, _ = pins(file)[canonicalize_name(requirement.name)]
    assert version in requirement.specifier


@pytest.mark.parametrize("requirement", [*RUN_TIME, *BUILD], ids=lambda each: each.name)
def test_no_requirement_is_without_bounds(requirement):
    operators = {each.operator for each in requirement.specifier}
    assert ">=" in operators
    assert "<" in operators or requirement.name in WITHOUT_AN_END


def test_what_requirements_require_is_pinned_too():
    pinned = pins("deploy/constraints.txt")
    waiting = [canonicalize_name(each.name) for each in RUN_TIME]
    seen: set[str] = set()
    while waiting:
        name = waiting.pop()
        if name in seen:
            continue
        seen.add(name)
        try:
            needed = requires(name) or []
        except PackageNotFoundError:  # for another Python or system
            continue
        for text in needed:
            requirement = Requirement(text)
            if requirement.marker is None or requirement.marker.evaluate({**default_environment(), "extra": ""}):
                waiting.append(canonicalize_name(requirement.name))
    assert sorted(seen - set(pinned)) == []


def test_what_is_delivered_is_what_was_tested():
    delivered, tested = pins("deploy/constraints.txt"), pins("tests/constraints.txt")
    assert {name: pin for name, pin in delivered.items() if tested.get(name) != pin} == {}


def test_every_requirement_has_its_reason_in_the_table_of_contributors():
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = dict(re.findall(r"^\| ([a-z_0-9-]+) \| (>=\S+) \| ", text, flags=re.MULTILINE))
    wanted = {each.name: ",".join(sorted(str(each.specifier).split(","), reverse=True)) for each in RUN_TIME}
    assert {name: ",".join(sorted(bounds.split(","), reverse=True)) for name, bounds in rows.items()} == wanted
