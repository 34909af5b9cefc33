"""Harm is judged by the same thresholds as alerts: by the air, and by models where their rules are enabled."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from alertd.core import to_datetime64
from alertd.hindcast import HindcastSettings, harmful_spells, hindcast_facts, hindcast_text, run_hindcast
from alertd.hindcast.truth import harmful_spells_of, hours_below, models_over, passes
from alertd.messages import Reader
from alertd.risk import Rule, RuleSettings
from alertd.site import Condition, Cover
from alertd.thermal import Exposure, Model, Tissue
from alertd.watch import Readership
from alertd.weather import Series
from tests.fakes.felt import felt_with, models_saying, threshold_with
from tests.fakes.garden import POTS, make_garden, make_rules

START = datetime(2026, 1, 1, 5, tzinfo=UTC)
HOUR = timedelta(hours=1)
BARE = [(START, Condition())]
RULES = make_rules(root_zone=RuleSettings())
GARDEN = make_garden(POTS, rules=RULES)


def record(*values):
    times = to_datetime64(START) + np.arange(len(values)) * np.timedelta64(3600, "s")
    return Series(times, {"air_temperature": np.array([values], dtype=np.float64)})


AIR = record(0, -4, -10, -4, 0, 0)


def roots(*values, start=START, spread=2.0):
    return felt_with(Model.ROOT_BALL, start, np.array(values, dtype=np.float64), spread=spread)


def harmed(felt, rules=RULES, stood=BARE, series=AIR):
    garden = make_garden(POTS, rules=rules)
    models = models_saying(POTS, garden.site, series, {(Tissue.ROOTS, False): felt})
    return harmful_spells_of(garden, POTS, series, stood, models)


def test_the_median_of_a_models_draws_is_the_harm_without_its_uncertainty():
    threshold = threshold_with(roots(1, 0, -4, -6, -5, -1))
    assert passes(AIR, threshold).tolist() == [False, False, False, True, False, False]


def test_what_a_model_does_not_know_is_no_harm():
    threshold = threshold_with(roots(1, np.nan, -6, -6, np.nan, -1))
    assert passes(AIR, threshold).tolist() == [False, False, True, True, False, False]


def test_a_model_on_a_finer_axis_counts_for_the_hour_that_it_lies_in():
    felt = roots(0, 0, 0, 0, 0, 0)
    times = to_datetime64(START - HOUR) + np.arange(14) * np.timedelta64(1800, "s")
    values = np.zeros((1, 14))
    values[0, [0, 5]] = -9.0
    fine = replace(felt, exposure=Exposure(Tissue.ROOTS, times, values, 0.0))
    assert passes(AIR, threshold_with(fine)).tolist() == [False, True, False, False, False, False]


def test_harm_by_the_air_and_harm_by_a_model_are_one_spell_that_names_both_rules():
    (spell,) = harmed(roots(0, 0, 0, 0, -6, -6))
    assert (spell.onset, spell.end) == (START + 2 * HOUR, START + 5 * HOUR)
    assert spell.rules == (Rule.CONTAINER_ROOTS, Rule.ROOT_ZONE)
    assert spell.minimum == -10.0


def test_a_model_alone_does_harm_where_the_rule_of_the_air_is_off():
    (spell,) = harmed(roots(0, 0, 0, 0, -6, -6), replace(RULES, container_roots=RuleSettings(enabled=False)))
    assert spell.rules == (Rule.ROOT_ZONE,)
    assert spell.onset == START + 4 * HOUR


def test_the_shortest_gap_is_that_of_the_enabled_rules():
    off, longer = RuleSettings(enabled=False, spell_gap=HOUR), RuleSettings(spell_gap=3 * HOUR)
    values = roots(-6, 0, -6, 0, 0, -6)
    rules = replace(RULES, container_roots=off, wood=RuleSettings(spell_gap=9 * HOUR), root_zone=longer)
    assert len(harmed(values, rules)) == 1
    assert len(harmed(values, replace(rules, root_zone=replace(longer, spell_gap=2 * HOUR)))) == 2


def test_pots_in_store_are_not_judged_by_the_air():
    inside = [(START, Condition(cover=Cover.IN_PLACE))]
    assert harmed(roots(-9, -9, -9, -9, -9, -9), stood=inside) == ()


def test_a_hindcast_tells_by_which_rule_the_weather_did_harm():
    hours = np.arange(24 * 6)
    cold = record(*np.where((hours > 75) & (hours < 82), -14.0, 3.0))
    (spell,) = harmful_spells(make_garden(POTS), cold)
    assert spell.rules == (Rule.WOOD, Rule.CONTAINER_ROOTS)
    readership = Readership((Reader("keeper"),), {"keeper": ("paper",)})
    played = run_hindcast(make_garden(POTS), readership, cold, HindcastSettings(is_exact=True, every=6 * HOUR))
    assert "harmful spells: 1 (wood 1, container_roots 1)\n" in hindcast_text(played, cold)
    (harm,) = hindcast_facts(played, cold)["summary"]["harmful"]
    assert harm["rules"] == ["wood", "container_roots"]
    assert (harm["group"], harm["minimum"]) == ("pots", -14.0)
    calm = record(*np.full(24 * 6, 3.0))
    mild = run_hindcast(make_garden(POTS), readership, calm, HindcastSettings(is_exact=True, every=6 * HOUR))
    assert "harmful spells: 0\n" in hindcast_text(mild, calm)


def test_root_balls_of_a_hindcast_begin_as_the_record_before_it_left_them():
    """Begun in the midst of cold, they would else be taken to have frozen through on the days before."""
    cold_from = 24 * 11
    series = record(*np.where(np.arange(24 * 13) < cold_from, 8.0, -9.0))
    start = START + cold_from * HOUR
    pots = make_garden(replace(POTS, container_volume=60.0), rules=RULES)
    lived, before = series.window(start, start + 48 * HOUR), series.window(START, start)

    def harmed_hours(found):
        (hours,) = (each.hours for each in found if each.threshold.rule is Rule.ROOT_ZONE)
        return hours

    known = harmed_hours(hours_below(pots, lived, models_over(pots, lived, before)))
    guessed = harmed_hours(hours_below(pots, lived))
    assert guessed == lived.n_times
    assert known < 40
    settings = HindcastSettings(start=start, is_exact=True, every=24 * HOUR)
    readership = Readership((Reader("keeper"),), {"keeper": ("paper",)})
    played = run_hindcast(pots, readership, series, settings)
    assert harmed_hours(played.hours_below) == known
    (spell,) = played.harmful
    assert spell.rules == (Rule.ROOT_ZONE,)
    assert spell.onset > start + 8 * HOUR


def test_a_hindcast_from_the_record_s_first_hour_knows_no_days_before():
    series = record(*np.full(30, -9.0))
    empty = series.window(START - 24 * HOUR, START)
    assert empty.n_times == 0
    models = models_over(GARDEN, series, empty)
    assert models["pots"].weather.past is None
    assert hours_below(GARDEN, series, models) == hours_below(GARDEN, series)
