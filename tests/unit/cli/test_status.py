"""What `alertd status` tells a person."""

from __future__ import annotations

import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).parents[3]))

from alertd.store import Addressed, Commit, Store
from alertd.watch import keep_cycle, note_trouble, read_cycle
from tests.fakes.letters import make_letter

if TYPE_CHECKING:
    from tests.fakes.command_line import CommandLine


def test_a_normal_day_is_told_in_about_ten_lines(command_line: CommandLine) -> None:
    command_line.evaluate()
    lines = command_line("status").stdout.splitlines()
    assert len(lines) <= 10
    assert lines[0].startswith("Cold Frame Corner: 2 groups watched, last look ")
    assert lines[0].endswith(" s ago)")
    assert lines[1] == "  outside: pots (the patio pots)"
    assert lines[2] == "  bare, as planned: row (the bare row)"
    assert lines[3].startswith("source hill file: made ")
    assert lines[3].endswith(" old. Weather by nobody.")
    opened = int(lines[4].split()[0])
    assert lines[4] == f"{opened} alert{'s' if opened > 1 else ''} open"
    following = lines[5 + opened :]
    assert following[0].startswith("next: look ")
    assert " at the latest" in following[0]
    assert following[1].startswith("messages: 1 waiting, 0 accepted, 0 given up; record ")
    assert following[2:] == ["  waiting: 1 to keeper by paper", "nothing is wrong"]


def test_before_the_first_look_it_says_what_to_start(command_line: CommandLine) -> None:
    lines = command_line("status").stdout.splitlines()
    assert "next: nothing is due" in lines
    assert "wrong: no look at a forecast is recorded yet; start alertd run" in lines
    facts = command_line.json("status")
    assert isinstance(facts, dict)
    assert (facts["last_evaluation"], facts["is_healthy"], facts["next"]["look"]) == (None, False, None)


def test_what_is_wrong_is_told_line_by_line(command_line: CommandLine) -> None:
    command_line.evaluate()
    now = datetime.now(tz=UTC)
    with Store.open(command_line.folder / "alertd.sqlite") as store:
        note_trouble(store, "backup", "the disk is full", now - timedelta(hours=3))
    (command_line.folder / "forecast.csv").unlink()
    command_line.evaluate()
    wrong = [line for line in command_line("status").stdout.splitlines() if line.startswith("wrong: ")]
    assert wrong[0] == "wrong: the watch is blind: no source has a usable forecast; read a forecast yourself"
    assert wrong[1].startswith("wrong: source hill file is not used: ")
    assert wrong[2] == "wrong: backup (since 3 h): the disk is full"
    facts = command_line.json("status")
    assert isinstance(facts, dict)
    assert [f"wrong: {line}" for line in facts["wrong"]] == wrong
    assert facts["is_blind"] is True


def test_a_daemon_that_was_stopped_has_no_next_look(command_line: CommandLine) -> None:
    command_line.evaluate()
    with Store.open(command_line.folder / "alertd.sqlite") as store:
        note = read_cycle(store)
        assert note is not None
        keep_cycle(store, note.__class__(**{**note.__dict__, "stopped": datetime.now(tz=UTC)}))
    output = command_line("status").stdout
    assert "next: look" not in output
    assert "and watches nothing; start alertd run" in output


def test_healthy_is_one_line_and_exit_0(command_line: CommandLine) -> None:
    command_line.evaluate()
    (line,) = command_line("status", "--healthy").stdout.splitlines()
    assert line.startswith("healthy: last good look ")
    facts = command_line.json("status", "--healthy")
    assert isinstance(facts, dict)
    assert facts["is_healthy"] is True


def test_not_healthy_is_one_line_with_the_reason_and_exit_1(command_line: CommandLine) -> None:
    result = command_line("status", "--healthy", exit_code=1)
    assert result.stdout == "not healthy: no look at a forecast is recorded yet; start alertd run\n"
    command_line.evaluate(after=-timedelta(hours=2, minutes=30))
    result = command_line("status", "--healthy", exit_code=1)
    assert result.stdout.startswith("not healthy: the last look was 2 h ago, and one is due every 1 h: ")
    assert not (command_line.folder / "letters").exists()


def test_the_json_has_all_that_the_lines_have(command_line: CommandLine) -> None:
    command_line.evaluate()
    facts = command_line.json("status")
    assert isinstance(facts, dict)
    (source,) = facts["sources"]
    assert (source["source"], source["credits"]) == ("hill file", "Weather by nobody.")
    assert 0 < source["age_s"] < 3 * 3600
    assert facts["groups"] == {"pots": "off", "row": "off"}
    assert facts["next"]["start_by"] >= facts["next"]["reminder_or_final_call"] > facts["now"]
    assert facts["outbox"] == {"waiting": 1, "claimed": 0, "accepted": 0, "dead": 0}
    assert (facts["wrong"], facts["is_healthy"], facts["refused"]) == ([], True, [])


def _put_letters(command_line: CommandLine, *ways: tuple[str, str]) -> None:
    with Store.open(command_line.folder / "alertd.sqlite") as store:
        for number, (recipient, channel) in enumerate(ways):
            letter = make_letter(reference=f"N7-{number}", recipient=recipient)
            store.commit(Commit(datetime.now(tz=UTC), letters=(Addressed(letter, (channel,)),)))


def test_one_line_says_for_whom_messages_wait(command_line: CommandLine) -> None:
    _put_letters(command_line, ("Ben", "web"), ("Ann", "mail"), ("Ann", "mail"))
    with Store.open(command_line.folder / "alertd.sqlite") as store:
        store.claim(datetime.now(tz=UTC), timedelta(minutes=5), limit=1)  # in flight is not there yet
    (line,) = [line for line in command_line("status").stdout.splitlines() if "waiting: " in line]
    assert line == "  waiting: 2 to Ann by mail, 1 to Ben by web"
    facts = command_line.json("status")
    assert isinstance(facts, dict)
    assert facts["waiting"] == [
        {"recipient": "Ann", "channel": "mail", "messages": 2},
        {"recipient": "Ben", "channel": "web", "messages": 1},
    ]


def test_many_ways_by_which_messages_wait_are_one_line_still(command_line: CommandLine) -> None:
    _put_letters(command_line, ("Ann", "one"), ("Ann", "one"), *(("Ann", f"way {number}") for number in range(5)))
    (line,) = [line for line in command_line("status").stdout.splitlines() if "waiting: " in line]
    assert line.startswith("  waiting: 2 to Ann by one, 1 to Ann by way 0, ")
    assert line.endswith(", 2 by other ways")


def test_nobody_is_named_while_nothing_waits(command_line: CommandLine) -> None:
    assert "waiting: " not in command_line("status").stdout
