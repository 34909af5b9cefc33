"""What a watch remembers from look to look of what models computed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from alertd.alerts import model_reach
from alertd.messages import Reader
from alertd.risk import Rule, RuleSettings
from alertd.store import Store
from alertd.watch import Readership, Watch
from tests.fakes.garden import POTS, local, make_forecast, make_garden, make_rules, make_site, nights

TUESDAY = local("2026-01-20 08:00")
HOUR = timedelta(hours=1)
SPEAKS = {name: RuleSettings() for name in ("root_zone", "wood_temperature", "bud_temperature", "store_room")}
GARDEN = make_garden(POTS, rules=make_rules(**SPEAKS))
COLD = nights(TUESDAY.date(), [-9.0, -14.0, -14.0, *[0.0] * 6])


class Forecasts:
    """A source whose forecast can be changed."""

    name = "north"
    series = COLD

    def get(self, now):
        """Return the forecast, made now."""
        return make_forecast(now, self.series), ()


@pytest.fixture
def store():
    opened = Store.open(None)
    yield opened
    opened.close()


def watch_of(store, garden=GARDEN, source=None):
    return Watch(garden, [source or Forecasts()], Readership((Reader("keeper"),), {"keeper": ("paper",)}), store)


def roots_of(decision):
    """Return what the rule of root balls judges by."""
    (felt,) = (each.threshold.felt for each in decision.assessments if each.threshold.rule is Rule.ROOT_ZONE)
    return felt


def test_a_second_look_takes_again_what_the_first_one_computed(store):
    watch = watch_of(store)
    watch.evaluate(TUESDAY)
    kept = dict(watch._memory.roots)
    assert kept
    watch.evaluate(TUESDAY + HOUR)
    assert watch._memory.roots == kept


def test_a_forecast_that_is_much_colder_is_computed_anew(store):
    source = Forecasts()
    watch = watch_of(store, source=source)
    first = roots_of(watch.evaluate(TUESDAY))
    source.series = replace(COLD, variables={"air_temperature": COLD.air_temperature - 5.0})
    second = roots_of(watch.evaluate(TUESDAY + HOUR))
    assert second.minimum < first.minimum - 1.0


def test_an_hour_later_the_same_is_judged_with_and_without_a_memory(store):
    watch = watch_of(store)
    watch.evaluate(TUESDAY)
    with_memory, without = watch.evaluate(TUESDAY + HOUR), watch.assess(TUESDAY + HOUR)
    assert roots_of(with_memory).minimum == pytest.approx(roots_of(without).minimum, abs=0.3)
    horizon = int(model_reach(GARDEN) / HOUR)
    told, all_told = (roots_of(each).exposure.temperature[2, :horizon] for each in (with_memory, without))
    np.testing.assert_allclose(told, all_told, atol=0.3)


def test_assessing_remembers_nothing(store):
    watch = watch_of(store)
    watch.assess(TUESDAY)
    assert watch._memory is None


def test_where_no_rule_judges_by_models_nothing_is_remembered(store):
    off = {
        name: replace(getattr(GARDEN.rules, name), enabled=False)
        for name in ("root_zone", "wood_temperature", "bud_temperature", "store_room")
    }
    watch = watch_of(store, replace(GARDEN, rules=make_rules(**off)))
    watch.evaluate(TUESDAY)
    assert watch._memory is None


def test_a_watch_that_takes_anothers_place_goes_on_with_its_memory(store):
    before, after = watch_of(store), watch_of(store)
    before.evaluate(TUESDAY)
    after.remember(before)
    assert after._remembered() is before._memory


def test_rules_that_look_further_begin_a_new_memory(store):
    longer = replace(GARDEN.rules.root_zone, horizon=timedelta(hours=200))
    before, after = (
        watch_of(store),
        watch_of(store, replace(GARDEN, rules=make_rules(**SPEAKS | {"root_zone": longer}))),
    )
    before.evaluate(TUESDAY)
    after.remember(before)
    assert after._remembered() is not before._memory
    assert after._remembered().reach == before._memory.reach + timedelta(hours=200) - GARDEN.rules.root_zone.horizon


def test_another_place_begins_a_new_memory(store):
    before, after = watch_of(store), watch_of(store, replace(GARDEN, site=make_site(latitude=50.0)))
    before.evaluate(TUESDAY)
    after.remember(before)
    assert after._remembered() is not before._memory


def test_models_reach_as_far_as_the_longest_of_their_rules_and_the_nights_beyond():
    usual = model_reach(GARDEN)
    assert usual == GARDEN.rules.root_zone.horizon + timedelta(hours=48)
    for name in ("root_zone", "wood_temperature", "bud_temperature", "store_room"):
        longer = replace(getattr(GARDEN.rules, name), horizon=timedelta(hours=150))
        assert model_reach(replace(GARDEN, rules=make_rules(**SPEAKS | {name: longer}))) == timedelta(hours=198)
    of_air = replace(GARDEN.rules.wood, horizon=timedelta(hours=300))
    assert model_reach(replace(GARDEN, rules=make_rules(**SPEAKS, wood=of_air))) == usual
