from __future__ import annotations

from typing import TYPE_CHECKING

from alertd.store import SiteLock, Store

if TYPE_CHECKING:
    from tests.fakes.command_line import CommandLine


def alerts(command_line: CommandLine) -> int:
    with Store.open(command_line.folder / "alertd.sqlite") as store:
        return len(store.all_alerts())


def test_a_copy_is_made_and_put_back(command_line: CommandLine) -> None:
    command_line.evaluate()
    before = alerts(command_line)
    said = command_line("export", "backup", "copy.sqlite").stdout
    assert said.startswith("Written to copy.sqlite: the audit log in it is whole, up to ")
    command_line("mark", "pots", "in-store")
    said = command_line("restore", "copy.sqlite").stdout
    assert said.startswith("Restored ")
    assert "What was there is now " in said
    assert "waiting then; alertd run sends what waits" in said
    assert alerts(command_line) == before
    assert "outside" in command_line("status").stdout
    assert command_line("audit", "verify").exit_code == 0


def test_copies_speak_json(command_line: CommandLine) -> None:
    command_line.evaluate()
    made = command_line.json("export", "backup", "copy.sqlite")
    assert isinstance(made, dict)
    put_back = command_line.json("restore", "copy.sqlite")
    assert isinstance(put_back, dict)
    assert put_back["head"] == made["head"]
    assert put_back["waiting"] >= 1
    assert put_back["kept"]


def test_what_cannot_be_copied_or_put_back_is_one_line(command_line: CommandLine) -> None:
    assert "there is no database yet" in command_line("export", "backup", "copy.sqlite", exit_code=1).stderr
    command_line.evaluate()
    command_line("export", "backup", "copy.sqlite")
    assert "exists already" in command_line("export", "backup", "copy.sqlite", exit_code=1).stderr
    assert "there is no file" in command_line("restore", "nothing.sqlite", exit_code=1).stderr
    with SiteLock(command_line.folder / "alertd.sqlite"):
        assert "in use by another alertd" in command_line("restore", "copy.sqlite", exit_code=1).stderr
    (command_line.folder / "copy.sqlite").write_text("holiday pictures", encoding="utf-8")
    refused = command_line("restore", "copy.sqlite", exit_code=1).stderr
    assert refused.count("\n") == 1
    assert "Traceback" not in refused


def test_a_copy_of_nothing_in_a_folder_that_is_missing_is_told(command_line: CommandLine) -> None:
    command_line.evaluate()
    command_line("export", "backup", "copy.sqlite")
    path = command_line.folder / "alertd.toml"
    path.write_text(f'{path.read_text(encoding="utf-8")}\n[state]\ndatabase = "no/where.sqlite"\n', encoding="utf-8")
    assert "there is no folder" in command_line("restore", "copy.sqlite", exit_code=1).stderr
