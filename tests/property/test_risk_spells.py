"""Colder is never judged as safer, and no spell says of itself what the weather does not."""

from datetime import timedelta
from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from alertd.core import to_datetime64
from alertd.risk import CriticalTemperature, RuleSettings, cold_spells, frost_probability
from alertd.thermal import Tissue, air_exposure
from tests.fakes.garden import local, make_series

START = local("2026-01-20 00:00")
values = st.floats(-20.0, 5.0).map(lambda value: round(value, 1))
weather = st.tuples(st.integers(1, 8), st.integers(1, 60)).flatmap(
    lambda shape: arrays(np.float64, shape, elements=st.one_of(values, st.sampled_from([5.0, -10.0])))
)
with_gaps = st.tuples(st.integers(1, 6), st.integers(1, 40)).flatmap(
    lambda shape: arrays(np.float64, shape, elements=st.one_of(values, st.just(np.nan)))
)
numbers = st.builds(
    lambda low, high, gap, hysteresis: RuleSettings(
        probability_close=min(low, high),
        probability_open=max(low, high),
        spell_gap=timedelta(hours=gap),
        hysteresis=hysteresis,
    ),
    st.floats(0.01, 1.0),
    st.floats(0.01, 1.0),
    st.integers(1, 36),
    st.floats(0.0, 3.0),
)
senses = st.booleans()


def spells_of(air, settings, temperature=-10.0, *, at_or_below=True, gain=0.0, lingering=False):
    series = make_series(START, air)
    critical = CriticalTemperature(Tissue.WOOD, temperature, at_or_below=at_or_below)
    exposure = air_exposure(series, Tissue.WOOD, gain)
    return cold_spells(exposure, series.air_temperature, critical, settings, lingering=lingering)


def assert_no_safer(colder, warmer):
    """Every spell of the warmer case lies in one of the colder that is as probable, as early and as bad."""
    for spell in warmer:
        (around,) = [each for each in colder if each.onset <= spell.onset and each.end >= spell.end]
        assert around.probability >= spell.probability
        assert around.margin <= spell.margin
        assert around.minimum <= spell.minimum
        assert around.severity.rank >= spell.severity.rank


@given(weather, numbers, senses, st.data())
@settings(deadline=None)
def test_colder_air_never_lowers_the_probability_of_a_spell_nor_delays_it(air, settings, at_or_below, data):
    drop = data.draw(arrays(np.float64, air.shape, elements=st.sampled_from([0.0, 0.0, 0.5, 3.0])))
    warmer = spells_of(air, settings, at_or_below=at_or_below)
    assert_no_safer(spells_of(air - drop, settings, at_or_below=at_or_below), warmer)


@given(weather, numbers, senses, st.floats(0.0, 5.0))
@settings(deadline=None)
def test_a_higher_threshold_never_opens_later(air, settings, at_or_below, rise):
    low = spells_of(air, settings, at_or_below=at_or_below)
    high = spells_of(air, settings, -10.0 + rise, at_or_below=at_or_below)
    assert_no_safer(high, low)
    assert not low or high[0].onset <= low[0].onset


@given(weather, numbers, st.floats(0.0, 5.0))
@settings(deadline=None)
def test_a_cover_never_makes_a_group_less_safe(air, settings, gain):
    covered, bare = spells_of(air, settings, gain=gain), spells_of(air, settings)
    for spell in covered:
        (around,) = [each for each in bare if each.onset <= spell.onset and each.end >= spell.end]
        assert around.probability >= spell.probability
        assert around.margin <= spell.margin


@given(weather, numbers)
@settings(deadline=None)
def test_an_open_alert_sees_every_spell_that_would_open_one(air, settings):
    for spell in spells_of(air, settings):
        (around,) = [
            each
            for each in spells_of(air, settings, lingering=True)
            if each.onset <= spell.onset and each.end >= spell.end
        ]
        assert around.probability >= spell.probability


@given(with_gaps, numbers, senses, st.booleans())
@settings(deadline=None)
def test_a_spell_says_only_what_the_weather_does(air, settings, at_or_below, lingering):
    level = -10.0 + (settings.hysteresis if lingering else 0.0)
    needed = settings.probability_close if lingering else settings.probability_open
    passed = air <= level if at_or_below else air < level
    times = make_series(START, air).times
    spells = spells_of(air, settings, at_or_below=at_or_below, lingering=lingering)
    for spell in spells:
        onset, end = to_datetime64(spell.onset), to_datetime64(spell.end)
        assert needed <= spell.probability <= 1.0
        assert spell.minimum_low <= spell.minimum <= spell.minimum_high
        assert onset <= end
        by_onset = passed[:, times <= onset].any(axis=1).sum()
        known = (~np.isnan(air[:, (times >= onset) & (times <= end)])).any(axis=1).sum()
        assert by_onset >= min(needed, spell.probability) * known - 1e-9
    for before, after in pairwise(spells):
        assert after.onset - before.end > settings.spell_gap


@given(weather, st.floats(-15.0, 5.0), st.floats(0.0, 5.0))
@settings(deadline=None)
def test_a_higher_limit_never_makes_frost_less_probable(air, limit, rise):
    rule = RuleSettings(horizon=timedelta(hours=air.shape[1]))
    series = make_series(START, air)
    low = frost_probability(series, START, rule, limit)
    high = frost_probability(series, START, rule, limit + rise)
    assert low is not None
    assert high is not None
    assert 0.0 <= low <= high <= 1.0
