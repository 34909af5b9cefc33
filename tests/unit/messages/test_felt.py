"""What models say, as people read it; every sentence must stand being read aloud."""

import re
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from alertd.core import TemperatureUnit
from alertd.messages import item_of
from alertd.messages.felt import felt_text, missing_text, share_text
from alertd.risk import RuleSettings
from alertd.site import Cover, Place, PotStanding, Protection
from alertd.thermal import Model, Used
from tests.fakes.felt import SUN, WETNESS, WIND, bound_with, dip, felt_with, threshold_with, with_models
from tests.fakes.garden import FIGS, POTS, Keeper, local, make_garden, make_rules, nights

TUESDAY = local("2026-01-20 08:00")
HOURS = 96

#: Thursday, 05:00 and 07:00, as hours from TUESDAY.
COLDEST_AIR, COLDEST_ROOTS = 45, 47


def notice_of(group, low=-12.0, **changes):
    """Return the notice of the air's rule for the night to Thursday, and the garden."""
    garden = make_garden(group, **{"units": TemperatureUnit.FAHRENHEIT, **changes})
    (notice,) = Keeper(garden).look(TUESDAY, nights(date(2026, 1, 20), [0.0, low, 0.0, 0.0])).notices
    return notice, garden


def roots(lowest, **more):
    return threshold_with(felt_with(Model.ROOT_BALL, TUESDAY, dip(HOURS, lowest, COLDEST_ROOTS), **more))


def wood(model, lowest, *, of_growth=False, **more):
    felt = felt_with(model, TUESDAY, dip(HOURS, lowest, COLDEST_AIR), **more)
    return threshold_with(felt, of_growth=of_growth)


def store(lowest, **more):
    return threshold_with(felt_with(Model.STORE_ROOM, TUESDAY, dip(HOURS, lowest, COLDEST_ROOTS), **more))


def read(group, *models, raised_by=None, low=-12.0, **changes):
    notice, garden = notice_of(group, low, **changes)
    return felt_text(with_models(notice, *models, raised_by=raised_by), garden, TUESDAY)


def test_root_balls_are_told_with_their_coldest_part_its_range_the_hour_and_the_core():
    text = read(POTS, roots(-7.0, spread=1.3, medians={"core": dip(HOURS, -0.4, 50)}))
    assert text == (
        "By the model the coldest fifth of the root balls reaches 19 °F (17 to 22 °F) by 07:00 on Thu 22 Jan, "
        "while the core stays at 31 °F; roots may die below 23 °F."
    )


def test_a_core_that_freezes_too_is_told_as_such():
    text = read(POTS, roots(-9.0, medians={"core": dip(HOURS, -6.0, 50)}))
    assert text == (
        "By the model the coldest fifth of the root balls reaches 16 °F by 07:00 on Thu 22 Jan, even the core 21 °F; "
        "roots may die below 23 °F."
    )


def test_a_core_that_is_frozen_and_lives_does_not_stay_anywhere():
    text = read(POTS, roots(-9.0, medians={"core": dip(HOURS, -4.4, 50)}))
    assert "reaches 16 °F by 07:00 on Thu 22 Jan, while the core gets no colder than 24 °F; roots" in text


def test_root_balls_that_stay_warm_enough_are_told_by_what_they_all_but_surely_stay_above():
    assert read(POTS, roots(-2.0, spread=0.4)) == (
        "By the model the coldest fifth of the root balls stays above 27 °F; roots may die below 23 °F."
    )


def test_a_lowest_near_the_limit_is_no_stay_above_it():
    assert "reaches 24 °F" in read(POTS, roots(-4.7))


def test_a_bound_is_told_of_the_whole_root_ball():
    bound = threshold_with(bound_with(Model.ROOT_BALL, TUESDAY, dip(HOURS, -1.0, COLDEST_ROOTS)))
    assert read(POTS, bound) == "By the model the root balls stay above 30 °F; roots may die below 23 °F."
    assert read(replace(POTS, count=1), bound).startswith("By the model the root ball stays above 30 °F")


@pytest.mark.parametrize(
    ("share", "begins"),
    [
        (0.5, "the coldest half of the root balls reaches"),
        (0.33, "the coldest third of the root balls reaches"),
        (0.25, "the coldest quarter of the root balls reaches"),
        (0.1, "the coldest tenth of the root balls reaches"),
        (0.15, "the coldest 15 % of the root balls reach"),
    ],
)
def test_the_share_that_may_be_lost_is_said_in_words_where_it_has_one(share, begins):
    assert read(POTS, roots(-7.0), rules=make_rules(root_share=share)).startswith(f"By the model {begins} ")
    assert share_text(share)[0] in begins


def test_a_share_in_percent_stays_in_the_plural():
    text = read(POTS, roots(-2.0), rules=make_rules(root_share=0.15))
    assert text.startswith("By the model the coldest 15 % of the root balls stay above 28 °F")


def test_one_pot_has_one_root_ball():
    assert read(replace(POTS, count=1), roots(-7.0)).startswith(
        "By the model the coldest fifth of the root ball reaches"
    )


def test_bare_wood_is_told_by_the_air_that_would_make_it_so_cold():
    assert read(FIGS, wood(Model.BARE_WOOD, -14.5, spread=0.7), low=-13.0) == (
        "By the model the wood gets as cold on this calm clear night as air of 6 °F (4 to 7 °F) would make it, "
        "by 05:00 on Thu 22 Jan; damage begins at 10 °F."
    )


def test_cold_that_comes_by_day_is_no_calm_clear_night():
    noon = threshold_with(felt_with(Model.BARE_WOOD, TUESDAY, dip(HOURS, -14.5, 52), spread=0.7))
    text = read(FIGS, noon, low=-13.0)
    assert text.startswith(
        "By the model the wood gets as cold as air of 6 °F (4 to 7 °F) would make it, by 12:00 on Thu"
    )


def test_stems_that_stand_in_mulch_do_not_lie_under_it():
    for protection, where in ((Protection.MULCH_RING, "in"), (Protection.BEND_AND_MULCH, "under")):
        group = replace(FIGS, protection=protection)
        cold, mild = wood(Model.MULCHED_STEMS, -14.5), wood(Model.MULCHED_STEMS, -3.0)
        assert f"the wood {where} the mulch gets as cold as air of 6 °F would make it" in read(group, cold, low=-25.0)
        assert f"the wood {where} the mulch gets no colder than" in read(group, mild, raised_by=mild, low=-25.0)


def test_wind_and_cloud_that_keep_wood_warmer_are_named():
    assert read(FIGS, wood(Model.BARE_WOOD, -11.0, spread=1.5), low=-13.0) == (
        "By the model wind and cloud keep the wood as warm as air of 12 °F (9 to 15 °F) would, by 05:00 on Thu 22 Jan; "
        "damage begins at 10 °F."
    )
    by_a_wall = replace(FIGS, place=Place(wall_view=0.3))
    text = read(by_a_wall, wood(Model.BARE_WOOD, -11.0, spread=1.5), low=-13.0)
    assert text.startswith("By the model the warm wall, wind and cloud keep the wood as warm as")


def test_wood_as_cold_as_the_air_is_told_as_that():
    assert read(FIGS, wood(Model.BARE_WOOD, -13.2), low=-13.0) == (
        "By the model the wood gets as cold as the air, 8 °F, by 05:00 on Thu 22 Jan; damage begins at 10 °F."
    )


def test_wood_that_is_not_hurt_is_told_by_the_coldest_air_it_feels():
    assert read(FIGS, wood(Model.BARE_WOOD, -9.0), low=-13.0) == (
        "By the model the wood gets no colder than air of 15 °F would make it; damage begins at 10 °F."
    )


def test_shoots_and_buds_are_told_in_the_plural():
    of_growth = wood(Model.BARE_WOOD, -4.0, of_growth=True)
    assert read(FIGS, of_growth, raised_by=of_growth, low=-13.0) == (
        "By the model wind and cloud keep shoots and buds as warm as air of 25 °F would, by 05:00 on Thu 22 Jan; "
        "damage begins below 28 °F."
    )


def test_of_two_rules_that_judge_by_one_model_the_one_that_speaks_is_enough():
    of_growth, of_wood = wood(Model.BARE_WOOD, -14.0, of_growth=True), wood(Model.BARE_WOOD, -14.0)
    text = read(FIGS, of_wood, of_growth, raised_by=of_growth, low=-13.0)
    assert text.startswith(
        "By the model shoots and buds get as cold on this calm clear night as air of 7 °F would make "
    )
    assert text.count("damage begins") == 1


@pytest.mark.parametrize(
    ("medians", "begins"),
    [
        (
            {"gain": np.full(HOURS, 2.2)},
            "By the model the cover gains 4 °F, and the wood under the cover gets as cold as ",
        ),
        ({"gain": np.full(HOURS, -0.1)}, "By the model the cover gains nothing, and the wood under the cover gets as "),
        ({"gain": np.full(HOURS, np.nan)}, "By the model the wood under the cover gets as cold as air of 9 °F would "),
        (
            {},
            "By the model the wood under the cover gets as cold as air of 9 °F would make it, by 05:00 on Thu 22 Jan; ",
        ),
    ],
)
def test_wrapped_wood_is_told_with_what_the_cover_gains(medians, begins):
    assert read(FIGS, wood(Model.WRAPPED_WOOD, -13.0, medians=medians), low=-16.0).startswith(begins)


def test_wrapped_wood_that_stays_warm_enough():
    assert read(FIGS, wood(Model.WRAPPED_WOOD, -9.0), low=-16.0) == (
        "By the model the wood under the cover gets no colder than air of 15 °F would make it; damage begins at 10 °F."
    )


def test_wood_under_mulch_is_told_in_the_same_terms():
    gain = {"gain": np.full(HOURS, 12.0)}
    assert read(FIGS, wood(Model.MULCHED_STEMS, -13.0, medians=gain), low=-25.0) == (
        "By the model the mulch gains 22 °F, and the wood under the mulch gets as cold as air of 9 °F would make it, "
        "by 05:00 on Thu 22 Jan; damage begins at 10 °F."
    )
    assert read(FIGS, wood(Model.MULCHED_STEMS, -2.0), low=-25.0) == (
        "By the model the wood under the mulch gets no colder than air of 28 °F would make it; damage begins at 10 °F."
    )


def test_buds_under_a_cover_are_told_in_the_plural():
    of_growth = wood(Model.WRAPPED_WOOD, -4.0, of_growth=True)
    assert read(FIGS, of_growth, raised_by=of_growth, low=-13.0) == (
        "By the model shoots and buds under the cover get as cold as air of 25 °F would make them, "
        "by 05:00 on Thu 22 Jan; damage begins below 28 °F."
    )


def test_a_store_is_told_with_the_room_and_the_roots_in_it():
    cold = store(-6.0, medians={"air": dip(HOURS, -8.0, COLDEST_AIR)})
    assert read(POTS, cold) == (
        "By the model the room reaches 18 °F by 05:00 on Thu 22 Jan, and the roots in it 21 °F by 07:00 on Thu 22 Jan; "
        "roots may die below 23 °F."
    )
    alike = store(-6.0, medians={"air": dip(HOURS, -6.0, COLDEST_ROOTS)})
    assert read(POTS, alike) == "By the model the room reaches 21 °F by 07:00 on Thu 22 Jan; roots may die below 23 °F."
    assert read(POTS, store(-6.0)) == read(POTS, alike)
    assert read(POTS, store(-1.0)) == "By the model the roots in store stay above 30 °F; roots may die below 23 °F."


def test_what_is_not_threatened_is_told_only_of_the_tissue_that_raised_the_alert():
    harmless, harmful = wood(Model.BARE_WOOD, -5.0), wood(Model.BARE_WOOD, -14.0)
    assert read(POTS, harmless, roots(-7.0)) == read(POTS, roots(-7.0))
    both = read(POTS, harmful, roots(-7.0))
    assert both.startswith("By the model the coldest fifth"), "first what raised the alert"
    assert " The wood gets as cold on this calm clear night as air of 7 °F would make it, by " in both


def test_the_assumptions_that_may_decide_are_named_two_at_most():
    used = (Used(WETNESS, 0.9), Used(WIND, 0.6), Used(SUN, 0.5))
    text = read(POTS, roots(-5.5, spread=1.3, used=used))
    assert text.endswith(
        " Assumed, not measured, and it may decide: how wet the root balls are and how much wind reaches the pots."
    )


@pytest.mark.parametrize(
    ("used", "end"),
    [
        ((Used(WETNESS, 0.9), Used(WIND, 0.4)), "may decide: how wet the root balls are."),
        ((Used(WETNESS, 0.2),), "roots may die below 23 °F."),
        ((Used(WETNESS.measured(0.4), 0.0), Used(WIND, 0.7)), "may decide: how much wind reaches the pots."),
    ],
)
def test_an_assumption_that_matters_little_or_was_measured_is_not_named(used, end):
    assert read(POTS, roots(-5.5, spread=1.3, used=used)).endswith(end)


@pytest.mark.parametrize("lowest", [-8.0, -3.0])
def test_where_the_model_is_sure_enough_no_assumption_is_named(lowest):
    assert "Assumed" not in read(POTS, roots(lowest, spread=1.0, used=(Used(WETNESS, 0.9),)))
    assert "Assumed" in read(POTS, roots(-6.5, spread=1.0, used=(Used(WETNESS, 0.9),)))


def test_of_an_assumption_only_what_it_is_is_said_not_how_it_is_counted():
    sky = replace(WETNESS, meaning="radiation of the clear sky, from -1 to 1")
    assert read(POTS, roots(-5.5, spread=1.3, used=(Used(sky, 0.9),))).endswith(
        "may decide: radiation of the clear sky."
    )


@pytest.mark.parametrize("said", [roots, store])
def test_pots_of_which_nobody_said_how_large_they_are_are_told_as_small_ones(said):
    unknown = replace(POTS, container_volume=None)
    text = read(unknown, said(-5.5, spread=1.3, used=(Used(WETNESS, 0.9),)))
    assert (
        "roots may die below 23 °F. Nobody said how large the pots are: taken to hold 15 litres. Assumed, not " in text
    )
    assert "how large the pot is: taken to hold 15 litres." in read(replace(unknown, count=1), said(-7.0))
    for measured in (PotStanding(top_diameter=0.3), PotStanding(height=0.3)):
        assert "Nobody said" not in read(replace(unknown, pot=measured), said(-7.0))
    assert "Nobody said" not in read(POTS, said(-7.0))


def test_of_wood_in_pots_of_unknown_size_no_size_is_told():
    assert "Nobody said" not in read(replace(POTS, container_volume=None), wood(Model.BARE_WOOD, -14.5))


def test_weather_that_no_source_tells_is_named_once():
    text = read(
        POTS,
        roots(-7.0, missing=("wind_speed", "cloud_area_fraction")),
        wood(Model.BARE_WOOD, -14.0, missing=("wind_speed", "dew_point_temperature")),
    )
    assert text.endswith(" No source tells the wind, the clouds or the humidity: assumed.")
    assert missing_text(["air_pressure"]) == "No source tells the air pressure: assumed."
    assert missing_text([]) == ""


def test_what_a_model_remarks_stands_at_the_end_once():
    remark = "The cover touches the wood, so its sky is the wood's."
    text = read(FIGS, wood(Model.WRAPPED_WOOD, -13.0, remarks=(remark, remark)), low=-16.0)
    assert text.endswith(f"damage begins at 10 °F. {remark}")


def test_the_cold_of_another_spell_is_not_told_in_this_matter():
    later = np.minimum(dip(HOURS, -6.0, COLDEST_ROOTS), dip(HOURS, -9.0, COLDEST_ROOTS + 40))
    text = read(POTS, threshold_with(felt_with(Model.ROOT_BALL, TUESDAY, later)))
    assert "reaches 21 °F by 07:00 on Thu 22 Jan" in text


def test_a_model_that_knows_nothing_of_the_time_says_nothing():
    unknown = np.full(HOURS, np.nan)
    unknown[0] = -9.0
    assert read(POTS, threshold_with(felt_with(Model.ROOT_BALL, TUESDAY, unknown))) == ""


def test_a_rule_without_a_model_and_a_matter_without_a_spell_say_nothing():
    notice, garden = notice_of(POTS)
    assert felt_text(with_models(notice, notice.threshold), garden, TUESDAY) == ""
    timeless = replace(notice.alert, announced=replace(notice.alert.announced, onset=None))
    assert felt_text(with_models(replace(notice, alert=timeless), roots(-7.0)), garden, TUESDAY) == ""
    assert felt_text(with_models(notice, roots(-7.0)), replace(garden, groups=(FIGS,)), TUESDAY) == ""


def test_wood_without_an_air_to_compare_with_is_told_as_cold_as_the_air():
    notice, garden = notice_of(FIGS, -13.0)
    bare = replace(notice.alert, announced=replace(notice.alert.announced, minimum=None))
    text = felt_text(with_models(replace(notice, alert=bare), wood(Model.BARE_WOOD, -14.0)), garden, TUESDAY)
    assert text.startswith("By the model the wood gets as cold as the air, 7 °F, by")


def facts_of(notice, garden):
    return {label: text.replace("\N{NO-BREAK SPACE}", " ") for label, text in item_of(notice, garden, TUESDAY).facts}


def test_a_letter_tells_the_rule_that_raised_it_and_the_model_beside():
    notice, garden = notice_of(POTS)
    facts = facts_of(with_models(notice, roots(-7.0)), garden)
    assert list(facts)[:3] == ["Why", "Model", "Work"]
    assert facts["Why"].endswith(
        "The rule container_roots speaks at 15 °F, below which roots in containers may take damage."
    )
    assert facts["Model"].startswith("By the model the coldest fifth of the root balls reaches 19 °F by ")


@pytest.mark.parametrize(
    ("low", "spread", "end"),
    [
        (-12.0, 0.0, "The rule container_roots, which judges the air, speaks too, at 15 °F."),
        (-8.0, 0.5, "The rule container_roots, which judges the air, speaks at 15 °F only."),
        (-8.0, 3.0, "The rule container_roots, which judges the air, speaks at 15 °F."),
    ],
)
def test_a_letter_that_a_model_raised_tells_what_the_air_says_beside(low, spread, end):
    notice, garden = notice_of(POTS)
    told = replace(notice.alert.announced, minimum=low, minimum_low=low - spread)
    raised = roots(-7.0)
    facts = facts_of(
        with_models(replace(notice, alert=replace(notice.alert, announced=told)), raised, raised_by=raised), garden
    )
    assert "The rule root_zone speaks at 23 °F, below which roots may die, by what a model computes" in facts["Why"]
    assert facts["Why"].startswith("Lowest air ")
    assert facts["Why"].endswith(end)


def test_the_credit_of_a_cover_lowers_what_the_air_says_beside():
    garden = make_garden(FIGS, units=TemperatureUnit.FAHRENHEIT)
    keeper = Keeper(garden)
    keeper.mark("figs", TUESDAY, cover=Cover.IN_PLACE)
    (notice,) = keeper.look(TUESDAY, nights(date(2026, 1, 20), [0.0, -16.0, 0.0, 0.0])).notices
    raised = wood(Model.WRAPPED_WOOD, -13.0)
    facts = facts_of(with_models(notice, raised, raised_by=raised), garden)
    assert facts["Why"].endswith("The rule wood, which judges the air, speaks too, at 5 °F.")


def test_of_a_rule_of_the_air_that_is_switched_off_nothing_is_said():
    off = make_rules(container_roots=RuleSettings(enabled=False), wood=RuleSettings(enabled=False))
    notice, garden = notice_of(POTS)
    raised = roots(-7.0)
    facts = facts_of(with_models(notice, raised, raised_by=raised), replace(garden, rules=off))
    assert facts["Why"].endswith("by what a model computes of the root balls.")


def test_pots_of_several_sizes_are_told_apart_by_their_roots_beside_the_air_s_rule_that_cannot():
    """The models' own figures; what the weather lacks is assumed, so only their order is asserted."""
    sizes = [replace(POTS, group_id=f"{litres:g} L", container_volume=litres) for litres in (15.0, 100.0, 200.0)]
    rules = make_rules(root_zone=RuleSettings())
    garden = make_garden(*sizes, units=TemperatureUnit.FAHRENHEIT, rules=rules)
    notices = Keeper(garden).look(TUESDAY, nights(date(2026, 1, 20), [2.0, -13.0, 4.0, 4.0])).notices
    facts = {notice.alert.group: facts_of(notice, garden) for notice in notices}
    assert list(facts) == ["15 L", "100 L", "200 L"]
    assert all("container_roots" in each["Why"] for each in facts.values())
    assert " in 15 L pots" in facts["15 L"]["Work"]
    assert "By the model the coldest fifth of the root balls reaches 2" in facts["15 L"]["Model"]
    above = [re.search(r"stays above (\d+) °F", facts[each]["Model"]) for each in ("100 L", "200 L")]
    assert all(above)
    assert 23 < int(above[0].group(1)) < int(above[1].group(1))


def test_an_end_has_no_model():
    notice, garden = notice_of(POTS)
    keeper = Keeper(garden, alerts={notice.alert.alert_id: notice.alert})
    (ended,) = keeper.look(TUESDAY, nights(date(2026, 1, 20), [0.0, 0.0, 0.0, 0.0])).notices
    assert "Model" not in facts_of(with_models(ended, roots(-2.0)), garden)


def test_pots_in_store_are_to_be_kept_from_freezing():
    notice, garden = notice_of(POTS)
    assert garden.groups[0].protection is Protection.STORE
    raised = store(-6.0)
    facts = facts_of(with_models(notice, raised, raised_by=raised), garden)
    assert "The rule store_room speaks at 23 °F, below which roots may die, by what a model computes" in facts["Why"]
