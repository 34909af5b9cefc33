from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from alertd.hardiness import HardinessClass
from alertd.risk import (
    Rule,
    RuleSettings,
    assess,
    cold_thresholds,
    critical_temperature,
    frost_probability,
    is_in_store,
    is_judged_as_growing,
)
from alertd.site import Condition, Cover, Protection, Stage
from alertd.thermal import Tissue
from tests.fakes.garden import FIGS, POTS, local, make_rules, make_series

NOW = local("2026-01-20 08:00")
HOUR = timedelta(hours=1)
CLASS = HardinessClass("a", wood=-12.0, roots=None, spring_limit=-1.0, provenance="assumed")
IN_PLACE = Condition(cover=Cover.IN_PLACE)


def thresholds(group, condition=None, rules=None, hardiness_class=CLASS, *, growing=False):
    found = cold_thresholds(group, condition or Condition(), hardiness_class, rules or make_rules(), growing=growing)
    return {each.rule: (round(each.critical.temperature, 1), round(each.gain, 2)) for each in found}


def test_each_tissue_has_its_critical_temperature_and_its_sense_of_comparison():
    wood = critical_temperature(CLASS, Tissue.WOOD, -9.4)
    roots = critical_temperature(CLASS, Tissue.ROOTS, -9.4)
    growth = critical_temperature(CLASS, Tissue.GROWTH, -9.4)
    assert (wood.temperature, wood.at_or_below) == (-12.0, True)
    assert (roots.temperature, roots.at_or_below) == (-9.4, False)
    assert (growth.temperature, growth.at_or_below) == (-1.0, False)
    assert [each.tissue for each in (wood, roots, growth)] == [Tissue.WOOD, Tissue.ROOTS, Tissue.GROWTH]


def test_a_class_that_states_its_roots_is_believed():
    assert critical_temperature(replace(CLASS, roots=-3.0), Tissue.ROOTS, -9.4).temperature == -3.0


def test_trees_in_the_ground_are_judged_by_wood_and_pots_by_wood_and_roots():
    assert thresholds(FIGS) == {Rule.WOOD: (-12.0, 0.0)}
    assert thresholds(POTS) == {Rule.WOOD: (-12.0, 0.0), Rule.CONTAINER_ROOTS: (-9.4, 0.0)}


def test_growing_trees_are_judged_by_their_spring_limit_too():
    assert thresholds(FIGS, growing=True) == {Rule.WOOD: (-12.0, 0.0), Rule.SPRING_FROST: (-1.0, 0.0)}


def test_a_cover_in_place_is_credited_to_what_it_covers():
    assert thresholds(FIGS, IN_PLACE, growing=True) == {Rule.WOOD: (-12.0, 2.78), Rule.SPRING_FROST: (-1.0, 2.78)}
    assert thresholds(FIGS, Condition(cover=Cover.OPENED)) == {Rule.WOOD: (-12.0, 0.0)}


def test_a_wrap_is_not_credited_to_roots_in_pots_and_pushing_together_is():
    wrapped, clustered = replace(POTS, protection=Protection.WRAP), replace(POTS, protection=Protection.CLUSTER)
    assert thresholds(wrapped, IN_PLACE) == {Rule.WOOD: (-12.0, 2.78), Rule.CONTAINER_ROOTS: (-9.4, 0.0)}
    assert thresholds(clustered, IN_PLACE) == {Rule.WOOD: (-12.0, 1.0), Rule.CONTAINER_ROOTS: (-9.4, 1.0)}


def test_a_protection_without_a_credit_gains_nothing():
    assert thresholds(replace(FIGS, protection=Protection.MULCH_RING), IN_PLACE) == {Rule.WOOD: (-12.0, 0.0)}


def test_a_group_in_store_is_out_of_the_outdoor_air():
    assert is_in_store(POTS, IN_PLACE)
    assert not is_in_store(POTS, Condition(cover=Cover.LIFTED))
    assert not is_in_store(FIGS, IN_PLACE)
    assert thresholds(POTS, IN_PLACE, growing=True) == {}


def test_rules_that_are_switched_off_do_not_apply():
    off = RuleSettings(enabled=False)
    rules = make_rules(wood=off, spring_frost=off)
    assert thresholds(POTS, rules=rules, growing=True) == {Rule.CONTAINER_ROOTS: (-9.4, 0.0)}
    assert Rule.CONTAINER_ROOTS not in thresholds(POTS, rules=make_rules(container_roots=off))


@pytest.mark.parametrize("protection", [None, *Protection])
def test_what_stands_bare_past_the_last_freeze_date_is_growing(protection):
    assert not is_judged_as_growing(Condition(), past_last_freeze=False, protection=protection)
    assert is_judged_as_growing(Condition(), past_last_freeze=True, protection=protection)
    is_bare = protection in {Protection.CLUSTER, Protection.NONE}
    assert is_judged_as_growing(IN_PLACE, past_last_freeze=True, protection=protection) == is_bare
    assert not is_judged_as_growing(IN_PLACE, past_last_freeze=False, protection=protection)


def test_what_people_reported_of_the_buds_holds_at_any_date():
    assert is_judged_as_growing(Condition(stage=Stage.BUDBREAK), past_last_freeze=False)
    assert is_judged_as_growing(Condition(cover=Cover.OPENED), past_last_freeze=False)


# The horizon


def wood(**numbers):
    (threshold,) = cold_thresholds(FIGS, Condition(), CLASS, make_rules(wood=RuleSettings(**numbers)), growing=False)
    return threshold


def cold_from(hour, hours=3):
    values = np.zeros(200)
    values[hour : hour + hours] = -13.0
    return make_series(NOW, values)


def test_spells_count_that_begin_within_the_horizon():
    assert len(assess("figs", wood(), cold_from(72), NOW).spells) == 1
    assert assess("figs", wood(), cold_from(73), NOW).spells == ()
    assert len(assess("figs", wood(horizon=HOUR), cold_from(1), NOW).spells) == 1


def test_spells_of_an_open_alert_count_as_far_as_they_are_followed():
    assert len(assess("figs", wood(), cold_from(73), NOW, is_open=True).spells) == 1
    assert len(assess("figs", wood(), cold_from(119), NOW, is_open=True).spells) == 1
    assert assess("figs", wood(), cold_from(120), NOW, is_open=True).spells == ()


def test_a_spell_is_followed_two_nights_past_the_horizon():
    values = np.zeros(200)
    for start in (70, 94, 118):
        values[start : start + 4] = -13.0 - start / 100
    (spell,) = assess("figs", wood(), make_series(NOW, values), NOW).spells
    assert spell.end == NOW + 119 * HOUR
    assert spell.minimum == pytest.approx(-14.18)


def test_the_past_does_not_count():
    assert assess("figs", wood(), cold_from(0), NOW + 3 * HOUR).spells == ()
    (spell,) = assess("figs", wood(), cold_from(0), NOW + HOUR).spells
    assert spell.onset == NOW + HOUR


def test_an_assessment_names_its_group_and_its_threshold():
    threshold = wood()
    found = assess("figs", threshold, cold_from(10), NOW)
    assert (found.group, found.threshold) == ("figs", threshold)


# Frost in spring


def frost(values, limit=-1.0, **numbers):
    settings = RuleSettings(horizon=timedelta(hours=48), **numbers)
    return frost_probability(make_series(NOW, values), NOW, settings, limit)


def test_the_probability_of_frost_is_the_share_of_realizations_below_the_limit():
    values = np.full((4, 60), 5.0)
    values[0, 30] = -1.1
    values[1, 30] = -1.0
    values[2, 48] = -9.0  # at the end of the horizon, no longer within it
    assert frost(values) == 0.25
    assert frost(values, margin=0.5) == 0.5
    assert frost(values + 3.0) == 0.0


def test_nothing_is_called_safe_that_the_forecast_does_not_reach():
    assert frost(np.full(42, 5.0)) is None
    assert frost(np.full(43, 5.0)) == 0.0
    assert frost(np.full((2, 0), 5.0)) is None


def test_nothing_is_called_safe_of_which_nothing_is_known():
    assert frost(np.full((2, 60), np.nan)) is None
    half = np.full((2, 60), 5.0)
    half[0] = np.nan
    half[1, 10] = -3.0
    assert frost(half) == 1.0
