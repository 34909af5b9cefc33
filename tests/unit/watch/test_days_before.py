"""A watch that remembers nothing asks its sources what the last days were like, and does so once."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from alertd.core import SourceUnavailable
from alertd.messages import Reader
from alertd.risk import Rule, RuleSettings
from alertd.store import Store
from alertd.watch import Readership, Watch
from alertd.watch.days_before import days_before, is_short
from tests.fakes.garden import POTS, local, make_forecast, make_garden, make_rules, make_series, nights

TUESDAY = local("2026-01-20 08:00")
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
GARDEN = make_garden(POTS, rules=make_rules(root_zone=RuleSettings()))


class Forecasts:
    """A source that tells of what is ahead only."""

    name = "north"

    def get(self, now):
        """Return the forecast, made now."""
        return make_forecast(now, nights(now.date(), [-9.0, -9.0, -9.0, *[0.0] * 6])), ()


class WithPast(Forecasts):
    """A source that also tells of the days before, unless it cannot be reached."""

    def __init__(self, air=-9.0, problem=""):
        self.air, self.problem, self.asked = air, problem, []

    def days_before(self, first, now):
        """Return one temperature for all hours since a day."""
        self.asked.append(first)
        if self.problem:
            raise SourceUnavailable(self.problem)
        hours = (now.date() - first).days * 24 + now.hour + 1
        return make_series(now.replace(minute=0) - (hours - 1) * HOUR, [self.air] * hours)


@pytest.fixture
def store():
    opened = Store.open(None)
    yield opened
    opened.close()


def watch_of(store, *sources):
    return Watch(GARDEN, sources, Readership((Reader("keeper"),), {"keeper": ("paper",)}), store)


def roots_of(decision):
    (felt,) = (each.threshold.felt for each in decision.assessments if each.threshold.rule is Rule.ROOT_ZONE)
    return felt


def shell_now(watch):
    """Return how cold the outer root balls are at the first hour of the forecast [°C]."""
    return roots_of(watch.evaluate(TUESDAY)).medians["shell"][0]


def test_a_first_start_in_a_cold_spell_knows_that_the_pots_are_frozen(store):
    """Else the days before are guessed to have been like the mild day ahead."""
    assert shell_now(watch_of(store, WithPast(air=-14.0))) < -6.0
    with Store.open(None) as other:
        assert shell_now(watch_of(other, Forecasts())) > -3.0


def test_what_is_told_once_is_remembered_even_by_the_next_start(store):
    source = WithPast()
    watch = watch_of(store, source)
    for hours in range(3):
        watch.evaluate(TUESDAY + hours * HOUR)
    assert source.asked == [date(2026, 1, 10)]
    again = WithPast()
    watch_of(store, again).evaluate(TUESDAY + 4 * HOUR)
    assert again.asked == []


def test_after_a_long_pause_it_is_asked_again(store):
    watch_of(store, WithPast()).evaluate(TUESDAY)
    later = WithPast()
    watch_of(store, later).evaluate(TUESDAY + 6 * DAY)
    assert later.asked == [date(2026, 1, 16)]


def test_the_first_source_that_answers_is_enough():
    lost, second, third = WithPast(problem="down"), WithPast(), WithPast()
    (told,) = days_before([Forecasts(), lost, second, third], TUESDAY)
    assert told.n_times > 240
    assert [len(each.asked) for each in (lost, second, third)] == [1, 1, 0]
    assert days_before([Forecasts(), lost], TUESDAY) == []


def test_a_source_that_cannot_be_reached_leaves_a_guess(store):
    assert shell_now(watch_of(store, WithPast(air=-9.0, problem="down"))) > -3.0


def test_half_a_day_may_be_missing():
    hours = np.full(241, -3.0)
    assert is_short(None)
    assert not is_short(make_series(TUESDAY - 10 * DAY, hours))
    hours[100:112] = np.nan
    assert not is_short(make_series(TUESDAY - 10 * DAY, hours))
    hours[112] = np.nan
    assert is_short(make_series(TUESDAY - 10 * DAY, hours))
