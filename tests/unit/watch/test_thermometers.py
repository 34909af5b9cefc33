"""Own thermometers in the open and in store rooms, from the store to what models say."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta

import pytest

from alertd.messages import Reader
from alertd.risk import Rule, RuleSettings
from alertd.site import Protection, StoreKind, StoreRoom
from alertd.store import Store
from alertd.watch import Readership, Watch, mark
from alertd.watch.thermometers import NEWS_FOR, latest_indoors, outdoors, store_stations
from alertd.weather import Observation
from tests.fakes.garden import FIGS, POTS, local, make_forecast, make_garden, make_rules, nights

TUESDAY = local("2026-01-20 08:00")
HOUR = timedelta(hours=1)
SHED = replace(POTS, store_room=StoreRoom(StoreKind.SHED, sensor="shed"))
YARD = replace(POTS, group_id="yard", name="the yard pots", protection=Protection.NONE, container_volume=100.0)
GROUPS = (SHED, FIGS, YARD)
GARDEN = make_garden(*GROUPS, rules=make_rules(root_zone=RuleSettings(), store_room=RuleSettings()))
COLD = nights(TUESDAY.date(), [-8.0, -14.0, *[-8.0] * 7], by_day=-3.0)


def readings(station, temperature, hours):
    """Return what a thermometer said some hours ago, the temperature the same or one for each."""
    temperatures = temperature if isinstance(temperature, list) else [temperature] * len(hours)
    times = [TUESDAY - hour * HOUR for hour in hours]
    return [Observation(station, time, value, time) for time, value in zip(times, temperatures, strict=True)]


class Told:
    """A source that always gives the same."""

    name = "north"

    def get(self, _now):
        """Return the forecast."""
        return make_forecast(TUESDAY, COLD), ()


@contextmanager
def watching(observations, garden=GARDEN):
    """Yield a watch over a store with observations; the pots of the shed are in store."""
    with Store.open(None) as store:
        store.keep_observations(observations, TUESDAY)
        mark(garden, store, "pots", "in-place", TUESDAY - HOUR)
        yield Watch(garden, [Told()], Readership((Reader("keeper"),), {"keeper": ("paper",)}), store)


def said_by(decision, group, rule):
    """Return what the model of a rule says of a group."""
    (felt,) = {
        id(each.threshold.felt): each.threshold.felt
        for each in decision.assessments
        if each.group == group and each.threshold.rule is rule
    }.values()
    return felt


def room_at_first(observations, *, judge="evaluate"):
    """Return the temperature of the shed at the end of the first hour that a watch computes."""
    with watching(observations) as watch:
        return said_by(getattr(watch, judge)(TUESDAY), "pots", Rule.STORE_ROOM).medians["air"][1]


@pytest.mark.parametrize("judge", ["evaluate", "assess"])
def test_the_model_of_a_store_room_goes_on_from_its_thermometer(judge):
    unseen = room_at_first([], judge=judge)
    warm, cold = (room_at_first(readings("shed", value, [1]), judge=judge) for value in (9.0, -9.0))
    assert cold < unseen - 1.0
    assert warm > unseen + 1.0


def test_the_last_reading_counts_and_one_that_is_too_old_does_not():
    warm = room_at_first(readings("shed", 9.0, [1]))
    assert room_at_first(readings("shed", [7.0, 9.0], [2, 1])) == warm
    assert room_at_first(readings("shed", 9.0, [NEWS_FOR / HOUR])) == warm
    assert room_at_first(readings("shed", 9.0, [NEWS_FOR / HOUR + 0.1])) == room_at_first([])


def test_a_reading_that_cannot_be_true_is_none():
    assert room_at_first(readings("shed", -999.0, [1])) == room_at_first([])
    assert latest_indoors(readings("shed", [3.0, 3.1, 45.0], [2, 1.5, 1]), GROUPS, TUESDAY) == {"shed": 3.1}


def test_a_thermometer_in_the_open_says_nothing_of_the_room():
    assert latest_indoors(readings("barn", 9.0, [1]), GROUPS, TUESDAY) == {}
    assert room_at_first(readings("barn", -3.0, [1])) == pytest.approx(room_at_first([]), abs=0.5)


def test_a_room_that_stays_at_one_temperature_for_days_is_believed():
    steady = readings("shed", 4.0, list(range(70, 0, -1)))
    assert latest_indoors(steady, GROUPS, TUESDAY) == {"shed": 4.0}
    frequent = readings("shed", 4.0, [minute / 60 for minute in range(170, 0, -5)])
    assert latest_indoors(frequent, GROUPS, TUESDAY) == {"shed": 4.0}


def test_a_thermometer_in_a_store_room_is_not_the_air_of_the_garden():
    hours = [hour / 2 for hour in range(2 * 200, 0, -1)]
    wavering = [12.0 + index % 7 / 10 for index in range(len(hours))]

    def yard(station):
        with watching(readings(station, wavering, hours)) as watch:
            return said_by(watch.evaluate(TUESDAY), "yard", Rule.ROOT_ZONE).medians["core"][0]

    with watching([]) as watch:
        unseen = said_by(watch.evaluate(TUESDAY), "yard", Rule.ROOT_ZONE).medians["core"][0]
    assert yard("shed") == unseen
    assert yard("barn") > unseen + 2.0


def test_stations_are_those_of_described_rooms_with_a_thermometer():
    groups = (SHED, FIGS, POTS, replace(POTS, store_room=StoreRoom()))
    assert store_stations(groups) == {"shed"}
    both = [*readings("shed", 1.0, [2]), *readings("barn", -4.0, [1])]
    assert outdoors(both, groups) == (both[1],)
    assert latest_indoors(both, groups, TUESDAY) == {"shed": 1.0}
    assert latest_indoors(both, (FIGS,), TUESDAY) == {}
    assert outdoors(both, (FIGS,)) == tuple(both)


def test_where_no_rule_judges_by_models_no_thermometer_is_asked():
    silent = RuleSettings(enabled=False)
    rules = make_rules(root_zone=silent, wood_temperature=silent, bud_temperature=silent, store_room=silent)
    with watching(readings("shed", 9.0, [1]), replace(GARDEN, rules=rules)) as watch:
        rules_that_spoke = {each.threshold.rule for each in watch.evaluate(TUESDAY).assessments}
    assert rules_that_spoke == {Rule.CONTAINER_ROOTS, Rule.WOOD}
