"""Copies of the database, and databases of other versions, as a person meets them."""

from __future__ import annotations

import contextlib
import sqlite3
from typing import TYPE_CHECKING

import pytest

from alertd.store import SiteLock, Store
from alertd.store.schema import SCHEMA_VERSION

if TYPE_CHECKING:
    from tests.fakes.command_line import CommandLine


@pytest.fixture
def watched(command_line: CommandLine) -> CommandLine:
    """Return a command line whose database holds one evaluation."""
    command_line.evaluate()
    return command_line


def raw(path, statement):
    with contextlib.closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(statement)


def test_a_backup_is_made_checked_and_put_back(watched: CommandLine) -> None:
    said = watched("export", "backup", "copy.sqlite").stdout
    with Store.open(watched.folder / "alertd.sqlite") as store:
        head = store.head()
    assert said == f"Written to copy.sqlite: the audit log in it is whole, up to {head}.\n"
    watched("mark", "row", "budbreak")
    lines = watched("restore", "copy.sqlite").stdout.splitlines()
    assert lines[0] == f"Restored {watched.folder / 'alertd.sqlite'} from copy.sqlite, up to {head}."
    assert lines[1].startswith(f"What was there is now {watched.folder / 'alertd.before-'}")
    assert lines[2] == "1 message was waiting then; alertd run sends what waits, under the same reference."
    assert "is whole" in watched("audit", "verify").stdout
    assert "dormant" in watched("mark", "row", "dormant").stdout


def test_copies_are_told_as_json_too(watched: CommandLine) -> None:
    copied = watched.json("export", "backup", "copy.sqlite")
    assert copied["file"] == "copy.sqlite"
    assert copied["version"] == SCHEMA_VERSION
    restored = watched.json("restore", "copy.sqlite")
    assert (restored["head"], restored["waiting"]) == (copied["head"], 1)
    (watched.folder / "alertd.sqlite").unlink()
    assert watched.json("restore", "copy.sqlite")["kept"] is None


def test_a_backup_of_nothing_is_refused(command_line: CommandLine) -> None:
    said = command_line("export", "backup", "copy.sqlite", exit_code=1).stderr
    assert "there is no database yet; start alertd run" in said


def test_a_file_that_exists_needs_force(watched: CommandLine) -> None:
    (watched.folder / "copy.sqlite").write_text("mine")
    said = watched("export", "backup", "copy.sqlite", exit_code=1).stderr
    assert said == "alertd: copy.sqlite exists already; name another file, or say --force\n"
    watched("export", "backup", "copy.sqlite", "--force")
    watched("restore", "copy.sqlite")


def test_a_restoration_beside_a_daemon_is_refused(watched: CommandLine) -> None:
    watched("export", "backup", "copy.sqlite")
    with SiteLock(watched.folder / "alertd.sqlite"):
        said = watched("restore", "copy.sqlite", exit_code=1).stderr
    assert "is in use by another alertd" in said
    assert said.count("\n") == 1


def test_a_spoilt_copy_is_refused_in_one_line(watched: CommandLine) -> None:
    watched("export", "backup", "copy.sqlite")
    raw(watched.folder / "copy.sqlite", "UPDATE audit SET body = '{}' WHERE sequence = 1")
    said = watched("restore", "copy.sqlite", exit_code=1).stderr
    assert said.startswith("alertd: database copy.sqlite: the audit log does not verify: row 1 ")
    assert said.count("\n") == 1


def test_a_folder_that_is_missing_is_named(watched: CommandLine) -> None:
    watched("export", "backup", "copy.sqlite")
    configuration = watched.folder / "alertd.toml"
    configuration.write_text(configuration.read_text() + '[state]\ndatabase = "no/a.sqlite"\n')
    said = watched("restore", "copy.sqlite", exit_code=1).stderr
    assert said == f"alertd: there is no folder {watched.folder / 'no'}; make it, or name another --config\n"


@pytest.mark.parametrize(
    "arguments",
    [
        ("status",),
        ("mark", "row", "budbreak"),
        ("done", "pots"),
        ("audit", "verify"),
        ("assess",),
        ("export", "backup", "copy.sqlite"),
    ],
)
def test_a_database_of_a_newer_alertd_is_refused_in_one_line_by_every_command(
    watched: CommandLine, arguments: tuple[str, ...]
) -> None:
    raw(watched.folder / "alertd.sqlite", f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    said = watched(*arguments, exit_code=1).stderr
    assert said == (
        f"alertd: database {watched.folder / 'alertd.sqlite'} was written by a newer alertd (version "
        f"{SCHEMA_VERSION + 1} of its tables, this alertd knows {SCHEMA_VERSION}); install that alertd again, or name "
        "another file\n"
    )
