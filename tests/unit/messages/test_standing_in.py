"""Who is asked when nobody answers, when, and how that ends."""

from dataclasses import replace
from datetime import date, time

import pytest

from alertd.messages import Reader, stand_ins
from alertd.site import QuietHours
from tests.fakes.garden import FIGS, POTS, local, nights
from tests.fakes.household import Household

MONDAY = date(2026, 1, 19)
ANN = Reader("Ann", escalates_to="Bo")
BO = Reader("Bo", frozenset({"figs"}), escalates_to="Cem")
CEM = Reader("Cem", frozenset({"figs"}))


def week(*lows):
    return nights(MONDAY, [*lows, *[0.0] * (9 - len(lows))])


def home(*readers, groups=(POTS, FIGS)):
    house = Household(readers or (ANN, BO), local("2026-01-19 12:00"), groups)
    house.forecast(week(0.0, -10.5))
    return house


def run(household, end, *weather):
    household.run_until(local(end))
    for each in weather:
        household.forecast(each)


def told(household, name="Bo"):
    site = household.garden.site
    return [f"{site.local(each.composed):%a %H:%M} {each.subject}" for each in household.letters_to(name)]


REMINDED = "Tue 14:00 Still to do: move the patio pots into store, start by 16:00 today"


def test_the_reminder_goes_to_the_next_person_too_and_says_why():
    with home() as house:
        run(house, "2026-01-20 14:30")
        assert told(house) == [REMINDED]
        assert told(house, "Ann")[-1] == REMINDED
        text, html = house.letters_to("Bo")[0].text, house.letters_to("Bo")[0].html
        why = "Nobody has answered yet, and you are the next to ask after Ann."
        assert f"Why you: {why}\n" in text
        assert why in html
        assert "How: Store them" in text
        assert "Why you" not in house.letters_to("Ann")[-1].text


@pytest.mark.parametrize("declined", [False, True])
def test_an_answer_before_the_reminder_asks_nobody_else(declined):
    with home() as house:
        run(house, "2026-01-20 13:30")
        house.done("pots", declined=declined)
        run(house, "2026-01-23 12:00")
        assert told(house) == []


def test_a_mark_is_an_answer():
    with home() as house:
        run(house, "2026-01-20 13:30")
        house.mark("pots", "in-store")
        run(house, "2026-01-23 12:00")
        assert told(house) == []


@pytest.mark.parametrize(
    ("declined", "subject", "why"),
    [
        (False, "Taken care of", "Somebody has reported it done. Nothing is left for you to do."),
        (True, "Set aside", "Somebody has set it aside. Nothing is left for you to do."),
    ],
)
def test_an_answer_releases_whoever_was_asked_at_once_and_once(declined, subject, why):
    with home() as house:
        run(house, "2026-01-20 14:30")
        house.done("pots", declined=declined)
        run(house, "2026-01-23 12:00")
        assert told(house) == [REMINDED, f"Tue 14:30 {subject}: move the patio pots into store"]
        letter = house.letters_to("Bo")[-1]
        assert why in letter.text
        assert "You were asked in place of Ann." in letter.text
        assert "alertd done" not in letter.text
        assert letter.response_type == "None"
        assert told(house, "Ann")[-1].startswith("Wed 07:00 " if not declined else "Wed 07:00 Set aside")


def test_whoever_was_asked_reads_the_last_call_and_the_end_if_nobody_ever_answers():
    with home() as house:
        run(house, "2026-01-23 12:00")
        assert told(house) == [
            REMINDED,
            "Tue 16:00 Last call: move the patio pots into store, start now",
            "Wed 07:00 Move the patio pots into store: the cold has passed, nobody reported it done",
        ]


def test_a_forecast_that_eases_releases_whoever_was_asked():
    with home() as house:
        run(house, "2026-01-20 14:30", week())
        assert told(house) == [REMINDED, "Tue 14:30 No need to move the patio pots into store"]


def test_a_postponement_releases_and_the_next_call_may_ask_again():
    with home() as house:
        run(house, "2026-01-20 14:30", week(0.0, 0.0, -10.5))
        run(house, "2026-01-22 12:00")
        assert told(house) == [
            REMINDED,
            "Tue 14:30 Not yet after all: move the patio pots into store later, start by 16:10 tomorrow",
            "Wed 14:10 Still to do: move the patio pots into store, start by 16:10 today",
            "Wed 16:10 Last call: move the patio pots into store, start now",
            "Thu 07:10 Move the patio pots into store: the cold has passed, nobody reported it done",
        ]


def test_work_that_is_called_for_late_leaves_half_an_hour_to_answer():
    with Household((ANN, BO), local("2026-01-20 15:20"), (POTS,)) as house:
        house.forecast(week(0.0, -10.5))
        run(house, "2026-01-20 15:55")
        assert told(house) == ["Tue 15:50 Still to do: move the patio pots into store, start by 16:00 today"]


def test_work_that_is_late_at_once_is_passed_on_after_half_an_hour():
    with Household((ANN, BO), local("2026-01-20 19:30"), (POTS,)) as house:
        house.forecast(week(0.0, -10.5))
        run(house, "2026-01-20 23:00")
        assert told(house) == ["Tue 20:00 Move the patio pots into store at once, the cold comes at 22:00 today"]


def test_work_that_nobody_could_be_asked_about_before_the_cold_is_passed_on_all_the_same():
    with Household((ANN, BO), local("2026-01-20 21:45"), (POTS,)) as house:
        house.forecast(week(0.0, -10.5))
        run(house, "2026-01-20 23:00")
        assert told(house) == ["Tue 22:15 Move the patio pots into store at once, the cold is here since 22:00 today"]


def test_a_change_while_somebody_stands_in_is_told_to_both():
    with home() as house:
        run(house, "2026-01-20 14:30", week(0.0, -19.0))
        assert told(house)[1:] == told(house, "Ann")[-1:]
        assert told(house)[-1].startswith("Tue 14:30 More severe than told: ")
        assert "the next to ask after Ann" in house.letters_to("Bo")[-1].text


def test_quiet_hours_of_whoever_is_asked_hold_until_it_presses():
    quiet = replace(BO, quiet_hours=QuietHours(time(13), time(18)))
    with home(ANN, quiet) as house:
        run(house, "2026-01-20 16:30")
        assert told(house)[:1] == ["Tue 15:30 Still to do: move the patio pots into store, start by 16:00 today"]
        assert "in your quiet hours because it would be too late at their end" in house.letters_to("Bo")[0].text


def test_the_question_goes_past_those_who_read_of_the_group_anyway():
    readers = (ANN, Reader("Bo", escalates_to="Cem"), CEM)
    assert stand_ins(readers, "pots") == {"Cem": "Ann"}
    assert stand_ins(readers, "figs") == {}
    assert stand_ins((ANN, BO, CEM), "pots") == {"Bo": "Ann"}
    assert stand_ins((ANN, Reader("Bo", escalates_to="Ann")), "pots") == {}
    assert stand_ins((ANN,), "pots") == {}
    assert stand_ins((ANN, BO, CEM), "site") == {}


def test_a_ring_asks_nobody_who_has_been_passed():
    ring = (Reader("Ann", escalates_to="Bo"), Reader("Bo", escalates_to="Ann"))
    assert stand_ins(ring, "pots") == {}


def test_a_restart_asks_nobody_twice():
    with home() as house:
        run(house, "2026-01-20 14:30")
        house.start()
        run(house, "2026-01-20 15:00")
        house.start()
        run(house, "2026-01-20 15:30")
        assert told(house) == [REMINDED]
