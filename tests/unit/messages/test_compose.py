from dataclasses import replace
from datetime import date, timedelta

import pytest

from alertd.alerts import Refusal
from alertd.core import TemperatureUnit
from alertd.messages import Reader, letter_for_test, letter_reference
from alertd.site import Cover
from tests.fakes.garden import FIGS, POTS, Keeper, local, make_forecast, make_garden, nights
from tests.fakes.letters import letters_of

DAY = date(2026, 1, 20)
TUESDAY = local("2026-01-20 08:00")
HOUR = timedelta(hours=1)
RECORD = "17:0123abcd"
ANN = Reader("ann")


def weather(*lows):
    return nights(DAY, [*lows, *[0.0] * (8 - len(lows))])


def letters(decision, garden, *readers):
    return letters_of(decision, garden, *(readers or (ANN,)), record=RECORD)


def both(now=TUESDAY, *seen, failures=(), **changes):
    garden = make_garden(FIGS, POTS, **changes)
    return Keeper(garden).look(now, *(seen or (weather(0.0, -14.0),)), failures=failures), garden


def test_one_letter_holds_all_matters_of_the_evaluation_the_most_urgent_first():
    (letter,) = letters(*both())
    assert letter.subject == "Get ready to wrap the south figs, start by 13:50 tomorrow (and 1 more)"
    assert letter.threads == ("figs-2026-01-21", "pots-2026-01-21")
    assert letter.short == (
        "Get ready to wrap the south figs, start by 13:50 tomorrow. "
        "Get ready to move the patio pots into store, start by 16:10 tomorrow"
    )
    assert letter.recipient == "ann"
    assert letter.composed == TUESDAY
    assert letter.reference == "20260120T130000Z-17-ann"
    assert letter.response_type == "Prepare"


def test_a_decision_without_notices_writes_nothing():
    decision, garden = both(TUESDAY, weather(0.0))
    assert letters(decision, garden) == ()


def test_the_text_reads_as_a_whole():
    (letter,) = letters(*both())
    plain = letter.text.replace("\N{NO-BREAK SPACE}", " ")
    assert plain.startswith(
        "Hillside, Tue 20 Jan 08:00\n\n1. Get ready to wrap the south figs, start by 13:50 tomorrow\n"
    )
    assert "\n2. Get ready to move the patio pots into store" in plain
    assert "alertd done figs-2026-01-21 --not-this-time" in plain
    assert "Forecast: source 1, made 08:00 today, read 08:00 today. Data: source 1.example.org\n" in plain
    assert plain.endswith(
        f"Record {RECORD}\nReference 20260120T130000Z-17-ann\nThis is an aid, not a safety-of-life service.\n"
    )
    assert "As it stands" not in plain
    assert max(len(line) for line in plain.splitlines()) <= 105
    assert "!" not in plain


def test_html_holds_the_same_facts_and_escapes_what_people_wrote():
    figs = replace(FIGS, name="the <b>south</b> & figs")
    garden = make_garden(figs)
    (letter,) = letters(Keeper(garden).look(TUESDAY, weather(0.0, -14.0)), garden)
    assert letter.html.startswith("<!doctype html>")
    assert "the &lt;b&gt;south&lt;/b&gt; &amp; figs" in letter.html
    assert "<b>" not in letter.html
    assert "the <b>south</b> & figs" in letter.text
    for fact in ("alertd done figs-2026-01-21", RECORD, "14:50 tomorrow"):
        assert fact in letter.html
        assert fact in letter.text


def test_readers_get_what_concerns_their_groups_and_matters_of_the_whole_site():
    readers = (ANN, Reader("bob", frozenset({"pots"})), Reader("cem", frozenset({"roses"})))
    decision, garden = both()
    assert [(each.recipient, each.threads) for each in letters(decision, garden, *readers)] == [
        ("ann", ("figs-2026-01-21", "pots-2026-01-21")),
        ("bob", ("pots-2026-01-21",)),
    ]
    blind = Keeper(garden).look(TUESDAY)
    assert [each.recipient for each in letters(blind, garden, *readers)] == ["ann", "bob", "cem"]


def test_groups_that_the_letter_does_not_speak_of_are_said_to_stand_as_they_do():
    garden = make_garden(FIGS, POTS)
    keeper = Keeper(garden)
    keeper.mark("pots", TUESDAY, cover=Cover.IN_PLACE)
    decision = keeper.look(TUESDAY, weather(0.0, -14.0))
    ann, bob = letters(decision, garden, ANN, Reader("bob", frozenset({"figs"})))
    assert "As it stands:\n- the patio pots: in store\n" in ann.text
    assert "<li>the patio pots: in store</li>" in ann.html
    assert "As it stands" not in bob.text


def test_matters_stand_by_weight_then_latest_start_then_severity():
    garden = make_garden(FIGS, POTS)
    keeper = Keeper(garden)
    keeper.look(TUESDAY, weather(-14.0))
    decision = keeper.look(local("2026-01-20 14:40"), weather(-14.0))
    assert {notice.kind.value for notice in decision.notices} == {"final_call", "reminder"}
    (letter,) = letters(decision, garden)
    assert letter.subject == "Last call: wrap the south figs, start now (and 1 more)"
    keeper = Keeper(garden)
    keeper.look(TUESDAY, weather(0.0, -14.0))
    keeper.done("figs-2026-01-21", TUESDAY)
    decision = keeper.look(TUESDAY + HOUR, weather(0.0))
    (letter,) = letters(decision, garden)
    assert letter.threads == ("pots-2026-01-21", "figs-2026-01-21")
    assert letter.response_type == "None"


def test_a_matter_of_the_whole_site_without_a_latest_start_stands_behind_those_with_one():
    garden = make_garden(FIGS)
    keeper = Keeper(garden)
    keeper.look(TUESDAY, weather(0.0, -14.0))
    decision = keeper.look(local("2026-01-20 17:10"))
    (letter,) = letters(decision, garden)
    assert letter.threads == ("figs-2026-01-21", "site-2026-01-20")


def test_the_short_form_fits_two_text_messages():
    groups = [replace(FIGS, group_id=f"figs{place}", name=f"the figs of bed {place}") for place in range(9)]
    garden = make_garden(*groups)
    (letter,) = letters(Keeper(garden).look(TUESDAY, weather(0.0, -14.0)), garden)
    assert len(letter.short) <= 300
    assert letter.short.endswith("…")
    assert letter.subject.endswith("(and 8 more)")


@pytest.mark.parametrize(
    ("units", "other", "text"),
    [
        (TemperatureUnit.CELSIUS, -16.0, "Sources differ by 2 °C about the lowest of the next two days."),
        (TemperatureUnit.FAHRENHEIT, -19.0, "Sources differ by 9 °F about the lowest of the next two days."),
        (TemperatureUnit.CELSIUS, -15.9, None),
    ],
)
def test_sources_that_disagree_are_said_to_differ(units, other, text):
    two = [make_forecast(TUESDAY, weather(low), name) for low, name in ((-14.0, "north"), (other, "south"))]
    (letter,) = letters(*both(TUESDAY, *two, units=units))
    if text is None:
        assert "Sources differ" not in letter.text
    else:
        assert text in letter.text.replace("\N{NO-BREAK SPACE}", " ")
        assert text in letter.html.replace("\N{NO-BREAK SPACE}", " ")


def test_sources_left_out_are_named_with_their_reason():
    (letter,) = letters(*both(failures=[Refusal("south", "no answer within 10 s")]))
    assert "Not used: south, no answer within 10 s." in letter.text
    assert "Not used: south, no answer within 10 s." in letter.html


def test_a_blind_letter_names_no_forecast():
    decision, garden = both(TUESDAY, make_forecast(TUESDAY - timedelta(hours=13), weather(0.0)))
    (letter,) = letters(decision, garden)
    assert letter.subject == "The watch is blind: read a forecast yourself"
    assert "Forecast:" not in letter.text
    assert "Forecast:" not in letter.html
    assert "Not used: north, stale: made 13 h ago, allowed are 12 h." in letter.text


def test_a_source_without_credits_is_named_without():
    bare = replace(make_forecast(TUESDAY, weather(0.0, -14.0)), credits="")
    (letter,) = letters(*both(TUESDAY, bare))
    assert "Forecast: north, made 08:00 today, read 08:00 today.\n" in letter.text


def test_references_name_instant_record_and_reader():
    assert letter_reference(TUESDAY, "1234:ffff", "keeper") == "20260120T130000Z-1234-keeper"


def test_a_letter_for_test_says_that_nothing_is_to_be_done():
    letter = letter_for_test(make_garden(), ANN, TUESDAY, RECORD)
    assert letter.subject == letter.short == "Test message from Hillside, nothing to do"
    assert letter.reference == "20260120T130000Z-17-ann-test"
    assert "Test message of alertd. Nothing is to be done." in letter.text
    assert "Test message of alertd" in letter.html
    assert letter.threads == ()
    assert letter.response_type == "None"


def test_advice_that_an_earlier_item_gives_is_not_repeated():
    other = replace(FIGS, group_id="north", name="the north figs")
    garden = make_garden(FIGS, other)
    (letter,) = letters(Keeper(garden).look(TUESDAY, weather(0.0, -14.0)), garden)
    assert letter.text.count("Prune first") == 1
    assert "How: As in 1." in letter.text
    assert "Take care: As in 1." in letter.text
    assert letter.text.count("Done: alertd done") == 2
