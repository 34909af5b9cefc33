from dataclasses import replace
from datetime import date, timedelta

from alertd.messages import Reader, warning_lines
from alertd.weather import PublicWarning
from tests.fakes.garden import POTS, Keeper, local, make_forecast, make_garden, nights
from tests.fakes.letters import letters_of

TUESDAY = local("2026-01-20 08:00")
EVENING, MORNING = local("2026-01-20 22:00"), local("2026-01-21 09:00")
FREEZE = PublicWarning("Freeze Warning", TUESDAY, EVENING, MORNING, "Moderate", "Likely", "Expected", "until 9 AM")


def decision_with(*warnings, garden):
    series = nights(date(2026, 1, 20), [0.0, -14.0, *[0.0] * 6])
    forecast = make_forecast(TUESDAY, series, "grid")
    told = replace(forecast, warnings=warnings or None)
    return Keeper(garden).look(TUESDAY, told)


def test_a_letter_repeats_the_public_warnings_of_cold():
    garden = make_garden(POTS)
    decision = decision_with(FREEZE, replace(FREEZE, event="Rip Current Statement"), garden=garden)
    (letter,) = letters_of(decision, garden, Reader("ann"))
    plain = " ".join(letter.text.split())
    said = "Public warning: Freeze Warning from 22:00 today until 09:00 tomorrow (Moderate, Likely), by grid."
    assert said in plain
    assert "Rip Current" not in plain
    assert said in " ".join(letter.html.split())


def test_all_are_listed_where_all_are_asked_for_each_once():
    garden = make_garden(POTS)
    decision = decision_with(FREEZE, FREEZE, replace(FREEZE, event="Flood Advisory"), garden=garden)
    assert len(warning_lines(decision, garden)) == 1
    assert len(warning_lines(decision, garden, only_of_cold=False)) == 2


def test_what_is_over_is_not_said_and_what_runs_has_no_beginning():
    garden = make_garden(POTS)
    over = replace(FREEZE, onset=None, ends=TUESDAY)
    running = replace(FREEZE, onset=TUESDAY - timedelta(hours=1), ends=None)
    decision = decision_with(over, running, garden=garden)
    assert warning_lines(decision, garden) == ["Public warning: Freeze Warning (Moderate, Likely), by grid."]


def test_unknown_warnings_are_not_told_as_none():
    garden = make_garden(POTS)
    assert warning_lines(decision_with(garden=garden), garden) == []
