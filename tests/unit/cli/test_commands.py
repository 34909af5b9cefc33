"""What each command prints, and how it ends."""

from __future__ import annotations

import json
import sqlite3
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from alertd.store import Store
from alertd.weather import Observation

if TYPE_CHECKING:
    from tests.fakes.command_line import CommandLine


def test_check_shows_each_source_with_its_lowest_temperature(command_line: CommandLine) -> None:
    output = command_line("check").stdout
    assert "2 groups, 1 recipients, 1 channels, 1 sources" in output
    assert "source hill file: made" in output
    assert "lowest 7 °F. Weather by nobody." in output
    assert output.endswith("All is well.\n")


def test_check_says_what_is_wrong_with_a_source_and_exits_1(command_line: CommandLine) -> None:
    (command_line.folder / "forecast.csv").unlink()
    result = command_line("check", exit_code=1)
    assert "source hill file:" in result.stdout
    assert "Something is wrong" in result.stdout
    assert "the watch is blind until there is" in result.stderr


def test_check_calls_a_stale_forecast_stale(command_line: CommandLine) -> None:
    text = (command_line.folder / "forecast.csv").read_text(encoding="utf-8")
    year = text.splitlines()[1][:4]
    (command_line.folder / "forecast.csv").write_text(text.replace(year, str(int(year) - 1)), encoding="utf-8")
    assert "stale: made" in command_line("check", exit_code=1).stdout


def test_check_sends_a_test_message_by_every_channel(command_line: CommandLine) -> None:
    output = command_line("check", "--send").stdout
    assert "keeper by paper: accepted" in output
    (letter,) = (command_line.folder / "letters").glob("*.txt")
    assert "Nothing is to be done" in letter.read_text(encoding="utf-8")


def test_check_prints_json(command_line: CommandLine) -> None:
    facts = command_line.json("check")
    assert isinstance(facts, dict)
    assert facts["is_fine"] is True
    assert facts["sources"][0]["n_realizations"] == 1


def test_assess_judges_and_changes_nothing(command_line: CommandLine) -> None:
    output = command_line("assess").stdout
    assert "The patio pots (outside)" in output
    assert "container_roots 15 °F: from" in output
    assert "would be told:" in output
    assert not (command_line.folder / "alertd.sqlite").exists()


def test_assess_prints_spells_as_json_in_the_reader_s_unit(command_line: CommandLine) -> None:
    facts = command_line.json("assess")
    assert isinstance(facts, dict)
    roots = next(each for each in facts["assessments"] if each["rule"] == "container_roots")
    assert roots["critical"] == 15.0
    assert roots["spells"][0]["minimum"] == 6.8


def test_assess_at_another_time_counts_age_from_it(command_line: CommandLine) -> None:
    output = command_line("assess", "--at", "2020-01-01T00:00:00Z").stdout
    assert "The watch is blind" in output


def test_a_time_without_offset_is_a_usage_error(command_line: CommandLine) -> None:
    assert "offset" in command_line("assess", "--at", "2020-01-01T00:00:00", exit_code=2).stderr


def test_status_before_the_first_look(command_line: CommandLine) -> None:
    output = command_line("status").stdout
    assert "last look never yet" in output
    assert "no alert is open" in output


def test_the_life_of_an_alert_at_the_command_line(command_line: CommandLine) -> None:
    command_line.evaluate()
    status = command_line("status").stdout
    assert "move the patio pots into store" in status
    facts = command_line.json("status")
    assert isinstance(facts, dict)
    (alert,) = [each for each in facts["open_alerts"] if each["group"] == "pots"]
    why = command_line("why", alert["id"]).stdout
    assert "nothing to" in why
    assert "seen: hill file made" in why
    assert "letter " in why
    assert "No more reminders" in command_line("done", alert["id"]).stdout
    assert "in store" in command_line("status").stdout
    assert "is done already" in command_line("done", alert["id"], exit_code=1).stderr
    assert "report: done" in command_line("why", alert["id"]).stdout
    assert isinstance(command_line.json("why", alert["id"]), dict)


def test_not_this_time_stops_reminders_and_leaves_the_pots_outside(command_line: CommandLine) -> None:
    command_line.evaluate()
    assert "not this time" in command_line("done", "pots", "--not-this-time").stdout
    assert "outside: pots (the patio pots)" in command_line("status").stdout
    assert "is declined already" in command_line("done", "pots", "--not-this-time", exit_code=1).stderr


def test_done_for_an_unknown_alert_says_so_in_one_line(command_line: CommandLine) -> None:
    result = command_line("done", "nothing-2026", exit_code=1)
    assert result.stderr.startswith("alertd: no alert is called")
    assert len(result.stderr.splitlines()) == 1


def test_mark_tells_how_a_group_stands(command_line: CommandLine) -> None:
    assert command_line("mark", "pots", "in-store").stdout == "Noted: the patio pots, in store, dormant.\n"
    assert command_line("mark", "pots", "budbreak").stdout == "Noted: the patio pots, in store, budbreak.\n"
    assert "not judged by the outdoor air" in command_line("assess").stdout


def test_mark_refuses_what_does_not_fit(command_line: CommandLine) -> None:
    assert "there is no group 'pot'" in command_line("mark", "pot", "off", exit_code=1).stderr
    assert "has no protection to be lifted" in command_line("mark", "row", "lifted", exit_code=1).stderr
    command_line("mark", "pots", "eaten", exit_code=2)


def test_audit_verify_proves_the_record_and_finds_an_edit(command_line: CommandLine) -> None:
    assert "there is no database yet" in command_line("audit", "verify", exit_code=1).stderr
    command_line.evaluate()
    proof = command_line("audit", "verify").stdout
    assert proof.startswith("The audit log is whole, up to ")
    head = proof.split()[-1].rstrip(".")
    command_line("audit", "verify", "--head", head)
    with sqlite3.connect(command_line.folder / "alertd.sqlite") as database:
        database.execute("UPDATE audit SET body = replace(body, 'pots', 'tops') WHERE sequence = 1")
    database.close()
    assert "row 1:" in command_line("audit", "verify", exit_code=1).stdout


def test_audit_verify_refuses_a_head_that_is_none(command_line: CommandLine) -> None:
    assert "--head" in command_line("audit", "verify", "--head", "twelve", exit_code=1).stderr


def test_audit_show_and_export_give_every_row(command_line: CommandLine) -> None:
    command_line.evaluate()
    rows = command_line.json("audit", "show", "--last", "500")
    assert isinstance(rows, list)
    kinds = [row["kind"] for row in rows]
    assert kinds[0] == "evaluation"
    assert {"transition", "letter"} <= set(kinds)
    assert len(command_line("audit", "show", "--kind", "letter").stdout.splitlines()) == kinds.count("letter")
    lines = command_line("audit", "export").stdout.splitlines()
    assert [json.loads(line) for line in lines] == rows
    command_line("audit", "export", "--out", "log.jsonl")
    assert (command_line.folder / "log.jsonl").read_text(encoding="utf-8").splitlines() == lines
    assert "cannot be written" in command_line("audit", "export", "--out", "no/log.jsonl", exit_code=1).stderr


def test_schema_is_json_schema(command_line: CommandLine) -> None:
    assert json.loads(command_line("schema").stdout)["type"] == "object"


def test_init_writes_a_configuration_that_check_understands(command_line: CommandLine) -> None:
    place = "My hill\n41\n-74\n200\nAmerica/Nowhere\nAmerica/New_York\nF\n05-32\n05-10\n"
    answers = f"{place}10\nfigs\n0\n\nkeeper@example.org\ny\n"
    result = command_line("init", "--out", "mine.toml", said=answers)
    assert "Written to mine.toml" in result.stdout
    output = command_line("check", "--config", "mine.toml").stdout
    assert "1 groups" in output
    assert "source nws: nws, not asked" in output
    assert "source open_meteo: open_meteo, not asked" in output
    assert "exists already" in command_line("init", "--out", "mine.toml", said=answers, exit_code=1).stderr
    command_line("init", "--out", "mine.toml", "--force", said=answers)


def test_init_takes_every_answer_as_an_option(command_line: CommandLine) -> None:
    command_line(
        *("init", "--out", "row.toml", "--site", "Row", "--latitude", "50", "--longitude", "8", "--elevation", "100"),
        *("--time-zone", "Europe/Berlin", "--units", "C", "--last-freeze", "05-15", "--pots", "0", "--ground", "3"),
        *("--ground-species", "figs", "--protection", "bend_and_mulch", "--credential", ""),
        *("--contact", "", "--non-commercial", "no"),
    )
    assert "bend_and_mulch" in (command_line.folder / "row.toml").read_text(encoding="utf-8")
    command_line("check", "--config", "row.toml")


def test_init_without_any_tree_is_refused(command_line: CommandLine) -> None:
    answers = "My hill\n41\n-74\n200\nAmerica/New_York\nF\n05-10\n0\n0\n\n\nn\n"
    assert "there must be trees" in command_line("init", "--out", "none.toml", said=answers, exit_code=1).stderr


def test_init_says_when_it_cannot_write(command_line: CommandLine) -> None:
    answers = "My hill\n41\n-74\n200\nAmerica/New_York\nF\n05-10\n1\nfigs\n0\n\n\nn\n"
    assert "cannot be written" in command_line("init", "--out", "no/a.toml", said=answers, exit_code=1).stderr


def test_a_missing_configuration_is_one_line(command_line: CommandLine) -> None:
    (command_line.folder / "alertd.toml").unlink()
    result = command_line("status", exit_code=1)
    assert result.stderr.startswith("alertd: configuration: neither alertd.toml nor")


def test_hindcast_reads_its_own_times_and_refuses_an_empty_span(command_line: CommandLine) -> None:
    rows = ["time,air_temperature[degF]"]
    rows += [
        f"2026-01-{day:02d}T{hour:02d}:00:00Z,{12 if hour < 9 else 30}" for day in range(1, 8) for hour in range(24)
    ]
    (command_line.folder / "past.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    text = command_line("hindcast", "--weather", "past.csv", "--exact", "--every", "3h").stdout
    assert "pots, container_roots 15 °F: 63" in text
    facts = command_line.json(
        "hindcast", "--weather", "past.csv", "--exact", "--assume-done", "--to", "2026-01-05T00:00:00Z"
    )
    assert isinstance(facts, dict)
    assert {"alerts", "messages", "summary"} <= set(facts)
    result = command_line("hindcast", "--weather", "past.csv", "--from", "2027-01-01T00:00:00Z", exit_code=1)
    assert "no time between" in result.stderr
    command_line("hindcast", "--weather", "past.csv", "--every", "often", exit_code=2)


def test_hindcast_plays_archived_forecasts(command_line: CommandLine) -> None:
    rows = ["time,air_temperature[Cel]"]
    rows += [f"2026-01-{day:02d}T{hour:02d}:00:00Z,{5 + hour % 3}" for day in range(1, 6) for hour in range(24)]
    (command_line.folder / "past.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    archive = ["forecast_reference_time,time,air_temperature[Cel]"]
    archive += [
        f"2026-01-01T00:00:00Z,2026-01-{day:02d}T{hour:02d}:00:00Z,{-14 if day == 2 else 5 + hour % 3}"
        for day in range(1, 6)
        for hour in range(24)
    ]
    (command_line.folder / "old.csv").write_text("\n".join(archive) + "\n", encoding="utf-8")
    facts = command_line.json(
        "hindcast", "--weather", "past.csv", "--forecasts", "old.csv", "--to", "2026-01-02T18:00:00Z"
    )
    assert isinstance(facts, dict)
    assert facts["alerts"][0]["group"] == "pots"
    assert facts["summary"]["false_alarms"] >= 1
    assert facts["summary"]["hits"] == 0


def test_every_command_has_help(command_line: CommandLine) -> None:
    listed = command_line("--help").stdout
    for name in (
        "init",
        "check",
        "assess",
        "run",
        "status",
        "mark",
        "done",
        "why",
        "hindcast",
        "audit",
        "schema",
        "demo",
    ):
        assert f"  {name} " in listed
        assert "Usage: alertd" in command_line(name, "--help").stdout


def test_assess_shows_sources_percentiles_and_thermometers(command_line: CommandLine) -> None:
    now = datetime.now(tz=UTC).replace(microsecond=0)
    with Store.open(command_line.folder / "alertd.sqlite") as store:
        told = [Observation("barn", now - timedelta(hours=hour), -3.0 - hour, now) for hour in range(3)]
        store.keep_observations(told, now)
    facts = command_line.json("assess")
    assert isinstance(facts, dict)
    (source,) = facts["sources"]
    assert (source["name"], source["ok"], source["problem"], source["n_realizations"]) == ("hill file", True, None, 1)
    assert 100.0 < source["horizon_h"] < 145.0
    first = facts["series"][0]["air_temperature"]
    assert list(first) == ["5", "25", "50", "75", "95"]
    assert first["5"] < first["50"] < first["95"]
    (observed,) = facts["observed"]
    assert (observed["station"], observed["air_temperature"], observed["minimum"]) == ("barn", 26.6, 23.0)
    assert "thermometer barn: 26.6 °F at" in command_line("assess").stdout


def test_assess_names_a_source_that_gave_nothing(command_line: CommandLine) -> None:
    (command_line.folder / "forecast.csv").write_text("nothing", encoding="utf-8")
    facts = command_line.json("assess")
    assert isinstance(facts, dict)
    assert facts["is_blind"] is True
    assert facts["series"] == []
    (source,) = facts["sources"]
    assert (source["name"], source["ok"]) == ("hill file", False)
    assert "forecast.csv" in source["problem"]


def test_check_asks_public_services_only_online(command_line: CommandLine) -> None:
    path = command_line.folder / "alertd.toml"
    section = '\n[[sources]]\nname = "grid"\nkind = "nws"\nbase_url = "http://127.0.0.1:9"\n'
    text = path.read_text(encoding="utf-8").replace("[site]\n", '[site]\ncontact = "keeper@example.org"\n')
    path.write_text(text + section, encoding="utf-8")
    output = command_line("check").stdout
    assert "source grid: nws, not asked; alertd check --online asks it" in output
    assert "position 41.0000 N, -74.0000 E, 120 m, America/New_York" in output


def test_status_credits_what_the_last_look_went_by(command_line: CommandLine) -> None:
    command_line.evaluate()
    assert "source hill file: made" in command_line("status").stdout
    assert "Weather by nobody." in command_line("status").stdout
