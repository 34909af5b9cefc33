"""Past weather, old forecasts and past winters from a local server, as a person asks for them."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from alertd.core import to_datetime64
from alertd.sources import FileSource, read_weather_record
from tests.fakes.command_line import CONFIGURATION, CommandLine
from tests.fakes.http_servers import Behaviour, HttpServer, json_answer
from tests.fakes.open_meteo import document

#: As in the configuration.
PLACE = {"latitude": 41.0, "longitude": -74.0, "elevation": 120.0}


def air_at(instant: datetime) -> float:
    """Return an invented past: mild, with one cold night in mid-January and a late frost, colder year by year."""
    day = (instant.month, instant.day)
    if day == (1, 15) and instant.hour < 12:
        return -9.0 - 0.5 * (instant.year - 2015)
    if day == (5, 3 if instant.year % 2 else 12) and instant.hour < 6:
        return -1.0
    return 4.0 + 3.0 * np.sin(instant.hour * np.pi / 12.0)


def hours_of(query) -> list[datetime]:
    first, last = (datetime.fromisoformat(query[key]).replace(tzinfo=UTC) for key in ("start_date", "end_date"))
    return [first + timedelta(hours=hour) for hour in range(24 * ((last - first).days + 1))]


def answer(query) -> dict:
    """Return the answer of the archive, or of previous runs: each day of lead time is half a degree too warm."""
    hours = hours_of(query)
    columns = {}
    for key in query["hourly"].split(","):
        name, _, lead = key.partition("_previous_day")
        if name == "temperature_2m":
            columns[key] = [round(air_at(hour) + 0.5 * int(lead or 0), 2) for hour in hours]
        else:
            columns[key] = [0.0 if name != "dew_point_2m" else -12.0] * len(hours)
    return document(columns, start=hours[0], **PLACE)


@pytest.fixture
def server():
    with HttpServer() as running:
        for path in ("/v1/archive", "/v1/forecast"):
            running.script(path, lambda seen: json_answer(answer(seen.query)))
        yield running


@pytest.fixture
def command_line(tmp_path, monkeypatch, server):
    monkeypatch.chdir(tmp_path)
    source = f'[[sources]]\nname = "meteo"\nkind = "open_meteo"\nnon_commercial = true\nbase_url = "{server.url}"\n'
    text = CONFIGURATION[: CONFIGURATION.index("[[sources]]")] + source
    (tmp_path / "alertd.toml").write_text(text, encoding="utf-8")
    return CommandLine(tmp_path)


SPAN = ("--from", "2024-01-10", "--to", "2024-01-20")


def test_past_weather_and_old_forecasts_play_in_a_hindcast(command_line):
    said = command_line("history", "weather", *SPAN, "--out", "w.csv").stdout
    assert "Written to w.csv: 264 hours." in said
    assert "Open-Meteo.com" in said
    assert "alertd hindcast --weather w.csv" in said
    record, findings = read_weather_record(command_line.folder / "w.csv")
    assert findings == ()
    assert float(record.air_temperature.min()) == -13.5
    said = command_line("history", "forecasts", *SPAN, "--out", "f.csv").stdout
    assert "Written to f.csv: 45 forecasts, up to 7 days ahead." in said
    forecast, _ = FileSource("f", command_line.folder / "f.csv").get(datetime(2024, 1, 14, 12, tzinfo=UTC))
    night = forecast.series.times == to_datetime64(datetime(2024, 1, 15, 6, tzinfo=UTC))
    assert float(forecast.series.air_temperature[0, night][0]) == -13.0
    result = command_line("hindcast", "--weather", "w.csv", "--forecasts", "f.csv", "--from", "2024-01-11T00:00:00Z")
    assert "move the patio pots into store" in result.stdout.lower()


def test_a_file_that_exists_is_not_written_over_unasked(command_line, server):
    (command_line.folder / "w.csv").write_text("mine", encoding="utf-8")
    result = command_line("history", "weather", *SPAN, "--out", "w.csv", exit_code=1)
    assert "exists already" in result.stderr
    assert (command_line.folder / "w.csv").read_text() == "mine"
    assert server.seen == []
    command_line("history", "weather", *SPAN, "--out", "w.csv", "--force")
    assert (command_line.folder / "w.csv").read_text() != "mine"


def test_past_winters_are_counted_against_the_thresholds(command_line, server):
    facts = command_line.json("history", "winters", "--count", "5")
    assert isinstance(facts, dict)
    assert len(facts["winters"]) == 5
    assert len(server.seen) == 5
    lows = [each["minimum"] for each in facts["winters"]]
    assert lows == sorted(lows, reverse=True)
    roots = next(each for each in facts["thresholds"] if each["for"] == ["roots of the patio pots"])
    assert roots["threshold"] == 15.0
    assert roots["winters_below"] == sum(low < 15.0 for low in lows)
    said = command_line("history", "winters", "--count", "5").stdout.replace("\N{NO-BREAK SPACE}", " ")
    assert "Past winters at Cold Frame Corner" in said
    assert "Below 15 °F (roots of the patio pots)" in said
    latest = re.search(r"Last freeze: (?:3|12) May in the middle year, 12 May in the latest, (\d{4})\.", said)
    assert int(latest[1]) % 2 == 0, "it freezes on 12 May of even years"
    assert "After your site.last_freeze, 10 May, it froze in" in said
    assert "Hollows and still nights are colder" in said
    assert "Open-Meteo.com" in said


def test_a_service_that_fails_is_one_line_and_writes_nothing(command_line, server):
    server.script("/v1/archive", Behaviour(status=500))
    result = command_line("history", "weather", *SPAN, "--out", "w.csv", exit_code=1)
    assert result.stderr.count("\n") == 1
    assert not (command_line.folder / "w.csv").exists()


def test_without_a_word_on_the_use_nobody_is_asked(command_line):
    path = command_line.folder / "alertd.toml"
    text = CONFIGURATION[: CONFIGURATION.index("[[sources]]")]
    path.write_text(text + '[[sources]]\nname = "hill"\nkind = "file"\npath = "f.csv"\n', encoding="utf-8")
    result = command_line("history", "weather", *SPAN, "--out", "w.csv", exit_code=1)
    assert "polling.non_commercial" in result.stderr


def test_spans_and_days_are_checked(command_line):
    wrong = command_line("history", "weather", "--from", "2024-02-01", "--to", "2024-01-01", "--out", "w", exit_code=1)
    assert "lies before" in wrong.stderr
    usage = command_line("history", "weather", "--from", "soon", "--to", "2024-01-01", "--out", "w", exit_code=2)
    assert "2025-10-01" in usage.stderr
    nowhere = command_line("history", "weather", *SPAN, "--out", "no/where/w.csv", exit_code=1)
    assert "cannot be written" in nowhere.stderr


def write_room(folder, days, begin=datetime(2024, 1, 8, tzinfo=UTC)):
    """Write what a thermometer in a garage said that follows the invented air in 12 h."""
    kept, temperature, lines = np.exp(-1.0 / 12.0), 6.0, ["time,air_temperature [Cel]"]
    for hour in (begin + timedelta(hours=number) for number in range(24 * days)):
        temperature = air_at(hour) + (temperature - air_at(hour)) * kept
        lines.append(f"{hour:%Y-%m-%dT%H:%M:%SZ},{temperature:.2f}")
    (folder / "garage.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def test_a_thermometer_in_the_store_tells_how_late_the_room_follows(command_line):
    write_room(command_line.folder, days=14)
    said = command_line("history", "room", "garage.csv").stdout
    assert "the room follows the air outside in 12 h." in said
    assert 'store = { kind = "' in said
    assert 'time_constant = "12h" }' in said
    assert "Open-Meteo.com" in said
    command_line("history", "weather", "--from", "2024-01-08", "--to", "2024-01-21", "--out", "w.csv")
    facts = command_line.json("history", "room", "garage.csv", "--outside", "w.csv")
    assert isinstance(facts, dict)
    assert facts["time_constant_s"] == pytest.approx(12 * 3600, rel=0.03)
    assert facts["is_settled"] is True
    assert facts["credits"] == []


def test_what_the_log_of_a_room_tells_can_be_written_into_the_configuration(command_line):
    write_room(command_line.folder, days=14)
    line = next(
        each for each in command_line("history", "room", "garage.csv").stdout.splitlines() if "store = " in each
    )
    path = command_line.folder / "alertd.toml"
    text = path.read_text("utf-8").replace("[[groups]]\n", f"[[groups]]\n{line[line.index('store = ') :]}\n", 1)
    path.write_text(text, encoding="utf-8")
    command_line("assess", "--json")


def test_too_short_a_log_of_a_room_is_refused_in_a_line(command_line):
    write_room(command_line.folder, days=1)
    result = command_line("history", "room", "garage.csv", exit_code=1)
    assert "a room is fitted from 48 hours with readings inside and outside or more" in result.stderr
    assert "give a longer or fuller log" in result.stderr
