"""A night in a household: what each of three people reads, and when.

Ann cares for everything, sleeps from 21:30 to 07:00, reads her digest at 07:00, and has named Bo as the next to ask.
Bo cares for the figs and sleeps, too. Cem cares for the pots and may be told at any hour.
After a change that is meant, run the tests once with ``REWRITE_SNAPSHOTS=1`` and read what has changed.
"""

import json
import os
import re
from datetime import UTC, date, time, timedelta
from pathlib import Path

import pytest

from alertd.messages import Reader
from alertd.site import QuietHours
from tests.fakes.garden import FIGS, POTS, local, make_series, nights
from tests.fakes.household import Household

MONDAY = date(2026, 1, 19)
ANN = Reader("Ann", quiet_hours=QuietHours(time(21, 30), time(7)), digest=time(7), escalates_to="Bo")
BO = Reader("Bo", frozenset({"figs"}), quiet_hours=QuietHours(time(22), time(6, 30)))
CEM = Reader("Cem", frozenset({"pots"}))
SNAPSHOT = Path(__file__).with_name("snapshots") / "household-night.txt"


def week(*lows):
    return nights(MONDAY, [*lows, *[0.0] * (9 - len(lows))])


def sudden_frost():
    """Tuesday's night turns far colder than anybody said, from four in the morning on."""
    series = week(0.0, -17.5, -12.0)
    first = series.times[0].item().replace(tzinfo=UTC)
    values = series.air_temperature.copy()
    for hour in range(values.shape[1]):
        if local("2026-01-20 22:00") <= first + timedelta(hours=hour) < local("2026-01-21 04:00"):
            values[0, hour] = -2.0
    return make_series(first, values)


@pytest.fixture(scope="module")
def household():
    with Household((ANN, BO, CEM), local("2026-01-19 18:00"), (POTS, FIGS)) as home:
        home.forecast(week())
        home.run_until(local("2026-01-19 23:10"))
        home.forecast(week(0.0, 0.0, -14.0))  # both groups, for Wednesday's night
        home.run_until(local("2026-01-20 03:10"))
        home.forecast(week(0.0, 0.0, -10.5))  # the figs are out of it again
        home.run_until(local("2026-01-20 23:10"))
        home.forecast(sudden_frost())
        home.run_until(local("2026-01-21 00:50"))
        home.done("pots")
        home.run_until(local("2026-01-21 01:30"))
        home.done("figs-2026-01-21-2", declined=True)
        home.run_until(local("2026-01-23 12:00"))
        yield home


def times(household, name):
    return [
        (f"{household.garden.site.local(letter.composed):%a %H:%M}", letter.subject)
        for letter in household.letters_to(name)
    ]


def test_ann_reads_the_evening_news_in_the_morning_and_is_woken_by_severe_cold_only(household):
    assert times(household, "Ann") == [
        ("Tue 07:00", "Get ready to move the patio pots into store, start by 13:50 tomorrow"),
        ("Tue 18:00", "Move the patio pots into store, start by 16:10 tomorrow"),
        ("Tue 23:10", "Wrap the south figs at once, the cold comes at 04:00 tomorrow (and 1 more)"),
        ("Wed 07:00", "Wed 21 Jan: nothing to do; coldest -12 °C tonight"),
        ("Thu 07:00", "Thu 22 Jan: nothing to do; coldest 0 °C tonight"),
        ("Fri 07:00", "Fri 23 Jan: nothing to do; coldest 0 °C tonight"),
    ]


def test_bo_is_asked_about_the_pots_when_nobody_answers_and_told_when_somebody_has(household):
    assert times(household, "Bo") == [
        ("Tue 23:10", "Wrap the south figs at once, the cold comes at 04:00 tomorrow"),
        ("Tue 23:40", "Move the patio pots into store at once, the cold comes at 04:00 tomorrow"),
        ("Wed 00:50", "Taken care of: move the patio pots into store"),
        ("Thu 07:00", "Set aside and over: wrap the south figs"),
    ]


def test_cem_is_told_at_once_at_any_hour(household):
    assert times(household, "Cem") == [
        ("Mon 23:10", "Get ready to move the patio pots into store, start by 13:50 on Wed 21 Jan"),
        ("Tue 18:00", "Move the patio pots into store, start by 16:10 tomorrow"),
        (
            "Tue 23:10",
            "More severe than told: move the patio pots into store at once, the cold comes at 04:00 tomorrow",
        ),
        ("Thu 07:00", "All clear for the patio pots"),
    ]


def test_what_was_opened_and_called_off_in_one_night_is_told_to_nobody_who_slept(household):
    steps = [json.loads(row.body) for row in household.store.audit_rows() if row.kind == "transition"]
    assert [step["notice"] for step in steps if step["alert_id"] == "figs-2026-01-21"] == ["opened", "cancelled"]
    told = {alert for letter in household.letters for alert in letter.threads}
    assert told == {"pots-2026-01-21", "figs-2026-01-21-2"}


def test_whoever_read_of_a_matter_reads_of_its_end_once(household):
    for name in ("Ann", "Bo", "Cem"):
        letters = household.letters_to(name)
        for alert in {alert for letter in letters for alert in letter.threads}:
            last = [letter for letter in letters if alert in letter.threads][-1]
            assert last.response_type in {"None", "AllClear"}, (name, alert)
        assert len({letter.reference for letter in letters}) == len(letters)


def test_the_record_verifies(household):
    assert household.store.verify_audit() == []


def test_the_letters_as_each_of_them_reads_them(household):
    parts = []
    for name in ("Ann", "Bo", "Cem"):
        parts.append(f"######## {name} ########\n\n")
        parts += [f"{letter.subject}\n\n{letter.text}\n" for letter in household.letters_to(name)]
    text = re.sub(r"(?m)^(Record |Reference \w+-)\d+\S*?(?=(-\w+)?$)", r"\1…", "".join(parts))
    if os.environ.get("REWRITE_SNAPSHOTS"):
        SNAPSHOT.write_text(text, encoding="utf-8", newline="\n")
        pytest.skip(f"{SNAPSHOT.name} is written anew")
    assert text == SNAPSHOT.read_text("utf-8")
    assert "!" not in text
