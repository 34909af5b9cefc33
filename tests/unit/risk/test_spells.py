from datetime import timedelta

import numpy as np
import pytest

from alertd.core import Certainty, Severity
from alertd.risk import ColdSpell, CriticalTemperature, RuleSettings, cold_spells
from alertd.thermal import Tissue, air_exposure
from tests.fakes.garden import local, make_series

START = local("2026-01-20 00:00")
HOUR = timedelta(hours=1)
WOOD = CriticalTemperature(Tissue.WOOD, -10.0, at_or_below=True)
ROOTS = CriticalTemperature(Tissue.ROOTS, -10.0, at_or_below=False)


def spells_of(values, critical=ROOTS, gain=0.0, *, lingering=False, **numbers):
    series = make_series(START, values)
    exposure = air_exposure(series, critical.tissue, gain)
    settings = RuleSettings(**numbers)
    return cold_spells(exposure, series.air_temperature, critical, settings, lingering=lingering)


def test_a_spell_runs_from_the_first_threatened_hour_to_the_last():
    (spell,) = spells_of([0.0, -11.0, -13.0, -10.5, 0.0])
    assert spell == ColdSpell(
        onset=START + HOUR,
        end=START + 3 * HOUR,
        probability=1.0,
        minimum=-13.0,
        minimum_low=-13.0,
        minimum_high=-13.0,
        margin=-3.0,
    )


def test_mild_air_is_no_spell():
    assert spells_of([0.0, -9.9, 3.0]) == ()


def test_at_or_below_and_below_differ_at_the_value_itself():
    assert len(spells_of([-10.0], WOOD)) == 1
    assert spells_of([-10.0], ROOTS) == ()
    assert len(spells_of([-10.001], ROOTS)) == 1


def test_a_margin_speaks_earlier_and_does_not_change_what_the_tissue_stands():
    (spell,) = spells_of([-9.0], margin=1.5)
    assert spell.margin == pytest.approx(1.0)
    assert spell.severity is Severity.MINOR
    assert spells_of([-9.0], margin=0.5) == ()


def test_a_cover_gains_for_the_tissue_but_people_are_told_of_the_air():
    (spell,) = spells_of([-14.0], gain=3.0)
    assert spell.minimum == -14.0
    assert spell.margin == pytest.approx(-1.0)
    assert spells_of([-13.0], gain=3.0) == ()


@pytest.mark.parametrize(("hours", "count"), [(35, 1), (36, 1), (37, 2)])
def test_threatened_hours_closer_than_the_gap_are_one_spell(hours, count):
    values = [-11.0, *[0.0] * (hours - 1), -12.0]
    spells = spells_of(values)
    assert len(spells) == count
    assert spells[0].onset == START
    assert spells[-1].end == START + hours * HOUR


def test_hysteresis_counts_for_an_alert_that_is_open_already():
    assert spells_of([-9.5]) == ()
    (spell,) = spells_of([-9.5], lingering=True)
    assert spell.margin == pytest.approx(0.5)
    assert spells_of([-8.9], lingering=True) == ()
    assert spells_of([-9.5], lingering=True, hysteresis=0.2) == ()


def members(*lowest):
    return [[0.0, value, 0.0] for value in lowest]


def test_the_probability_is_the_share_of_realizations_that_pass_within_the_spell():
    values = [[-11.0, 0.0, 0.0], [0.0, -11.0, 0.0], [0.0, 0.0, -11.0], [0.0, 0.0, 0.0]]
    (spell,) = spells_of(values)
    assert spell.probability == 0.75


def test_a_spell_counts_from_the_opening_probability_on_and_lingers_down_to_the_closing_one():
    two, one = members(-11, -11, *[0] * 8), members(-11, *[0] * 9)
    assert len(spells_of(two)) == 1
    assert spells_of(one) == ()
    assert len(spells_of(one, lingering=True)) == 1
    assert spells_of(members(-11, *[0] * 10), lingering=True) == ()


def test_hours_below_the_closing_probability_are_not_threatened():
    values = np.zeros((20, 3))
    values[:4, 1] = -11.0
    values[0, 0] = -11.0
    (spell,) = spells_of(values)
    assert (spell.onset, spell.end) == (START + HOUR, START + HOUR)


def test_the_onset_is_when_as_many_realizations_have_passed_as_the_rule_asks_for():
    values = np.zeros((10, 6))
    for place in range(5):
        values[place, place + 1 :] = -11.0
    assert spells_of(values, probability_open=0.2, probability_close=0.1)[0].onset == START + 2 * HOUR
    assert spells_of(values, probability_open=0.5, probability_close=0.1)[0].onset == START + 5 * HOUR
    assert spells_of(values, probability_open=0.5, probability_close=0.1, lingering=True)[0].onset == START + HOUR


def test_people_are_told_the_median_minimum_and_its_fifth_and_ninety_fifth_percentile():
    (spell,) = spells_of(members(*[-20.0 + place / 10 for place in range(101)]))
    assert spell.minimum == pytest.approx(-15.0)
    assert spell.minimum_low == pytest.approx(-19.5)
    assert spell.minimum_high == pytest.approx(-10.5)
    assert spell.margin == pytest.approx(-5.0)


def test_realizations_without_a_value_are_not_counted_as_warm():
    values = [[np.nan, np.nan], [np.nan, np.nan], [-11.0, np.nan], [0.0, 0.0]]
    (spell,) = spells_of(values)
    assert spell.probability == 0.5
    assert spell.minimum == pytest.approx(-5.5)


def test_an_hour_of_which_nothing_is_known_is_no_spell():
    assert spells_of([[np.nan, np.nan]]) == ()
    assert spells_of(np.zeros((1, 0))) == ()


@pytest.mark.parametrize(
    ("margin", "severity"),
    [
        (0.01, Severity.MINOR),
        (0.0, Severity.MODERATE),
        (-2.49, Severity.MODERATE),
        (-2.5, Severity.SEVERE),
        (-4.99, Severity.SEVERE),
        (-5.0, Severity.EXTREME),
        (-30.0, Severity.EXTREME),
    ],
)
def test_severity_steps_with_the_margin(margin, severity):
    spell = ColdSpell(START, START, 1.0, 0.0, 0.0, 0.0, margin)
    assert spell.severity is severity


@pytest.mark.parametrize(("probability", "certainty"), [(0.5, Certainty.POSSIBLE), (0.51, Certainty.LIKELY)])
def test_likely_is_more_than_half(probability, certainty):
    assert ColdSpell(START, START, probability, 0.0, 0.0, 0.0, 0.0).certainty is certainty


def test_hours_from_the_closing_probability_on_belong_to_a_spell_that_is_probable_as_a_whole():
    values = np.zeros((10, 4))
    values[:3, 1] = -11.0
    values[0, 3] = -11.0
    (spell,) = spells_of(values)
    assert spell.end == START + 3 * HOUR
