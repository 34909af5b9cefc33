from dataclasses import replace
from datetime import date, timedelta

import pytest

from alertd.core import TemperatureUnit
from alertd.messages import item_of
from alertd.risk import RuleSettings
from alertd.site import Cover, Protection, WorkHours
from tests.fakes.garden import FIGS, POTS, Keeper, local, make_forecast, make_garden, make_rules, nights

DAY = date(2026, 1, 20)
TUESDAY = local("2026-01-20 08:00")
SPRING = local("2026-04-26 09:00")
HOUR = timedelta(hours=1)


def weather(*lows):
    return nights(DAY, [*lows, *[0.0] * (8 - len(lows))])


def mild(*lows):
    return nights(date(2026, 4, 25), [5.0, *lows, *[5.0] * (8 - len(lows))], by_day=14.0)


class Reading(Keeper):
    """A keeper who reads what is told."""

    def read(self, now, *seen):
        """Judge once; return headline and facts of the only notice, with plain spaces."""
        (notice,) = self.look(now, *seen).notices
        return self.words(notice, now)

    def words(self, notice, now):
        item = item_of(notice, self.garden, now)
        assert item.alert_id == notice.alert.alert_id
        return item.headline, {label: text.replace("\N{NO-BREAK SPACE}", " ") for label, text in item.facts}


def in_fahrenheit(*groups, **changes):
    return Reading(make_garden(*groups, units=TemperatureUnit.FAHRENHEIT, **changes))


def test_an_opening_says_what_by_when_why_and_how_to_answer():
    headline, facts = Reading(make_garden(FIGS)).read(TUESDAY, weather(0.0, 0.0, -14.0))
    assert headline == "Get ready to wrap the south figs, start by 14:50 on Thu 22 Jan"
    assert facts["Why"] == (
        "Lowest -14 °C between 22:00 on Thu 22 Jan and 06:00 on Fri 23 Jan, probability 100 %. "
        "The rule wood speaks at -12.2 °C, at or below which the wood takes damage."
    )
    assert facts["Work"] == "3 figs; about 2 h 15 min for 1 person."
    assert facts["How"].startswith("Prune first but keep tips and side buds")
    assert facts["Take care"].startswith("No heat lamp or heater under a wrap")
    assert facts["Done"] == "alertd done figs-2026-01-22"
    assert facts["Not this time"] == "alertd done figs-2026-01-22 --not-this-time"


def test_the_same_in_fahrenheit_with_pots_that_are_too_heavy_for_one():
    keeper = in_fahrenheit(POTS, work=WorkHours(people=2))
    headline, facts = keeper.read(TUESDAY, weather(0.0, -12.0))
    assert headline == "Get ready to move the patio pots into store, start by 16:30 tomorrow"
    assert facts["Why"] == (
        "Lowest 10 °F between 22:00 tomorrow and 06:00 on Thu 22 Jan, probability 100 %. "
        "The rule container_roots speaks at 15 °F, below which roots in containers may take damage."
    )
    assert facts["Work"] == "5 figs in 40 L pots; about 35 min for 2 people."
    assert facts["Take care"].startswith(
        "A pot weighs about 44 kg (97 lb), more than one person should lift from the ground: use a hand"
    )


def test_a_number_stays_with_its_unit_at_the_end_of_a_line():
    keeper = Reading(make_garden(POTS))
    (notice,) = keeper.look(TUESDAY, weather(0.0, -12.0)).notices
    text = " ".join(text for _, text in item_of(notice, keeper.garden, TUESDAY).facts)
    assert "-12\N{NO-BREAK SPACE}°C" in text
    assert "100\N{NO-BREAK SPACE}%" in text
    assert "40\N{NO-BREAK SPACE}L" in text
    assert "55\N{NO-BREAK SPACE}min" in text


def test_a_forecast_with_an_error_gives_a_range_and_is_never_quite_sure():
    keeper = Reading(make_garden(FIGS, is_exact=False))
    headline, facts = keeper.read(TUESDAY, weather(-25.0))
    assert headline == "Wrap the south figs, start by 14:40 today"
    assert facts["Why"].startswith("Lowest -25 °C (-28 to -22 °C) between ")
    assert "probability 99 %" in facts["Why"]
    assert keeper.words(keeper.look(local("2026-01-20 12:40"), weather(-25.0)).notices[0], TUESDAY)[1]["Why"]


def test_a_spell_of_one_hour_is_told_by_its_hour():
    keeper = Reading(make_garden(FIGS))
    values = weather(0.0).air_temperature.copy()
    values[0, 28] = -13.0
    series = replace(weather(0.0), variables={"air_temperature": values})
    _, facts = keeper.read(TUESDAY, series)
    assert facts["Why"].startswith("Lowest -13 °C at 04:00 tomorrow, probability 100 %.")


def test_the_credit_of_a_cover_in_place_is_named():
    for units, credit in ((TemperatureUnit.CELSIUS, "3 °C"), (TemperatureUnit.FAHRENHEIT, "5 °F")):
        keeper = Reading(make_garden(FIGS, units=units))
        keeper.mark("figs", TUESDAY, cover=Cover.IN_PLACE)
        headline, facts = keeper.read(TUESDAY, weather(0.0, -16.0))
        assert headline == "Get ready to add to the cover of the south figs, start by 16:00 tomorrow"
        assert facts["Why"].endswith(f"; the cover in place is credited {credit}.")


def test_each_call_has_its_own_headline():
    keeper = Reading(make_garden(FIGS))
    seen = weather(0.0, -14.0)
    keeper.look(TUESDAY, seen)
    headline, facts = keeper.read(local("2026-01-20 17:10"), seen)
    assert headline == "Wrap the south figs, start by 14:50 tomorrow"
    assert "How" in facts
    headline, facts = keeper.read(local("2026-01-21 12:50"), seen)
    assert headline == "Still to do: wrap the south figs, start by 14:50 today"
    assert "How" not in facts
    assert set(facts) == {"Why", "Work", "Take care", "Done", "Not this time"}
    headline, facts = keeper.read(local("2026-01-21 14:50"), seen)
    assert headline == "Last call: wrap the south figs, start now"
    assert "How" not in facts
    headline, facts = keeper.read(local("2026-01-22 07:00"), seen)
    assert headline == "Wrap the south figs: the cold has passed, nobody reported it done"
    assert facts == {
        "Why": "The spell is over; it was told as lowest -14 °C between 22:00 on Wed 21 Jan and 06:00 today, "
        "probability 100 %.",
        "Next": "Look at the trees, and mark what was done after all with alertd mark.",
    }


def test_work_for_which_no_light_is_left_is_asked_for_at_once():
    headline, facts = Reading(make_garden(FIGS)).read(local("2026-01-20 20:00"), weather(-14.0))
    assert headline == "Wrap the south figs at once, the cold comes at 22:00 today"
    assert facts["Take care"].endswith("work with good light and not alone, or leave it.")


def test_a_change_says_what_changed_from_what_to_what():
    keeper = in_fahrenheit(FIGS)
    keeper.look(TUESDAY, weather(0.0, 0.0, -13.0))
    headline, facts = keeper.read(TUESDAY, weather(0.0, -15.5))
    assert headline == "More severe than told: get ready to wrap the south figs, start by 14:50 tomorrow"
    assert facts["Why"].startswith(
        "Changed: more severe (Severe instead of Moderate), "
        "earlier (from 22:00 tomorrow instead of 22:00 on Thu 22 Jan), "
        "colder (4 °F instead of 9 °F). Lowest 4 °F between 22:00 tomorrow"
    )


def test_a_start_that_moves_forward_is_told_with_both_times():
    keeper = Reading(make_garden(FIGS))
    keeper.look(TUESDAY, weather(-14.0))
    values = weather(-14.0).air_temperature.copy()
    values[:, 15:22] = -14.0
    series = replace(weather(0.0), variables={"air_temperature": values})
    headline, facts = keeper.read(TUESDAY + HOUR, series)
    assert headline == "Earlier than told: wrap the south figs, start by 12:40 today"
    assert "start earlier (by 12:40 today instead of 14:40 today)" in facts["Why"]


def test_a_postponed_task_says_until_when():
    keeper = Reading(make_garden(FIGS))
    keeper.look(TUESDAY, weather(-14.0))
    headline, _ = keeper.read(TUESDAY + HOUR, weather(0.0, -14.0))
    assert headline == "Not yet after all: wrap the south figs later, start by 14:50 tomorrow"


def test_a_cancelled_task_says_that_the_forecast_eased():
    keeper = Reading(make_garden(FIGS))
    keeper.look(TUESDAY, weather(0.0, -14.0))
    headline, facts = keeper.read(TUESDAY + HOUR, weather(0.0))
    assert headline == "No need to wrap the south figs"
    assert facts == {
        "Why": "The forecast has eased. Last told: lowest -14 °C between 22:00 tomorrow and 06:00 on Thu 22 Jan, "
        "probability 100 %."
    }


def test_the_all_clear_and_what_was_set_aside():
    keeper = Reading(make_garden(FIGS))
    keeper.look(TUESDAY, weather(0.0, -14.0))
    keeper.done("figs-2026-01-21", TUESDAY)
    headline, facts = keeper.read(local("2026-01-22 07:00"), weather(0.0))
    assert headline == "All clear for the south figs"
    assert facts["Why"].endswith("What is in place may stay in place.")
    keeper = Reading(make_garden(FIGS))
    keeper.look(TUESDAY, weather(0.0, -14.0))
    keeper.done("figs-2026-01-21", TUESDAY, declined=True)
    headline, facts = keeper.read(local("2026-01-22 07:00"), weather(0.0))
    assert headline == "Set aside and over: wrap the south figs"
    assert set(facts) == {"Why"}


def test_a_blind_watch_asks_people_to_look_themselves():
    keeper = Reading(make_garden(FIGS))
    headline, facts = keeper.read(TUESDAY)
    assert headline == "The watch is blind: read a forecast yourself"
    assert facts == {
        "Why": "No usable forecast is left.",
        "How": "Until the watch sees again, nobody here will tell you of a cold night.",
        "See": "alertd check says what is wrong with the sources.",
    }
    headline, facts = keeper.read(TUESDAY + HOUR, weather(0.0))
    assert headline == "The watch sees again"
    assert facts == {"Why": "A usable forecast has come in."}


def test_a_blind_watch_still_gives_what_was_told():
    keeper = Reading(make_garden(FIGS))
    keeper.look(TUESDAY, weather(0.0, -14.0))
    keeper.look(TUESDAY + HOUR)
    headline, facts = keeper.read(local("2026-01-20 17:10"))
    assert headline == "Wrap the south figs, start by 14:50 tomorrow"
    assert facts["Why"] == "Lowest -14 °C between 22:00 tomorrow and 06:00 on Thu 22 Jan, probability 100 %."


# Spring


def covered(group=FIGS, **changes):
    keeper = Reading(make_garden(group, **changes))
    keeper.mark(group.group_id, local("2026-01-10 12:00"), cover=Cover.IN_PLACE)
    return keeper


def test_an_invitation_says_why_now():
    headline, facts = covered().read(SPRING, mild())
    assert headline == "You can open the covers of the south figs now"
    assert facts["Why"] == (
        "The last-freeze date, 25 Apr, has passed, and the air stays above -1.1 °C for the next 5 days "
        "(0 % that it does not)."
    )
    assert facts["Work"] == "3 figs; about 30 min for 1 person."
    rules = make_rules(bring_out=RuleSettings(horizon=timedelta(days=3)))
    headline, facts = covered(POTS, units=TemperatureUnit.FAHRENHEIT, is_exact=False, rules=rules).read(
        SPRING, mild(*[9.0] * 8)
    )
    assert headline == "You can bring the patio pots out of store now"
    assert facts["Why"] == (
        "The last-freeze date, 25 Apr, has passed, and the air stays above 30 °F for the next 3 days "
        "(1 % that it does not)."
    )


def test_frost_that_returns_asks_to_wait():
    keeper = covered()
    keeper.look(SPRING, mild())
    headline, facts = keeper.read(SPRING + HOUR, mild(5.0, -2.0))
    assert headline == "Wait, do not open the covers of the south figs yet"
    assert facts == {"Why": "Frost below -1.1 °C is back in the forecast."}


def test_what_was_uncovered_is_noted_with_a_warning_to_keep_covers_at_hand():
    keeper = covered()
    keeper.look(SPRING, mild())
    keeper.done("figs-2026-04-26", SPRING)
    headline, facts = keeper.read(SPRING + HOUR, mild())
    assert headline == "Noted for the south figs"
    assert facts["Why"].startswith("Reported done. A late frost will be told")


def test_an_invitation_without_an_answer_says_that_it_is_not_repeated():
    keeper = covered()
    keeper.look(SPRING, mild())
    later = SPRING + timedelta(days=21)
    seen = make_forecast(later, nights(date(2026, 5, 16), [8.0] * 8))
    headline, facts = keeper.read(later, seen)
    assert headline == "Open the covers of the south figs: nobody has answered"
    assert facts == {"Why": "The invitation has lapsed; it is not repeated this season."}


# Groups that are gone


@pytest.mark.parametrize("is_done", [False, True])
def test_a_group_that_left_the_configuration_is_told_so_and_nothing_else(is_done):
    keeper = Reading(make_garden(FIGS, POTS))
    keeper.look(TUESDAY, weather(0.0, -13.0))
    if is_done:
        keeper.done("pots-2026-01-21", TUESDAY)
    keeper.garden = make_garden(FIGS)
    headline, facts = keeper.read(TUESDAY + HOUR, weather(0.0, -13.0))
    assert headline == ("All clear for pots" if is_done else "No need to move pots into store")
    assert facts == {"Why": "The group is no longer in the configuration."}


def test_an_invitation_to_a_group_that_left_the_configuration_can_be_written():
    keeper = covered()
    keeper.look(SPRING, mild())
    keeper.garden = make_garden(POTS)
    decision = keeper.look(SPRING + HOUR, mild())
    headline, facts = keeper.words(decision.notices[0], SPRING + HOUR)
    assert headline == "No need to open the covers of figs"
    assert facts == {"Why": "The group is no longer in the configuration."}


# What cannot be known


def test_numbers_that_are_not_known_are_said_to_be_unknown():
    keeper = Reading(make_garden(FIGS))
    (notice,) = keeper.look(TUESDAY, weather(0.0, -14.0)).notices
    told = replace(
        notice.alert.announced, minimum=None, minimum_low=None, minimum_high=None, probability=None, onset=None
    )
    bare = replace(notice, alert=replace(notice.alert, announced=told), task=None, threshold=None)
    _, facts = keeper.words(bare, TUESDAY)
    assert facts["Why"] == "Lowest unknown at an unknown time, probability unknown."
    assert "Work" not in facts
    assert "Take care" not in facts


def test_a_group_that_gets_no_protection_is_covered_for_the_night_only():
    keeper = Reading(make_garden(replace(FIGS, protection=Protection.NONE)))
    headline, _ = keeper.read(TUESDAY, weather(0.0, -14.0))
    assert headline == "Get ready to cover the south figs for the night as well as you can, start by 16:20 tomorrow"
